"""A table as it came out of a file: rows of cells with their line numbers, before anybody is named."""

from __future__ import annotations

from dataclasses import dataclass, field

from classroom.rosters.faults import Fault


@dataclass(frozen=True)
class Row:
    """A row of cells, exactly as they stand in the file; `line` counts from 1."""

    line: int
    cells: tuple[str, ...]

    def cell(self, place: int | None) -> str:
        """Return the cell of a column, "" where the row is shorter or there is no such column."""
        return self.cells[place] if place is not None and place < len(self.cells) else ""

    @property
    def is_blank(self) -> bool:
        return not any(cell.strip() for cell in self.cells)


@dataclass
class Table:
    """A file's rows under their headings; `faults` are the rows that could not be read.

    `about` says how the file was read: encoding and separator, or the sheet's name.
    """

    headings: list[str]
    rows: list[Row]
    faults: list[Fault] = field(default_factory=list)
    about: str = ""
    named: bool = True
    """Whether the headings are the file's own; else its columns have only letters."""

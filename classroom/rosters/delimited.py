"""Reads text with separators (CSV and its kin) so that one broken row harms no other."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Iterable, Iterator

from django.utils.translation import gettext as _

from classroom.rosters.faults import MOST_ROWS, Fault, too_many_rows
from classroom.rosters.table import Row

SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "upright stroke"}
NO_SEPARATOR = "\x1f"
"""Stands for a file of one column, whose commas belong to the names."""
MOST_LINES_A_ROW = 10

# Our own files put an apostrophe before a text that a spreadsheet would take for a formula.
_GUARDED = re.compile(r"'+[\t\n ]*[=+\-@\uff1d\uff0b\uff0d\uff20]")
_LINE_END = re.compile(r"\r\n|\n|\r")


def lines_of(text: str) -> list[str]:
    """Return the physical lines of a text, whatever system wrote it."""
    return _LINE_END.split(text)


def unguarded(cell: str) -> str:
    """Return a cell without the apostrophe that keeps a spreadsheet from taking it for a formula."""
    return cell[1:] if _GUARDED.match(cell) else cell


def consistency(lines: Iterable[str], separator: str) -> tuple[int, int]:
    """Return how many lines have the usual number of separators, and that number (0, 0 for none)."""
    counts = Counter(len(split_row(line, separator)) - 1 for line in lines if line.strip())
    counts.pop(0, None)
    if not counts:
        return 0, 0
    usual, lines_alike = max(counts.items(), key=lambda pair: (pair[1], pair[0]))
    return lines_alike, usual


def split_row(line: str, separator: str) -> list[str]:
    """Return the cells of one row; a quoted cell may hold separators and line ends."""
    if '"' not in line:
        return line.split(separator)
    return next(csv.reader([line], delimiter=separator), [""])


def read_rows(text: str, separator: str, *, guarded: bool = True) -> Iterator[Row | Fault]:
    """Yield each row that is not blank, or the fault of one that cannot be read, in the file's order.

    A quotation mark that is never closed spoils its own line only. With `guarded`,
    the apostrophe before a formula is taken off. Raises RosterError past the row limit.
    """
    lines = lines_of(text)
    width = _usual_width(lines, separator)
    place = count = 0
    while place < len(lines):
        start, line = place, lines[place]
        place += 1
        if not line.strip():
            continue
        count += 1
        if count > MOST_ROWS:
            raise too_many_rows()
        while _is_open(line, separator) and place < min(len(lines), start + MOST_LINES_A_ROW):
            line += "\n" + lines[place]
            place += 1
        try:
            cells = split_row(line, separator)
        except csv.Error:
            yield Fault(start + 1, _("A cell of this row is far too long."))
            continue
        joined = place - start > 1
        if _is_open(line, separator) or (joined and width and len(cells) != width):
            # Not one long row but a stray mark: the lines after it are read by themselves.
            place = start + 1
            yield Fault(start + 1, _("A quotation mark is opened and not closed."))
            continue
        row = Row(start + 1, tuple(map(unguarded, cells) if guarded else cells))
        if not row.is_blank:
            yield row


def _usual_width(lines: list[str], separator: str) -> int:
    """Return how many cells most rows without quotation marks have, 0 where there are none."""
    widths = Counter(len(line.split(separator)) for line in lines[:500] if line.strip() and '"' not in line)
    return widths.most_common(1)[0][0] if widths else 0


def _is_open(line: str, separator: str) -> bool:
    """Say whether a row ends inside a quoted cell; a mark in the middle of a plain cell opens none."""
    if '"' not in line:
        return False
    inside = False
    at_start = True
    place = 0
    while place < len(line):
        char = line[place]
        if inside:
            if char == '"':
                if line[place + 1 : place + 2] == '"':
                    place += 1
                else:
                    inside = False
        elif char == '"' and at_start:
            inside = True
        at_start = not inside and char == separator
        place += 1
    return inside

"""Finds out which column of a table holds what, from its headings in several languages or its cells."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from classroom.rosters.faults import Fault
from classroom.rosters.heading_words import FAMILY, FULL, GIVEN, MEANING
from classroom.rosters.table import Row, Table

HEADING_ROWS = 15
"""The headings may stand below a title: so many rows are looked at."""
MOST_OFFERED = 20

# Columns of this sort are nobody's business here: they are dropped as soon as the headings are known.
_PRIVATE = re.compile(
    r"birth|dob|geburt|naissance|nacimiento|mail|phone|mobile|address|adresse|street|postcode|zipcode|gender|sex|"
    r"ethnic|race|language|nationality|religion|parent|guardian|mother|father|contact|emergency|medical|allerg|"
    r"dietary|password|username|login|medicaid|ssn|socialsecurity|meal|lunch|disab|special"
)
_MAIL_OR_DATE = re.compile(r"\S+@\S+\.\S+|\d{4}-\d{2}-\d{2}.*|\d{1,2}[./]\d{1,2}[./]\d{2,4}")


@dataclass(frozen=True)
class Columns:
    """The places of the columns that are read, counted from 0; None where there is none."""

    given: int | None = None
    family: int | None = None
    full: int | None = None
    source_id: int | None = None
    group: int | None = None

    @property
    def has_names(self) -> bool:
        return self.given is not None or self.full is not None


def folded(heading: str) -> str:
    """Return a heading without case, accents, blanks and signs: 'First name *' is 'firstname'."""
    plain = unicodedata.normalize("NFKD", heading.casefold())
    return "".join(char for char in plain if char.isalnum())


def meanings(headings: Sequence[str]) -> list[str]:
    """Return what each heading says its column holds, "" where it says nothing known."""
    return [MEANING.get(folded(heading), "") for heading in headings]


def find_headings(rows: Sequence[Row]) -> int | None:
    """Return the place of the row that is the headings, None where a table has none."""
    best, best_score = None, (0, 0)
    for place, row in enumerate(rows[:HEADING_ROWS]):
        found = set(meanings(row.cells)) - {""}
        if found & {GIVEN, FAMILY, FULL}:
            # A title over the list may say 'Students', too: the fuller row is the headings.
            score = (len(found), sum(1 for cell in row.cells if cell.strip()))
            if score > best_score:
                best, best_score = place, score
    return best


def make_table(rows: Sequence[Row], about: str = "", *, strict: bool = False) -> Table:
    """Return rows as a table under its headings, or under letters where it has none of its own.

    With `strict`, a row with more cells than headings is a fault: where separators make
    the cells, one too many shifts all that follow.
    """
    place = find_headings(rows)
    width = max((len(row.cells) for row in rows), default=0)
    own = [cell.strip() for cell in rows[place].cells] if place is not None else []
    while own and not own[-1]:
        own.pop()
    if strict and own:
        width = len(own)
    headings = [own[c] if c < len(own) and own[c] else letters_of(c) for c in range(width)]
    table = Table(headings, [], about=about, named=place is not None)
    for row in rows[place + 1 :] if place is not None else rows:
        if any(cell.strip() for cell in row.cells[width:]):
            reason = _("The row has %(cells)d cells, but there are only %(headings)d headings.")
            table.faults.append(Fault(row.line, reason % {"cells": len(row.cells), "headings": width}))
        else:
            table.rows.append(row)
    return table


def headed_by_first_row(table: Table) -> Table:
    """Return a table without known headings as if its first row were they: somebody said so."""
    if table.named or not table.rows:
        return table
    first = table.rows[0]
    headings = [first.cell(c).strip() or heading for c, heading in enumerate(table.headings)]
    return Table(headings, table.rows[1:], table.faults, table.about)


def letters_of(column: int) -> str:
    """Return a column's letters as a spreadsheet counts: A, B … Z, AA."""
    letters = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def guess(table: Table) -> Columns:
    """Return which column holds what, by the headings first and by the cells where they do not say."""
    found: dict[str, int] = {}
    for column, meaning in enumerate(meanings(table.headings) if table.named else []):
        if meaning and meaning not in found:
            found[meaning] = column
    # Beside a column of first names, a column called only 'name' holds the family's.
    if GIVEN in found and FAMILY not in found and FULL in found:
        if folded(table.headings[found[FULL]]) in ("name", "nom", "naam", "nome"):
            found[FAMILY] = found[FULL]
        found.pop(FULL)
    if GIVEN in found or (FAMILY in found and FULL not in found):
        found.pop(FULL, None)
    if FULL in found:
        found.pop(FAMILY, None)
    if GIVEN not in found and FULL not in found:
        found.update(_by_cells(table, taken=set(found.values()), family_known=FAMILY in found))
    return Columns(**found)


def _by_cells(table: Table, taken: set[int], *, family_known: bool) -> dict[str, int]:
    """Return the columns that look like names: one holds the whole name, of two the left the first names."""
    sample = table.rows[:200]
    wordy = []
    for column in range(len(table.headings)):
        cells = [row.cell(column).strip() for row in sample]
        cells = [cell for cell in cells if cell]
        if column in taken or not cells or is_private(table, column):
            continue
        letters = sum(1 for cell in cells if any(map(str.isalpha, cell)) and not any(map(str.isdigit, cell)))
        varied = len(set(cells)) > max(1, len(cells) // 4)
        if letters * 10 >= len(cells) * 8 and varied:
            wordy.append(column)
    if not wordy:
        return {}
    if family_known:
        return {GIVEN: wordy[0]}
    if len(wordy) == 1:
        return {FULL: wordy[0]}
    return {GIVEN: wordy[0], FAMILY: wordy[1]}


def is_private(table: Table, column: int) -> bool:
    """Say whether a column holds what no class list needs: mails, dates of birth, addresses, parents."""
    if meanings(table.headings[column : column + 1]) != [""] and table.named:
        return False
    if table.named and _PRIVATE.search(folded(table.headings[column])):
        return True
    cells = [row.cell(column).strip() for row in table.rows[:200]]
    cells = [cell for cell in cells if cell]
    return bool(cells) and sum(1 for cell in cells if _MAIL_OR_DATE.fullmatch(cell)) * 2 > len(cells)


def slimmed(table: Table) -> Table:
    """Return the table with only the columns that may hold names, ids or groups, at most `MOST_OFFERED`."""
    keep = [column for column in range(len(table.headings)) if not is_private(table, column)]
    known = meanings(table.headings)
    keep.sort(key=lambda column: (not (table.named and known[column]), column))
    keep = sorted(keep[:MOST_OFFERED])
    rows = [Row(row.line, tuple(row.cell(column) for column in keep)) for row in table.rows]
    return Table([table.headings[c] for c in keep], rows, list(table.faults), table.about, table.named)

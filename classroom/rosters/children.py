"""Reads children off a table: a first name, an initial and an id each, and every row that gives none."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from django.utils.translation import gettext as _

from classroom.roster import LONGEST_NAME, Name, family_initial, family_start, name_key, split_name, tidy
from classroom.rosters.columns import Columns
from classroom.rosters.decode import UNREADABLE
from classroom.rosters.faults import Fault
from classroom.rosters.table import Row, Table

LONGEST_ID = 100


@dataclass(frozen=True)
class Child:
    """A child of a roster file: all that is taken from its row.

    `start` is the beginning of the family name, at most three letters. It tells apart
    children whom the teacher has given a second letter, and is never stored.
    """

    given_name: str
    initial: str = ""
    start: str = ""
    source_id: str = ""
    line: int = 0

    @property
    def name(self) -> Name:
        """Return the name as the class would keep it."""
        return Name(self.given_name, self.initial)


class Unreadable(Exception):  # noqa: N818 (it says what a row is)
    """Raised for a row of which no child can be made; the text says why."""


@dataclass
class Reading:
    """What a file holds: the children in its order, and the rows that gave none."""

    children: list[Child] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)


def make_child(given: str, family: str, source_id: str, line: int) -> Child:
    """Return the child of one row; raises Unreadable with the reason."""
    if UNREADABLE in given + family[:1] + source_id:
        raise Unreadable(_("A letter of this row cannot be read. Type the name again in the file."))
    given_name, source_id = tidy(given), tidy(source_id)
    if not given_name:
        raise Unreadable(_("There is no first name."))
    if len(given_name) > LONGEST_NAME:
        raise Unreadable(_("The first name is longer than %(most)d letters.") % {"most": LONGEST_NAME})
    if len(source_id) > LONGEST_ID:
        raise Unreadable(_("The id is longer than %(most)d characters.") % {"most": LONGEST_ID})
    family = tidy(family)
    return Child(given_name, family_initial(family), family_start(family), source_id, line)


class Register:
    """Takes children one after another and refuses who is there already."""

    def __init__(self) -> None:
        self._lines: dict[tuple[str, ...], int] = {}
        self._ids: dict[str, tuple[str, int]] = {}

    def check(self, child: Child, family: str) -> None:
        """Raise Unreadable where the row says again what an earlier one said, or contradicts it."""
        key = name_key(child.given_name, tidy(family))
        if child.source_id:
            earlier, line = self._ids.setdefault(child.source_id, (key, child.line))
            if line == child.line:
                return
            if earlier == key:
                raise Unreadable(_("The same child stands in line %(line)d already.") % {"line": line})
            raise Unreadable(
                _("The id %(id)s stands in line %(line)d already, with another name.")
                % {"id": child.source_id, "line": line}
            )
        line = self._lines.setdefault((key,), child.line)
        if line != child.line:
            raise Unreadable(_("The same name stands in line %(line)d already.") % {"line": line})


def groups_of(table: Table, columns: Columns) -> list[tuple[str, int]]:
    """Return the groups that the table names, by name, each with its number of rows."""
    if columns.group is None:
        return []
    counts = Counter(tidy(row.cell(columns.group)) for row in table.rows)
    counts.pop("", None)
    return sorted(counts.items())


def read_children(table: Table, columns: Columns, group: str = "") -> Reading:
    """Return the children of a table, or of one of its groups; a bad row is named and harms no other."""
    reading = Reading(faults=list(table.faults))
    register = Register()
    for row in table.rows:
        if row.is_blank or (group and tidy(row.cell(columns.group)) != group):
            continue
        try:
            given, family = _names(row, columns)
            child = make_child(given, family, row.cell(columns.source_id), row.line)
            register.check(child, family)
        except Unreadable as error:
            reading.faults.append(Fault(row.line, str(error)))
        else:
            reading.children.append(child)
    reading.faults.sort(key=lambda fault: fault.line)
    return reading


def _names(row: Row, columns: Columns) -> tuple[str, str]:
    if columns.given is not None:
        return row.cell(columns.given), row.cell(columns.family)
    return split_name(row.cell(columns.full)) or ("", "")

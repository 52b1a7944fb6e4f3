"""The class's marks as a table for any gradebook: a column a criterion, one total, chosen by the teacher."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.utils.translation import gettext as _

from classroom.models import Classroom
from design_challenges.models import MarkColumns
from design_challenges.services.exports import Cell, written
from design_challenges.services.marks import Child, ClassMarks

if TYPE_CHECKING:
    from django.contrib.auth.models import User

CRITERION = "criterion:"
"""Before a criterion's key, in a column's slug."""


@dataclass(frozen=True)
class Column:
    """One column: its name in the choice, its heading, what stands in it; `usual` is ticked at first."""

    slug: str
    heading: str
    cell: Callable[[Child], Cell]
    usual: bool = False


def columns_of(marks: ClassMarks) -> list[Column]:
    """Return every column there is for a class, in the order of the file."""
    has_ids = any(child.student.source_id for child in marks.children)
    return [
        Column("student", _("Student"), lambda child: str(child.student), usual=True),
        Column("first_name", _("First name"), lambda child: child.student.given_name),
        Column("initial", _("Initial"), lambda child: child.student.initial),
        Column("id", _("ID"), lambda child: child.student.source_id, usual=has_ids),
        Column("team", _("Team"), lambda child: child.team.team.name if child.team else ""),
        *(_criterion(marks, place) for place in range(len(marks.graded))),
        Column("total", _("Total (%)"), lambda child: marks.total(child).percent, usual=True),
        Column("points", _("Points"), lambda child: marks.total(child).points),
        Column("out_of", _("Out of"), lambda child: marks.total(child).of),
        Column("late", _("Late"), lambda child: _("yes") if marks.said(child).late else _("no")),
        Column("comment", _("Comment"), lambda child: marks.said(child).comment),
    ]


def _criterion(marks: ClassMarks, place: int) -> Column:
    criterion = marks.graded[place]

    def cell(child: Child) -> Cell:
        standing = marks.standing(child, criterion)
        return _("excused") if standing.excused else standing.level

    return Column(f"{CRITERION}{criterion.key}", criterion.title, cell, usual=True)


def marks_csv(marks: ClassMarks, chosen: Sequence[str]) -> str:
    """Return the file (RFC 4180): a header row, then a row a child.

    A text that a spreadsheet would take for a formula goes out behind an apostrophe.
    """
    wanted = set(chosen)
    columns = [column for column in columns_of(marks) if column.slug in wanted]
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow([written(column.heading) for column in columns])
    for child in marks.children:
        writer.writerow([written(column.cell(child)) for column in columns])
    return out.getvalue()


def chosen_columns(user: User, classroom: Classroom, columns: Sequence[Column]) -> list[str]:
    """Return the columns a teacher chose last for this class, else for another one, else the usual ones."""
    own = MarkColumns.objects.filter(user=user).order_by("-chosen_at")
    choices: Mapping[int, list[str]] = {row.classroom_id: row.columns for row in reversed(own)}
    newest = own[0].columns if own else None
    known = {column.slug for column in columns}
    for choice in (choices.get(classroom.pk), newest):
        if choice is not None and (found := [slug for slug in choice if slug in known]):
            return found
    return [column.slug for column in columns if column.usual]


def remember_columns(user: User, classroom: Classroom, chosen: Sequence[str]) -> None:
    """Keep the choice for the next time."""
    MarkColumns.objects.update_or_create(user=user, classroom=classroom, defaults={"columns": list(chosen)})

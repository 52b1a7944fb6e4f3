"""Gives marks: each a row of its own, sent twice it counts once, undone by one more row; the database."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.db.models import Q

from design_challenges.models import Mark, Remark, Submission
from design_challenges.services.entries import Author, Sender, save_entry
from design_challenges.services.marks import ClassMarks, Place, standing_marks

if TYPE_CHECKING:
    from django.contrib.auth.models import User

LEVEL_TEXTS = ("", "1", "2", "3", "4", "x")


class BadMark(ValueError):  # noqa: N818 (it says what is wrong with one)
    """Raised for a place or a level that there is none of."""


@dataclass(frozen=True)
class NewMark:
    """A mark to give: its place, and "1" to "4", "x" for excused or "" to take it back."""

    place: Place
    text: str


def read_place(text: str, marks: ClassMarks) -> Place:
    """Return the place that a text names, "t5:limits" or "s17:limits"; BadMark where there is none such."""
    who, _colon, key = text.partition(":")
    kind, number = who[:1], who[1:]
    known = number.isascii() and number.isdigit() and len(number) < 18
    if not known or key not in {criterion.key for criterion in marks.graded}:
        raise BadMark(text)
    if (kind, int(number)) not in whose_marks(marks):
        raise BadMark(text)
    return kind, int(number), key


def whose_marks(marks: ClassMarks) -> set[tuple[str, int]]:
    """Return every team and every child that can be marked."""
    return {("t", team.team.pk) for team in marks.klass.teams} | {
        ("s", child.student.pk) for child in marks.children
    }


def read_mark(place: str, text: str, marks: ClassMarks) -> NewMark:
    """Return a mark as it was typed; BadMark for what is none."""
    tidy = text.strip().lower()
    if tidy not in LEVEL_TEXTS:
        raise BadMark(text)
    return NewMark(read_place(place, marks), tidy)


def give(
    marks: ClassMarks,
    wanted: Sequence[NewMark],
    user: User,
    entry_id: uuid.UUID,
    *,
    second: bool = False,
) -> None:
    """Save marks in one entry, one row each, in their order; sent again under the same id it counts once."""
    challenge = marks.klass.challenge

    def save(author: Author) -> str:
        for mark in wanted:
            _add(marks, mark.place, mark.text, author, second=second)
        return ""

    body = {
        "marks": [[*mark.place, mark.text] for mark in wanted],
        "second": second,
        "rubric": marks.rubric.pk,
    }
    save_entry(challenge, Sender(user=user), entry_id, body, save)


def _add(
    marks: ClassMarks, place: Place, text: str, author: Author, *, second: bool, undoes: Mark | None = None
) -> Mark:
    kind, pk, key = place
    return Mark.objects.create(
        class_challenge=marks.klass.challenge,
        rubric=marks.rubric,
        criterion=key,
        team_id=pk if kind == "t" else None,
        student_id=pk if kind == "s" else None,
        level=int(text) if text.isdigit() else None,
        excused=text == "x",
        second=second,
        undoes=undoes,
        **author.fields(),
    )


def changed_since(marks: ClassMarks, typed: Iterable[NewMark], seen: int, *, second: bool) -> list[NewMark]:
    """Return what a whole form changes: the marks that differ from those that stood when it was shown.

    `seen` is the newest row that the form showed, so that what a colleague gave since is left alone.
    """
    rows = Mark.objects.filter(class_challenge=marks.klass.challenge, second=second, pk__lte=seen)
    shown = standing_marks(rows.order_by("pk"))
    return [mark for mark in typed if mark.text != (shown[mark.place].text if mark.place in shown else "")]


def undo(marks: ClassMarks, user: User, entry_id: uuid.UUID, *, second: bool = False) -> NewMark | None:
    """Take back the marker's newest mark that still stands, and return what stands there again.

    A row is added that restores what stood before. Where somebody has marked the same place since, that
    mark stays; None where there is nothing left to take back, or the same entry came before.
    """
    challenge = marks.klass.challenge
    if Submission.objects.filter(entry_id=entry_id).exists():
        return None
    own = Mark.objects.filter(
        class_challenge=challenge, second=second, user=user, undoes__isnull=True, undone_by__isnull=True
    )
    for row in own.order_by("-pk")[:200]:
        place = _place_of(row)
        if place[:2] not in whose_marks(marks):
            continue
        history = list(_rows_of(challenge.pk, row, second=second))
        if _standing_row(history) != row:
            continue
        before = standing_marks(_before(history, row)).get(place)
        text = before.text if before else ""

        def save(author: Author, row: Mark = row, place: Place = place, text: str = text) -> str:
            _add(marks, place, text, author, second=second, undoes=row)
            return ""

        body = {"undoes": row.pk, "second": second}
        save_entry(challenge, Sender(user=user), entry_id, body, save)
        return NewMark(place, text)
    return None


def _place_of(row: Mark) -> Place:
    kind, pk = ("t", row.team_id) if row.team_id is not None else ("s", row.student_id)
    return kind, pk or 0, row.criterion


def _rows_of(challenge_id: int, row: Mark, *, second: bool) -> Iterable[Mark]:
    whose = Q(team_id=row.team_id) if row.team_id is not None else Q(student_id=row.student_id)
    return Mark.objects.filter(
        whose, class_challenge_id=challenge_id, second=second, criterion=row.criterion
    ).order_by("pk")


def _standing_row(history: Sequence[Mark]) -> Mark | None:
    """Return the row that the place stands by: an undone row and its undoing cancel out."""
    standing: list[Mark] = []
    for row in history:
        if row.undoes_id is not None and standing and standing[-1].pk == row.undoes_id:
            standing.pop()
        else:
            standing.append(row)
    return standing[-1] if standing else None


def _before(history: Sequence[Mark], row: Mark) -> list[Mark]:
    """Return what the place stood by before a row, without what was undone."""
    standing: list[Mark] = []
    for earlier in history:
        if earlier.pk == row.pk:
            break
        if earlier.undoes_id is not None and standing and standing[-1].pk == earlier.undoes_id:
            standing.pop()
        else:
            standing.append(earlier)
    return standing


def remark(
    marks: ClassMarks,
    whose: tuple[str, int],
    late: bool,
    comment: str,
    user: User,
    entry_id: uuid.UUID,
) -> None:
    """Say whether a team's or a child's work came late, and comment on it."""
    kind, pk = whose

    def save(author: Author) -> str:
        Remark.objects.create(
            class_challenge=marks.klass.challenge,
            team_id=pk if kind == "t" else None,
            student_id=pk if kind == "s" else None,
            late=late,
            comment=comment,
            **author.fields(),
        )
        return ""

    body = {"remark_on": [kind, pk], "late": late, "comment": comment}
    save_entry(marks.klass.challenge, Sender(user=user), entry_id, body, save)

"""Reads and writes the drops of the teacher's reference device, and says on which day a team's drop was.

A day is that of the newest lesson begun when the drop was saved: a tally sheet typed in the same evening, or
before the next lesson, still belongs to the day on which it was dropped.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone
from django.utils.formats import date_format

from classroom.models import Lesson
from design_challenges.models import ClassChallenge, Drop, ReferenceDrop
from design_challenges.services.analysis.drift import Reference
from design_challenges.services.entries import Author


@dataclass(frozen=True)
class ReferenceRow:
    """One drop of the reference device that stands."""

    row_id: int
    lesson_id: int
    started_at: datetime
    hundredths: int

    @property
    def day(self) -> str:
        return day_name(self.started_at)


def day_name(moment: datetime) -> str:
    """Return a day as it stands in a sentence, in the school's own time: '25 November'."""
    return date_format(timezone.localtime(moment), "j F")


def reference_rows(challenge: ClassChallenge) -> list[ReferenceRow]:
    """Return the reference drops that stand, those of the first lesson first, in one query."""
    rows = (
        ReferenceDrop.objects.filter(
            class_challenge=challenge, hundredths__isnull=False, taken_out_by__isnull=True
        )
        .order_by("lesson__started_at", "pk")
        .values_list("pk", "lesson_id", "lesson__started_at", "hundredths")
    )
    return [
        ReferenceRow(pk, lesson_id, started_at, hundredths or 0)
        for pk, lesson_id, started_at, hundredths in rows
    ]


def readings_by_day(challenge: ClassChallenge) -> dict[str, list[int]]:
    """Return the reference's readings that stand by day, in hundredths, the first day first."""
    readings: dict[str, list[int]] = {}
    for row in reference_rows(challenge):
        readings.setdefault(row.day, []).append(row.hundredths)
    return readings


def read_reference(challenge: ClassChallenge) -> Reference:
    """Return the reference's readings by day and each drop's day: three queries, one without a reference."""
    readings = readings_by_day(challenge)
    if not readings:
        return Reference()
    lessons = Lesson.objects.filter(classroom_id=challenge.classroom_id).order_by("started_at")
    starts = list(lessons.values_list("started_at", flat=True))
    drops = Drop.objects.filter(iteration__class_challenge=challenge).values_list("pk", "made_at")
    return Reference(readings, {pk: day for pk, made_at in drops if (day := _day(starts, made_at))})


def _day(starts: Sequence[datetime], moment: datetime) -> str:
    place = bisect_right(starts, moment)
    return day_name(starts[place - 1]) if place else ""


def save_reference_drops(
    challenge: ClassChallenge, lesson: Lesson, hundredths: Sequence[int], author: Author
) -> None:
    """Add drops of the reference device in a lesson."""
    for time in hundredths:
        ReferenceDrop.objects.create(
            class_challenge=challenge, lesson=lesson, hundredths=time, **author.fields()
        )


def take_out(challenge: ClassChallenge, row_id: int, author: Author) -> bool:
    """Take a mistyped drop out by a row of its own; False where none of that id stands in this class."""
    row = ReferenceDrop.objects.filter(
        class_challenge=challenge, pk=row_id, hundredths__isnull=False, taken_out_by__isnull=True
    ).first()
    if row is None:
        return False
    ReferenceDrop.objects.create(
        class_challenge=challenge, lesson_id=row.lesson_id, takes_out=row, **author.fields()
    )
    return True

"""Finds the rounds a child was away for: in every lesson in which its team worked on them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from datetime import datetime

from classroom.models import Attendance, Lesson
from design_challenges.models import ClassChallenge, Drop, Measurement, Note, Working

Away = Mapping[int, frozenset[tuple[int, int]]]
"""The (team, round) pairs each child was away for, by the child's id."""


def find_away(challenge: ClassChallenge) -> Away:
    """Return who was away for which rounds, in two queries where nobody ever was, else in six.

    A round that no lesson saw an entry of was nobody's to miss; where nobody said whether a child was
    there, it was.
    """
    missing: dict[int, set[int]] = defaultdict(set)
    rows = Attendance.objects.filter(lesson__classroom_id=challenge.classroom_id, present=False)
    for student_id, lesson_id in rows.values_list("student_id", "lesson_id"):
        missing[student_id].add(lesson_id)
    if not missing:
        return {}
    lessons = lessons_of_rounds(challenge)
    found: dict[int, set[tuple[int, int]]] = defaultdict(set)
    for student_id, away_in in missing.items():
        for where, worked_in in lessons.items():
            if worked_in <= away_in:
                found[student_id].add(where)
    return {student_id: frozenset(rounds) for student_id, rounds in found.items()}


def lessons_of_rounds(challenge: ClassChallenge) -> dict[tuple[int, int], set[int]]:
    """Return the lessons in which each (team, round) was worked on, by the times of its entries."""
    spans = list(
        Lesson.objects.filter(classroom_id=challenge.classroom_id).values_list("pk", "started_at", "ended_at")
    )
    found: dict[tuple[int, int], set[int]] = defaultdict(set)
    for model in (Measurement, Note, Working, Drop):
        rows = model.objects.filter(iteration__class_challenge=challenge, user__isnull=True)
        for team_id, number, at in rows.values_list("iteration__team_id", "iteration__number", "made_at"):
            lesson_id = _lesson_at(spans, at)
            if lesson_id is not None:
                found[team_id, number].add(lesson_id)
    return found


def _lesson_at(spans: list[tuple[int, datetime, datetime | None]], at: datetime) -> int | None:
    """Return the lesson that a moment lies in, or None."""
    for lesson_id, started, ended in spans:
        if started <= at and (ended is None or at <= ended):
            return lesson_id
    return None

"""What a class's own page and the list of classes show: how far the class is set up, and what comes next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, Max, OuterRef, QuerySet, Subquery
from django.db.models.functions import Coalesce

from classroom.models import Classroom, Lesson, Student, Team
from classroom.teaming import Seating, seating
from design_challenges.kinds import get_kind
from design_challenges.models import ChallengeSettings, ClassChallenge, DesignIteration


@dataclass(frozen=True)
class ClassRow:
    """One class in the list."""

    classroom: Classroom
    students: int
    teams: int
    last_round: int


def class_rows(classrooms: Any) -> list[ClassRow]:
    """Return the classes with their counts, in one query."""
    last = (
        DesignIteration.objects.filter(team__classroom=OuterRef("pk"))
        .values("team__classroom")
        .annotate(last=Max("number"))
        .values("last")
    )
    # Counted apart: joined, every child would meet every team, and a large class take seconds.
    counted = classrooms.annotate(
        student_count=_number_of(Student.objects.filter(left_at__isnull=True)),
        team_count=_number_of(Team.objects.filter(retired_at__isnull=True)),
        last_round=Subquery(last[:1]),
    )
    return [ClassRow(row, row.student_count, row.team_count, row.last_round or 0) for row in counted]


def _number_of(rows: QuerySet[Any]) -> Coalesce:
    """Return how many of these rows a class has, as an expression of a query over classes."""
    of_class = rows.filter(classroom=OuterRef("pk")).order_by().values("classroom")
    return Coalesce(Subquery(of_class.annotate(number=Count("pk")).values("number")), 0)


@dataclass(frozen=True)
class Overview:
    """How far a class is set up. `steps` is the map; the first one not done is `next_step`."""

    seating: Seating
    students: int
    challenge: ClassChallenge | None
    kind_name: Any
    settings: ChallengeSettings | None
    lesson: Lesson | None
    done: dict[str, bool]

    @property
    def next_step(self) -> str:
        """Return the slug of the first step of setting up that is not done, or "run"."""
        return next((slug for slug, done in self.done.items() if not done), "run")

    @property
    def teams(self) -> Sequence[Any]:
        """Return each team with its children."""
        return self.seating.rows()


def class_overview(classroom: Classroom) -> Overview:
    """Return how far a class is set up, in a fixed number of queries."""
    seats = seating(classroom)
    students = len(seats.team_of)
    challenge = ClassChallenge.objects.filter(classroom=classroom).order_by("pk").first()
    settings = (
        ChallengeSettings.objects.filter(class_challenge=challenge).order_by("-version").first()
        if challenge
        else None
    )
    lesson = Lesson.objects.filter(classroom=classroom, ended_at__isnull=True).first()
    return Overview(
        seating=seats,
        students=students,
        challenge=challenge,
        kind_name=get_kind(challenge.kind).name if challenge else "",
        settings=settings,
        lesson=lesson,
        done={
            "students": students > 0,
            "teams": bool(seats.teams) and any(seats.members.values()),
            "challenge": settings is not None,
            "joining": classroom.joining_open or bool(seats.began),
        },
    )

"""Reads a class for a roster's plan and carries the plan out; the one module here that knows the database."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from classroom.models import Classroom, RosterSource, Student
from classroom.roster import Name
from classroom.rosters.children import Child
from classroom.rosters.plan import Known, Match, Plan, make_plan
from classroom.teaming import tell_everyone


@dataclass(frozen=True)
class SourceIds:
    """The ids that a OneRoster package gives the class it was read from."""

    source_id: str
    school_source_id: str = ""
    session_source_id: str = ""


@dataclass(frozen=True)
class Counts:
    """How many children an import added, changed and marked as having left."""

    added: int
    changed: int
    left: int


def known_children(classroom: Classroom) -> list[Known]:
    """Return every child whom the class has or had."""
    rows = classroom.students.values_list("pk", "given_name", "initial", "source_id", "left_at")
    return [
        Known(pk, Name(given_name, initial), source_id, left_at is not None)
        for pk, given_name, initial, source_id, left_at in rows
    ]


def plan_for(classroom: Classroom, children: Sequence[Child]) -> Plan:
    """Return what the children of a file would change in the class now."""
    return make_plan(children, known_children(classroom))


def source_of(classroom: Classroom) -> SourceIds | None:
    """Return the ids under which the school's roster has this class, None where none came in yet."""
    source = RosterSource.objects.filter(classroom=classroom).first()
    if source is None:
        return None
    return SourceIds(source.source_id, source.school_source_id, source.session_source_id)


def apply_roster(
    classroom: Classroom,
    children: Sequence[Child],
    *,
    change: Collection[int] | None = None,
    leave: Collection[int] | None = None,
    source: SourceIds | None = None,
) -> Counts:
    """Bring the class up to a file in one transaction; the work of a child who leaves stays.

    `change` and `leave` are the students that the teacher agreed to (None: all of the
    plan). The plan is made afresh from what the class has by then, so that a file that is
    brought in twice, or from two windows at once, adds nobody twice.
    """
    with transaction.atomic():
        # Whoever else changes the class's children waits here.
        Classroom.objects.select_for_update().get(pk=classroom.pk)
        plan = plan_for(classroom, children)
        changed = [match for match in plan.changed if change is None or match.known.pk in change]
        leaving = [known.pk for known in plan.unlisted if leave is None or known.pk in leave]
        Student.objects.bulk_create(
            [
                Student(
                    classroom=classroom,
                    given_name=child.given_name,
                    initial=child.initial,
                    source_id=child.source_id,
                )
                for child in plan.added
            ],
            batch_size=500,
        )
        _change(changed)
        classroom.students.filter(pk__in=leaving, left_at__isnull=True).update(left_at=timezone.now())
        if source is not None:
            RosterSource.objects.update_or_create(
                classroom=classroom,
                defaults={
                    "source_id": source.source_id,
                    "school_source_id": source.school_source_id,
                    "session_source_id": source.session_source_id,
                },
            )
        if plan.added or changed or leaving:
            tell_everyone(classroom)
    return Counts(len(plan.added), len(changed), len(leaving))


def _change(matches: Sequence[Match]) -> None:
    students = Student.objects.in_bulk([match.known.pk for match in matches])
    for match in matches:
        student = students[match.known.pk]
        student.given_name, student.initial = match.name.given_name, match.name.initial
        student.source_id = match.source_id
        student.left_at = None
    Student.objects.bulk_update(
        list(students.values()), ["given_name", "initial", "source_id", "left_at"], batch_size=200
    )

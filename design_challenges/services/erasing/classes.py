"""Erases whole classes with all that was entered in them, and finds what has not been used since a date."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from classroom.models import Classroom, Membership, Student
from design_challenges.models import Photo
from design_challenges.services.erasing.children import erase_child
from design_challenges.services.erasing.graph import delete_rows, hanging_on, wipe_free_pages
from design_challenges.services.photos import photo_path


@dataclass(frozen=True)
class OldClass:
    """A class that was last used before a date."""

    classroom: Classroom
    last_used: datetime
    students: int


@dataclass(frozen=True)
class Old:
    """What is older than a date: whole classes, and children who left classes that are still used."""

    classes: Sequence[OldClass]
    children: Sequence[Student]

    @property
    def is_empty(self) -> bool:
        return not (self.classes or self.children)


def owned_by(user: User) -> Iterable[Classroom]:
    """Return the classes that a person is the teacher of, put away or not."""
    now = timezone.now()
    own = Membership.objects.filter(user=user, role=Membership.Role.TEACHER).exclude(until__lte=now)
    return Classroom.objects.filter(pk__in=own.values("classroom")).order_by("name", "pk")


def find_old(classrooms: Iterable[Classroom], before: datetime) -> Old:
    """Return the classes not used since `before`, and the children who left the other ones before it."""
    rooms = {room.pk: room for room in classrooms}
    last = _last_used(rooms)
    old = [
        OldClass(rooms[pk], when, rooms[pk].students.count()) for pk, when in last.items() if when < before
    ]
    kept = [pk for pk in rooms if last[pk] >= before]
    left = Student.objects.filter(classroom_id__in=kept, left_at__lt=before).select_related("classroom")
    return Old(old, list(left.order_by("classroom__name", "given_name", "pk")))


def erase_class(classroom: Classroom) -> None:
    """Erase a class for good: children, teams, lessons, settings, every entry, and its drawings' files."""
    files = [
        photo_path(photo_id, source)
        for photo_id, source in Photo.objects.filter(
            iteration__class_challenge__classroom=classroom
        ).values_list("uuid", "source")
    ]
    with transaction.atomic():
        Classroom.objects.select_for_update().get(pk=classroom.pk)
        delete_rows(hanging_on([classroom]))
    # The rows first: a file without a row is found by nobody, a row without its file is a hole.
    for path in files:
        path.unlink(missing_ok=True)
    wipe_free_pages()


def erase_old(old: Old) -> None:
    """Erase what was found."""
    for one in old.classes:
        erase_class(one.classroom)
    for student in old.children:
        erase_child(student, ())


def _last_used(rooms: dict[int, Classroom]) -> dict[int, datetime]:
    """Return when each class was last used: made, taught, entered into, joined or given settings."""
    found = {pk: room.made_at for pk, room in rooms.items()}
    ways = (
        "lessons__started_at",
        "challenges__submissions__received_at",
        "challenges__settings_versions__made_at",
        "students__made_at",
        "devices__last_seen_at",
    )
    for way in ways:
        rows = Classroom.objects.filter(pk__in=found).annotate(last=Max(way)).values_list("pk", "last")
        for pk, when in rows:
            if when is not None and when > found[pk]:
                found[pk] = when
    return found

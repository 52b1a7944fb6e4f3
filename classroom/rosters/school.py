"""A whole school's roster brought into many classes at once: which class is which, and what would change."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import QuerySet

from classroom.models import Classroom, Membership, RosterSource
from classroom.rosters.apply import Counts, SourceIds, apply_roster, plan_for
from classroom.rosters.oneroster import Package, RosterClass
from classroom.rosters.plan import Plan

SKIP, NEW = "", "new"


@dataclass(frozen=True)
class Match:
    """One class of the package: where it goes, and what that would change (None where it is left out)."""

    group: RosterClass
    place: str
    classroom: Classroom | None
    plan: Plan | None


def likely_places(package: Package) -> dict[str, str]:
    """Return for each class of the package the class here: by the id it came under before, else by name."""
    by_source = dict(RosterSource.objects.values_list("source_id", "classroom__code"))
    by_name: dict[str, list[str]] = {}
    for name, code in open_classes().values_list("name", "code"):
        by_name.setdefault(" ".join(name.split()).casefold(), []).append(code)
    taken: set[str] = set()
    found: dict[str, str] = {}
    for group in package.classes:
        named = by_name.get(" ".join(group.title.split()).casefold(), [])
        code = by_source.get(group.source_id) or (named[0] if len(named) == 1 else SKIP)
        found[group.source_id] = code if code not in taken else SKIP
        taken.add(code)
    return found


def open_classes() -> QuerySet[Classroom]:
    """Return every class that is not in the archive."""
    return Classroom.objects.filter(archived_at=None).order_by("name", "pk")


def matches(package: Package, places: Mapping[str, str]) -> list[Match]:
    """Return each class of the package with what its place means."""
    rooms = {room.code: room for room in open_classes()}
    found = []
    for group in package.classes:
        place = places.get(group.source_id, SKIP)
        room = rooms.get(place)
        plan = plan_for(room, group.children) if room is not None else None
        found.append(Match(group, place, room, plan))
    return found


def bring_in(found: Sequence[Match], teacher: User) -> tuple[int, Counts]:
    """Bring every matched class up to the package, all or nothing; new classes get a teacher.

    Return how many classes there were, and the children added, changed and marked as having left.
    """
    classes = added = changed = left = 0
    with transaction.atomic():
        for match in found:
            room = match.classroom
            if match.place == NEW:
                room = Classroom.objects.create(name=match.group.title[:60] or match.group.source_id[:60])
                Membership.objects.create(user=teacher, classroom=room)
            if room is None:
                continue
            ids = SourceIds(
                match.group.source_id, match.group.school_source_id, match.group.session_source_id
            )
            # Of a class that is mostly not in the file nobody is marked as having left.
            keep = match.plan is not None and match.plan.mostly_unlisted
            done = apply_roster(room, match.group.children, leave=() if keep else None, source=ids)
            classes, added = classes + 1, added + done.added
            changed, left = changed + done.changed, left + done.left
    return classes, Counts(added, changed, left)

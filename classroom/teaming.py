"""Puts children into teams: shuffling, moving, merging, new codes; what came before stays as it was."""

from __future__ import annotations

import random
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from classroom.codes import make_team_code
from classroom.models import Classroom, Device, Student, Team, TeamMember
from classroom.team_names import new_names
from design_challenges.models import ClassChallenge, DesignIteration
from design_challenges.services.entries import bump_revision

SMALLEST, LARGEST = 2, 5
Child = TypeVar("Child")


# --- pure ------------------------------------------------------------------------------------


def team_sizes(children: int, size: int) -> list[int]:
    """Return the sizes of teams of about `size` for a number of children, differing by one at most.

    No team is larger than asked for unless a child would be alone otherwise; the
    larger teams come first. `children` at least 0, `size` 2 to 5, else ValueError.
    """
    if not SMALLEST <= size <= LARGEST:
        raise ValueError(f"Teams have {SMALLEST} to {LARGEST} children, not {size}")
    if children <= 0:
        return []
    count = -(-children // size)
    while count > 1 and children // count < SMALLEST:
        count -= 1
    small, larger = divmod(children, count)
    return [small + 1] * larger + [small] * (count - larger)


def shuffle(children: Sequence[Child], size: int, seed: int) -> list[list[Child]]:
    """Return the children dealt into teams of about `size`; the same seed deals the same teams."""
    deck = list(children)
    random.Random(seed).shuffle(deck)  # noqa: S311 - a fair deal, not a secret
    teams, start = [], 0
    for count in team_sizes(len(deck), size):
        teams.append(deck[start : start + count])
        start += count
    return teams


# --- reading ---------------------------------------------------------------------------------


@dataclass
class Seating:
    """A class as it sits now: its teams in team order, who is in each, and who is in none.

    `began` is the last round that each team has begun (0 before its first).
    """

    teams: list[Team]
    members: dict[int, list[Student]] = field(default_factory=dict)
    without: list[Student] = field(default_factory=list)
    team_of: dict[int, int | None] = field(default_factory=dict)
    began: dict[int, int] = field(default_factory=dict)

    @property
    def last_round(self) -> int:
        """Return the last round that any team has begun, 0 before the first."""
        return max(self.began.values(), default=0)

    @property
    def old_codes(self) -> int:
        """Return how many teams have a code of an earlier version, which lets no tablet in any more."""
        return sum(team.has_old_code for team in self.teams)

    def rows(self) -> list[tuple[Team, list[Student], int]]:
        """Return each team with its children and the last round it has begun."""
        return [(team, self.members[team.pk], self.began.get(team.pk, 0)) for team in self.teams]


def seating(classroom: Classroom) -> Seating:
    """Return how the class sits now, in four queries."""
    teams = list(classroom.teams.filter(retired_at__isnull=True).order_by("place", "pk"))
    found = Seating(teams=teams, members={team.pk: [] for team in teams})
    latest: dict[int, int | None] = {}
    for student_pk, place in (
        TeamMember.objects.filter(student__classroom=classroom)
        .order_by("from_round")
        .values_list("student_id", "team_id")
    ):
        latest[student_pk] = place
    for student in classroom.students.filter(left_at__isnull=True):
        team_id = latest.get(student.pk)
        if team_id is not None and team_id in found.members:
            found.members[team_id].append(student)
            found.team_of[student.pk] = team_id
        else:
            found.without.append(student)
            found.team_of[student.pk] = None
    began = (
        DesignIteration.objects.filter(team__classroom=classroom)
        .values_list("team_id")
        .annotate(last=Max("number"))
    )
    found.began = {team_id: last for team_id, last in began if team_id in found.members}
    return found


# --- writing ---------------------------------------------------------------------------------


def tell_everyone(classroom: Classroom) -> None:
    """Raise the revision of the class's challenges: every live page shows teams."""
    for challenge_id in ClassChallenge.objects.filter(classroom=classroom).values_list("pk", flat=True):
        bump_revision(challenge_id)


def make_teams(classroom: Classroom, count: int) -> list[Team]:
    """Add teams with names and codes of their own, after the last one."""
    with transaction.atomic():
        teams = _make_teams(classroom, count)
        tell_everyone(classroom)
    return teams


def _make_teams(classroom: Classroom, count: int) -> list[Team]:
    # A retired team's name stays its own: two teams of one name would confuse the record.
    taken = list(classroom.teams.values_list("name", flat=True))
    last = classroom.teams.aggregate(last=Max("place"))["last"] or 0
    return [
        Team.objects.create(classroom=classroom, name=name, place=last + step, code=fresh_code(classroom))
        for step, name in enumerate(new_names(count, taken), start=1)
    ]


def fresh_code(classroom: Classroom) -> str:
    """Return a team code that no team of the class has had."""
    used = set(classroom.teams.values_list("code", flat=True))
    code = make_team_code()
    while code in used:
        code = make_team_code()
    return code


def seat(classroom: Classroom, places: Mapping[int, int | None], from_round: int) -> None:
    """Put children (student id → team id, or None for no team) into teams from a round on.

    Earlier rounds stay as they were; what was arranged for later rounds is replaced.
    """
    with transaction.atomic():
        _seat(places, from_round)
        tell_everyone(classroom)


def _seat_again(places: Mapping[int, int | None]) -> None:
    """Give children another place from where their present one begins; what was before stays."""
    began = dict(
        TeamMember.objects.filter(student_id__in=places).values_list("student_id").annotate(Max("from_round"))
    )
    for student_id, team_id in places.items():
        _seat({student_id: team_id}, began.get(student_id, 1))


def _seat(places: Mapping[int, int | None], from_round: int) -> None:
    for student_id, team_id in places.items():
        TeamMember.objects.filter(student_id=student_id, from_round__gt=from_round).delete()
        TeamMember.objects.update_or_create(
            student_id=student_id, from_round=from_round, defaults={"team_id": team_id}
        )


def deal(classroom: Classroom, hands: Iterable[Sequence[Student]], *, refill: bool) -> None:
    """Seat dealt teams: in new teams, or (`refill`, before any round has begun) in the teams there are.

    With `refill` the teams keep their names and codes, so that printed cards stay
    good; teams that are missing are added, teams too many are retired.
    """
    hands = [list(hand) for hand in hands]
    with transaction.atomic():
        old = list(classroom.teams.filter(retired_at__isnull=True).order_by("place", "pk")) if refill else []
        teams = old[: len(hands)] + _make_teams(classroom, max(0, len(hands) - len(old)))
        for team in old[len(hands) :]:
            _retire(team, merged_into=None)
        for team, hand in zip(teams, hands, strict=True):
            _seat_again({student.pk: team.pk for student in hand})
        tell_everyone(classroom)


def merge(team: Team, into: Team, from_round: int) -> None:
    """Merge a team into another from a round on: its children move, its tablets are signed out.

    The rounds it did stay under its own name.
    """
    if team.pk == into.pk:
        raise ValueError("A team cannot be merged into itself")
    with transaction.atomic():
        members = seating(team.classroom).members.get(team.pk, [])
        _seat({student.pk: into.pk for student in members}, from_round)
        _retire(team, merged_into=into)
        tell_everyone(team.classroom)


def close_team(team: Team) -> None:
    """Take a team that has begun no round out of the class; its children are in no team then.

    Raises ValueError for a team with a round: that one is merged, so that its work has a place.
    """
    with transaction.atomic():
        if DesignIteration.objects.filter(team=team).exists():
            raise ValueError("A team that has begun is merged, not closed")
        members = seating(team.classroom).members.get(team.pk, [])
        _seat_again({student.pk: None for student in members})
        _retire(team, merged_into=None)
        tell_everyone(team.classroom)


def _retire(team: Team, *, merged_into: Team | None) -> None:
    team.retired_at, team.merged_into = timezone.now(), merged_into
    team.save(update_fields=["retired_at", "merged_into"])
    sign_tablets_out(team)


def sign_tablets_out(team: Team) -> int:
    """Withdraw every device of a team; return how many there were."""
    return Device.objects.filter(team=team, revoked_at__isnull=True).update(revoked_at=timezone.now())


def give_new_code(team: Team) -> int:
    """Give a team another code and sign its tablets out; return how many were signed out."""
    with transaction.atomic():
        team.code = fresh_code(team.classroom)
        team.save(update_fields=["code"])
        signed_out = sign_tablets_out(team)
        tell_everyone(team.classroom)
    return signed_out


def renew_old_codes(classroom: Classroom) -> int:
    """Give every team whose code is an earlier version's a new one; return how many there were.

    Their tablets stay in: it is the codes that could be guessed.
    """
    old = [team for team in classroom.teams.filter(retired_at__isnull=True) if team.has_old_code]
    with transaction.atomic():
        for team in old:
            team.code = fresh_code(classroom)
            team.save(update_fields=["code"])
        tell_everyone(classroom)
    return len(old)


def rename(team: Team, name: str) -> None:
    """Give a team another name."""
    with transaction.atomic():
        team.name = name
        team.save(update_fields=["name"])
        tell_everyone(team.classroom)


def reorder(classroom: Classroom, team: Team, step: int) -> None:
    """Move a team one place up (-1) or down (+1) in team order; at the end it stays."""
    with transaction.atomic():
        teams = list(classroom.teams.filter(retired_at__isnull=True).order_by("place", "pk"))
        here = next(index for index, other in enumerate(teams) if other.pk == team.pk)
        there = min(max(here + step, 0), len(teams) - 1)
        teams.insert(there, teams.pop(here))
        for place, other in enumerate(teams, start=1):
            if other.place != place:
                other.place = place
                other.save(update_fields=["place"])
        tell_everyone(classroom)

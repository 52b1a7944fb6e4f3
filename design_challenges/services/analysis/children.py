"""What the board may show of a class's drops, as facts that the list of claims speaks about."""

from __future__ import annotations

from dataclasses import dataclass

from . import separation
from .alike import Twins, find_twins, tolerances
from .drift import Shift
from .gather import Build, ClassData
from .separation import Seen
from .wander import Wander, wanders

FIRST, SECOND = 1, 2


@dataclass(frozen=True)
class ChangeSeen:
    """A team's readings of both builds, as timed, and what is seen of them side by side.

    `comparable` is False where the drop itself was changed between the rounds.
    """

    team_id: int
    team: str
    first: tuple[int, ...]
    second: tuple[int, ...]
    comparable: bool = True

    @property
    def seen(self) -> Seen:
        return separation.seen(self.first, self.second) if self.comparable else ""

    @property
    def may_be_said(self) -> bool:
        return separation.may_be_said(len(self.first), len(self.second))


@dataclass(frozen=True)
class DayShift:
    """The reference device on a later day against the first."""

    shift: Shift


@dataclass(frozen=True)
class HowSure:
    """How far means of a few drops wander, by the class's own scatter; none where nothing was dropped twice.

    `wanted` is how many drops the class makes a round.
    """

    wanders: tuple[Wander, ...]
    wanted: int

    @property
    def of_wanted(self) -> Wander | None:
        return next((wander for wander in self.wanders if wander.drops == self.wanted), None)


@dataclass(frozen=True)
class ForChildren:
    """Everything under 'On the board': changes, twins, day shifts and how sure a few drops are."""

    changes: tuple[ChangeSeen, ...]
    twins: tuple[Twins, ...]
    day_shifts: tuple[DayShift, ...]
    how_sure: HowSure


def for_children(data: ClassData) -> ForChildren:
    """Gather what the board may show; every part is empty where there is nothing to show."""
    wanted = int(data.values["trials_per_round"])
    counts = tuple(sorted({1, 2, 3, 5, 10, wanted}))
    return ForChildren(
        changes=tuple(
            change_seen(team.builds[FIRST], team.builds[SECOND])
            for team in data.teams
            if FIRST in team.builds and SECOND in team.builds
        ),
        twins=tuple(find_twins(data.builds, tolerances(data), data.performance.places)),
        day_shifts=tuple(DayShift(shift) for shift in data.shifts.by_day.values()),
        how_sure=HowSure(tuple(wanders([build.seconds for build in data.builds], counts)), wanted),
    )


def change_seen(first: Build, second: Build) -> ChangeSeen:
    """Put two builds of one team side by side, as they were timed."""
    return ChangeSeen(
        first.team_id,
        first.team,
        first.hundredths,
        second.hundredths,
        comparable=first.conditions == second.conditions,
    )

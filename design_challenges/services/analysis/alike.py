"""Designs that are alike within measuring: twins, fair pairs, and how many designs a class really tried."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from design_challenges.services.rounding import round_half_up

from .gather import Build, ClassData

RELATED = 0.5
"""How related a team's designs are taken to be: the same hands, the same thumb (a choice, in the middle)."""

SLACK = 1e-9
"""Sizes are compared as floats, and one exactly as far apart as is allowed must still be alike."""

Sizes = Mapping[str, float]
Tolerances = Mapping[str, float]


@dataclass(frozen=True)
class Twins:
    """Two builds alike within measuring, of different teams; `places` are those of the class's figure."""

    first: Build
    second: Build
    places: int

    @property
    def differ(self) -> bool:
        """Whether their figures, as they were timed, differ as the class writes them."""
        figures = (Decimal(repr(build.timed_figure)) for build in (self.first, self.second))
        first, second = (round_half_up(figure, self.places) for figure in figures)
        return first != second


@dataclass(frozen=True)
class FairPair:
    """Two teams' builds that differ in one variable only, so that a comparison is fair."""

    team: Build
    mate: Build
    variable: str


def differing(first: Sizes, second: Sizes, within: Tolerances) -> list[str]:
    """The variables in which two known designs differ by more than measuring can."""
    return [slug for slug, most in within.items() if abs(first[slug] - second[slug]) > most + SLACK]


def find_twins(builds: Sequence[Build], within: Tolerances, places: int) -> list[Twins]:
    """Find pairs of builds, of different teams, alike in every variable; `places` are the figure's.

    Only of builds whose drops are all in, two at least, and not of days between which a shift was seen: the
    spread of repeated drops stands under them.
    """
    known = [build for build in builds if build.design and build.complete and build.drops > 1]
    return [
        Twins(first, second, places)
        for place, first in enumerate(known)
        for second in known[place + 1 :]
        if first.team_id != second.team_id
        and first.conditions == second.conditions
        and first.day_shares == second.day_shares
        and not differing(first.sizes, second.sizes, within)
    ]


def fair_pairs(builds: Sequence[Build], within: Tolerances) -> list[FairPair]:
    """Find for each build the classmates' builds that are like it but for one variable, in team order."""
    known = [build for build in builds if build.design]
    pairs = []
    for build in known:
        for mate in known:
            if mate.team_id == build.team_id or mate.conditions != build.conditions:
                continue
            different = differing(build.sizes, mate.sizes, within)
            if len(different) == 1:
                pairs.append(FairPair(build, mate, different[0]))
    return pairs


def distinct_designs(builds: Sequence[Build], within: Tolerances) -> tuple[int, float]:
    """How many different designs there are, and how many unrelated ones they are worth.

    A team's k designs are related, so they count as k/(1 + (k − 1)·½) (Kish's design effect with an
    intraclass correlation of a half): a second design of the same team is worth a third of a first.
    """
    kept: list[Build] = []
    for build in builds:
        if build.design and all(differing(build.sizes, other.sizes, within) for other in kept):
            kept.append(build)
    by_team: dict[int, int] = {}
    for build in kept:
        by_team[build.team_id] = by_team.get(build.team_id, 0) + 1
    return len(kept), sum(count / (1 + (count - 1) * RELATED) for count in by_team.values())


def tolerances(data: ClassData) -> Tolerances:
    """How far two measurements may differ and still be called alike, by variable."""
    return {
        variable.slug: float(data.kind.alike_within(data.values, variable.slug))
        for variable in data.kind.variables(data.values)
    }

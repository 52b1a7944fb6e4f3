"""Designs that are alike within measuring: twins, fair pairs, and how many designs a class really tried."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from .gather import Build, ClassData

RELATED = 0.5
"""How related a team's designs are taken to be: the same hands, the same thumb (a choice, in the middle)."""

Design = Mapping[str, Fraction]


@dataclass(frozen=True)
class Twins:
    """Two builds alike within measuring, of different teams, whose figures are not the same."""

    first: Build
    second: Build


@dataclass(frozen=True)
class FairPair:
    """Two teams' builds that differ in one variable only, so that a comparison is fair."""

    team: Build
    mate: Build
    variable: str


def differing(first: Design, second: Design, within: Callable[[str], Fraction]) -> list[str]:
    """The variables in which two designs differ by more than measuring can."""
    return [slug for slug in first if slug in second and abs(first[slug] - second[slug]) > within(slug)]


def find_twins(builds: Sequence[Build], within: Callable[[str], Fraction], places: int) -> list[Twins]:
    """Find pairs of builds, of different teams, alike in every variable and unequal in the rounded figure."""
    known = [build for build in builds if build.design]
    return [
        Twins(first, second)
        for place, first in enumerate(known)
        for second in known[place + 1 :]
        if first.team_id != second.team_id
        and first.conditions == second.conditions
        and not differing(first.design, second.design, within)
        and round(first.figure, places) != round(second.figure, places)
    ]


def fair_pairs(builds: Sequence[Build], within: Callable[[str], Fraction]) -> list[FairPair]:
    """Find for each build the classmates' builds that are like it but for one variable, in team order."""
    known = [build for build in builds if build.design]
    pairs = []
    for build in known:
        for mate in known:
            if mate.team_id == build.team_id or mate.conditions != build.conditions:
                continue
            different = differing(build.design, mate.design, within)
            if len(different) == 1:
                pairs.append(FairPair(build, mate, different[0]))
    return pairs


def distinct_designs(builds: Sequence[Build], within: Callable[[str], Fraction]) -> tuple[int, float]:
    """How many different designs there are, and how many unrelated ones they are worth.

    A team's k designs are related, so they count as k/(1 + (k − 1)·½) (Kish's design effect with an
    intraclass correlation of a half): a second design of the same team is worth a third of a first.
    """
    kept: list[Build] = []
    for build in builds:
        if build.design and all(differing(build.design, other.design, within) for other in kept):
            kept.append(build)
    by_team: dict[int, int] = {}
    for build in kept:
        by_team[build.team_id] = by_team.get(build.team_id, 0) + 1
    return len(kept), sum(count / (1 + (count - 1) * RELATED) for count in by_team.values())


def tolerance(data: ClassData) -> Callable[[str], Fraction]:
    """How far two measurements may differ and still be called alike, by variable."""
    return lambda slug: data.kind.alike_within(data.values, slug)

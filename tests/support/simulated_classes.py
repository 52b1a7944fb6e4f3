"""Classes by the physics of the soft landing: designs, builds and drops with known scatter, from a seed."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

import numpy as np

from design_challenges.kinds import get_kind
from design_challenges.kinds.soft_landing.expected import DIAMETER, device_time_s
from design_challenges.kinds.soft_landing.plan_sums import LINE
from design_challenges.services.analysis.drift import Reference, Shifts, find_shifts
from design_challenges.services.analysis.gather import Build, ClassData, TeamBuilds
from tests.support.class_records import NAMES, class_values

Sizes = tuple[Fraction, Fraction]
"""Canopy across and line, in inches."""
SOFT_LANDING = get_kind("soft-landing")
FIRST_DAY, SECOND_DAY = "Monday", "Tuesday"


class World:
    """How devices and drops vary: normal scatter of the log of the fall time, as standard deviations.

    A build keeps its own flaw through all its drops; a day makes all its times longer by a factor.
    """

    def __init__(self, seed: int, *, drop_scatter: float = 0.03, build_scatter: float = 0.02) -> None:
        self.random = np.random.default_rng(seed)
        self.drop_scatter, self.build_scatter = drop_scatter, build_scatter
        self.values: Mapping[str, Any] = class_values()
        self._known: dict[Sizes, float] = {}

    def true_time_s(self, sizes: Sizes) -> float:
        """The time that a build without a flaw takes."""
        if sizes not in self._known:
            across, line = sizes
            area_m2 = math.pi * (float(across) * 0.0254) ** 2 / 4
            self._known[sizes] = device_time_s(self.values, area_m2, float(line / across))
        return self._known[sizes]

    def flaws(self, count: int) -> np.ndarray:
        return np.exp(self.build_scatter * self.random.standard_normal(count))

    def hundredths(self, time_s: float, drops: int) -> list[int]:
        """Drop a device of this own time."""
        scatter = np.exp(self.drop_scatter * self.random.standard_normal(drops))
        return [round(float(time)) for time in 100 * time_s * scatter]

    def near_the_limit(self, low: float = 0.9, high: float = 1.0) -> Sizes:
        """A design that uses this share of the limit, with a canopy from 10 to 17 in across, in whole halves.

        Lines are cut to quarters, from a third of the canopy to twice it.
        """
        used = self.random.uniform(low, high) * float(self.values["limit"])
        across = Fraction(int(self.random.integers(20, 35)), 2)
        a_line = float(self.values["price_line"]) * int(self.values["line_count"])
        line = (used - math.pi * float(across) ** 2 / 4) / a_line
        line = min(max(line, float(across) / 3), 2 * float(across))
        return across, Fraction(round(line * 4), 4)

    def build(
        self, team: int, number: int, sizes: Sizes, times: Sequence[int], day: str, shifts: Shifts
    ) -> Build:
        """Make the record of a build; the shift of its day is taken out as the product does."""
        ratio = shifts.ratio(day)
        seconds = tuple(time / (100 * ratio) for time in times)
        design = {DIAMETER: sizes[0], LINE: sizes[1]}
        return Build(
            team_id=team,
            team=NAMES[team % len(NAMES)],
            place=team,
            round=number,
            hundredths=tuple(times),
            seconds=seconds,
            figures=tuple(SOFT_LANDING.drop_figure(self.values, second) for second in seconds),
            figure=SOFT_LANDING.drop_figure(self.values, math.fsum(seconds) / len(seconds)),
            timed_figure=SOFT_LANDING.drop_figure(self.values, sum(times) / (100 * len(times))),
            design=design,
            sizes={slug: float(size) for slug, size in design.items()},
            wanted=len(times),
            complete=True,
            unopened=0,
            conditions=SOFT_LANDING.conditions(self.values),
            day_shares={day: 1.0} if day in shifts.by_day else {},
        )

    def classroom(
        self,
        designs: Sequence[Sequence[Sizes]],
        drops: int,
        *,
        day: float = 1.0,
        reference: Reference | None = None,
    ) -> ClassData:
        """Let teams build and drop their designs, a round each; round 2's times are `day` times as long."""
        shifts = find_shifts(reference.readings if reference else {})
        teams = []
        for team, rounds in enumerate(designs):
            builds = {}
            for number, (sizes, flaw) in enumerate(
                zip(rounds, self.flaws(len(rounds)), strict=True), start=1
            ):
                time = self.true_time_s(sizes) * float(flaw) * (day if number > 1 else 1.0)
                on = SECOND_DAY if number > 1 else FIRST_DAY
                times = self.hundredths(time, drops)
                builds[number] = self.build(team, number, sizes, times, on, shifts)
            teams.append(TeamBuilds(team, NAMES[team % len(NAMES)], team, builds))
        performance = SOFT_LANDING.performance(self.values)
        return ClassData(SOFT_LANDING, self.values, performance, tuple(teams), shifts, 0)

    def reference(self, drops: int, day: float) -> Reference:
        """Drop the teacher's own device on both days."""
        time = self.true_time_s((Fraction(14), Fraction(13)))
        return Reference(
            {FIRST_DAY: self.hundredths(time, drops), SECOND_DAY: self.hundredths(time * day, drops)}
        )


def times_again(
    random: np.random.Generator,
    classes: int,
    teams: int,
    drops: int,
    *,
    drop_scatter: float,
    build_scatter: float,
) -> tuple[np.ndarray, np.ndarray]:
    """Hundredths of two builds to one plan, each (classes, teams, drops); no build scatter: the same device.

    A team's own mean time is drawn from 3 to 4.5 s.
    """
    mean = 100 * random.uniform(3, 4.5, (classes, teams, 1))
    rounds = []
    for _ in range(2):
        built = mean * np.exp(build_scatter * random.standard_normal(mean.shape))
        scatter = np.exp(drop_scatter * random.standard_normal((classes, teams, drops)))
        rounds.append(np.rint(built * scatter).astype(int))
    return rounds[0], rounds[1]

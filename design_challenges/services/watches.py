"""Several stopwatches on one drop: the time that counts, and how far apart a class's thumbs are; pure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from design_challenges.services.rounding import round_half_up
from design_challenges.services.statistics import median

MOST_WATCHES = 3
ENOUGH_REPEATS = 4
"""Fewer extra timings than this say too little about a class's thumbs."""


def time_that_counts(hundredths: Sequence[int]) -> int:
    """Return the time of a drop in whole hundredths of a second from one to three stopwatches.

    The middle one of three, the mean of two, rounded half-up; ValueError for none. Common practice where
    races are timed by hand.
    """
    return int(round_half_up(median(hundredths), 0))


@dataclass(frozen=True)
class Thumbs:
    """How far apart stopwatches on the same drop were.

    `sd_s` is the standard deviation of one thumb's time in s (pooled), `drops` how many drops were
    timed more than once, `repeats` the degrees of freedom, `widest_s` the largest difference in s.
    """

    sd_s: float
    drops: int
    repeats: int
    widest_s: float

    @property
    def enough(self) -> bool:
        return self.repeats >= ENOUGH_REPEATS


def find_thumbs(drops: Sequence[Sequence[int]]) -> Thumbs | None:
    """Return the spread between thumbs from the times (hundredths of a second) of drops timed repeatedly.

    Each drop's own mean is taken out first, so that how the drops differ does not matter: what is left is
    how two people differ in starting and stopping. A delay that a thumb has at both ends is not in it, as
    it is not in a time. None where no drop was timed twice. Source: pooled variance, ISO 5725-2:2019, 7.4.
    """
    repeated = [times for times in drops if len(times) > 1]
    if not repeated:
        return None
    squares = Fraction(0)
    for times in repeated:
        mean = Fraction(sum(times), len(times))
        squares += sum((time - mean) ** 2 for time in times)
    repeats = sum(len(times) - 1 for times in repeated)
    return Thumbs(
        sd_s=math.sqrt(squares / repeats) / 100,
        drops=len(repeated),
        repeats=repeats,
        widest_s=max(max(times) - min(times) for times in repeated) / 100,
    )

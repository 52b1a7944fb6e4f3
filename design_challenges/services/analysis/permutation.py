"""The exact two-sample permutation probability, on readings in whole hundredths of a second."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from .counting import count_choices
from .intervals import ONE_IN_TWENTY

MOST_SPLITS = 2**63


@dataclass(frozen=True)
class Exact:
    """An exact two-sided probability, and the least that these values could have given at all."""

    probability: Fraction
    least: Fraction

    @property
    def can_tell(self) -> bool:
        """Whether so many values, tied as they are, could have gone below one in twenty."""
        return self.least < Fraction(str(ONE_IN_TWENTY))

    @property
    def is_small(self) -> bool:
        return self.can_tell and self.probability < Fraction(str(ONE_IN_TWENTY))


def permutation(first: Sequence[int], second: Sequence[int]) -> Exact | None:
    """How often a random split of all readings puts as much between the two sums: twice the smaller tail.

    The readings are whole hundredths; ties need no care, since every split is counted. None where one
    side has no reading, or where there are more splits than can be counted (more than 2⁶³).
    Source: Fisher, The Design of Experiments (1935), section 21; Pitman (1937).
    """
    if not first or not second:
        return None
    splits = math.comb(len(first) + len(second), len(first))
    if splits >= MOST_SPLITS:
        return None
    lowest = min(*first, *second)
    pooled = [value - lowest for value in (*first, *second)]
    counts = count_choices(pooled, len(first))
    observed = sum(first) - lowest * len(first)
    ordered = sorted(pooled)
    least_sum, most_sum = sum(ordered[: len(first)]), sum(ordered[-len(first) :])
    tail = min(sum(counts[: observed + 1]), sum(counts[observed:]))
    end = min(counts[least_sum], counts[most_sum])
    return Exact(min(Fraction(1), Fraction(2 * tail, splits)), min(Fraction(1), Fraction(2 * end, splits)))

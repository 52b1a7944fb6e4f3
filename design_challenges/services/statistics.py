"""Averages and spreads: exact for what children work out, careful floats for what only analysis sees."""

from __future__ import annotations

import statistics as stdlib
from fractions import Fraction
from typing import TYPE_CHECKING

from .rounding import as_fraction, check_exact

if TYPE_CHECKING:
    from collections.abc import Sequence
    from decimal import Decimal


def mean(values: Sequence[Decimal | Fraction | int]) -> Fraction:
    """The arithmetic mean, exactly, in the values' unit.

    Raises ValueError for no values and TypeError for floats.
    """
    if not values:
        raise ValueError("The mean of no values does not exist")
    # Over one denominator, which is made short once: a Fraction for each sum takes five times as long.
    top, bottom = 0, 1
    for value in values:
        check_exact(value)
        own_top, own_bottom = value.as_integer_ratio()
        top, bottom = top * own_bottom + own_top * bottom, bottom * own_bottom
    return Fraction(top, bottom * len(values))


def median(values: Sequence[Decimal | Fraction | int]) -> Fraction:
    """The middle value, or the mean of the two middle ones, exactly, in the values' unit.

    Raises ValueError for no values and TypeError for floats.
    """
    if not values:
        raise ValueError("The median of no values does not exist")
    ordered = sorted(as_fraction(value) for value in values)
    middle = len(ordered) // 2
    if len(ordered) % 2:
        return ordered[middle]
    return (ordered[middle - 1] + ordered[middle]) / 2


def sample_sd(values: Sequence[float | Decimal | Fraction | int]) -> float:
    """The sample standard deviation (n − 1 in the divisor), in the values' unit.

    The sums are rational and exact and only the root is rounded, so that large values with a small
    spread lose nothing (NIST StRD NumAcc4). Raises ValueError for fewer than two values.
    """
    if len(values) < 2:
        raise ValueError("A standard deviation needs at least two values")
    return float(stdlib.stdev([Fraction(value) for value in values]))

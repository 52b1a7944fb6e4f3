"""Whether all drops of one build took longer than all of another, and how often luck would do that."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from typing import Literal

Seen = Literal["longer", "shorter", "overlap", ""]
AT_MOST = Fraction(1, 20)


def chance(first: int, second: int) -> Fraction:
    """How often luck alone puts all of `second` drops above all of `first`: 1/C(first + second, first).

    Exact where both builds fall alike and no two readings are equal. Raises ValueError below one drop.
    """
    if first < 1 or second < 1:
        raise ValueError("Each build needs at least one drop")
    return Fraction(1, math.comb(first + second, first))


def may_be_said(first: int, second: int) -> bool:
    """Whether so many drops, all on one side, would come by luck at most once in twenty."""
    return first > 0 and second > 0 and chance(first, second) <= AT_MOST


def seen(first: Sequence[int], second: Sequence[int]) -> Seen:
    """What is seen of the second build's readings against the first's; equal ones touch, so overlap."""
    if not first or not second:
        return ""
    if min(second) > max(first):
        return "longer"
    if max(second) < min(first):
        return "shorter"
    return "overlap"

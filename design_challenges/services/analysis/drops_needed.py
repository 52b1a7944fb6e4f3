"""How many drops put a mean within a margin."""

from __future__ import annotations

import math

from .intervals import LEVEL, t_quantile

MOST = 1_000_000


def margin_of_mean(sd: float, df: float, drops: int, level: float = LEVEL) -> float:
    """How far the mean of `drops` drops may be off at this level, in the unit of `sd`.

    `sd` is the standard deviation within teams, known from `df` degrees of freedom. Raises ValueError
    for fewer than one drop.
    """
    if drops < 1:
        raise ValueError("A mean needs at least one drop")
    return t_quantile((1 + level) / 2, df) * sd / math.sqrt(drops)


def drops_needed(sd: float, df: float, margin: float, level: float = LEVEL) -> int:
    """The smallest number of drops whose mean is within `margin` (above 0, else ValueError) of the true one.

    At least 1, and never told beyond a million; n = (t·s/E)², rounded up.
    """
    if not (margin > 0 and math.isfinite(margin)):
        raise ValueError(f"The margin must be above 0, not {margin}")
    root = t_quantile((1 + level) / 2, df) * sd / margin
    if root > math.sqrt(MOST):
        return MOST
    return max(1, math.ceil(root**2 - 1e-9))

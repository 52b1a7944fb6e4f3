"""Scatter within and between groups: one-way analysis of variance and repeatability with its interval."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from .intervals import LEVEL, Estimate, chi_squared_quantile, f_above, f_quantile

Number = float | int | Decimal | Fraction


@dataclass(frozen=True)
class OneWay:
    """A one-way analysis of variance; squares in the square of the values' unit.

    `sizes` are the counts of the groups that hold a value; what cannot be worked out from so few
    values (a mean square without degrees of freedom, F over no scatter) is None.
    """

    sizes: tuple[int, ...]
    between_squares: float
    within_squares: float

    @property
    def values(self) -> int:
        return sum(self.sizes)

    @property
    def groups(self) -> int:
        return len(self.sizes)

    @property
    def between_df(self) -> int:
        return max(self.groups - 1, 0)

    @property
    def within_df(self) -> int:
        return self.values - self.groups

    @property
    def between_mean_square(self) -> float | None:
        return self.between_squares / self.between_df if self.between_df else None

    @property
    def within_mean_square(self) -> float | None:
        return self.within_squares / self.within_df if self.within_df else None

    @property
    def within_sd(self) -> float | None:
        """The standard deviation within groups, pooled; 0 where all repeats agree."""
        square = self.within_mean_square
        return None if square is None else math.sqrt(square)

    @property
    def f(self) -> float | None:
        between, within = self.between_mean_square, self.within_mean_square
        return between / within if between is not None and within else None

    @property
    def probability(self) -> float | None:
        """The probability of so large an F where the groups do not differ."""
        return None if self.f is None else f_above(self.f, self.between_df, self.within_df)

    @property
    def r_squared(self) -> float | None:
        total = self.between_squares + self.within_squares
        return self.between_squares / total if total > 0 else None

    @property
    def typical_size(self) -> float:
        """n₀ = (N − Σn²/N)/(a − 1): the group size that unequal groups count as; 0 for fewer than two."""
        if self.groups < 2:
            return 0.0
        squares = sum(size * size for size in self.sizes)
        return (self.values - squares / self.values) / (self.groups - 1)


def one_way(groups: Sequence[Sequence[Number]]) -> OneWay:
    """Analyse groups of values, in any one unit; empty groups are left out and no value at all is no error.

    Deviations are taken from a value near the middle before they are squared, exactly where the values
    are decimals or fractions, so that a small scatter of large values loses nothing (NIST StRD SmLs07).
    """
    filled = [group for group in groups if len(group)]
    if not filled:
        return OneWay((), 0.0, 0.0)
    origin = Fraction(filled[0][0])
    shifted = [[_from(value, origin) for value in group] for group in filled]
    sizes = tuple(len(group) for group in shifted)
    grand = math.fsum(value for group in shifted for value in group) / sum(sizes)
    means = [math.fsum(group) / len(group) for group in shifted]
    between = math.fsum(size * (mean - grand) ** 2 for size, mean in zip(sizes, means, strict=True))
    within = math.fsum(
        (value - mean) ** 2 for group, mean in zip(shifted, means, strict=True) for value in group
    )
    # Equal values must give no scatter at all, not a rounding error of the mean.
    if all(value == group[0] for group in shifted for value in group):
        within = 0.0
        if len({group[0] for group in shifted}) == 1:
            between = 0.0
    return OneWay(sizes, between, within)


def _from(value: Number, origin: Fraction) -> float:
    if isinstance(value, float):
        return value - float(origin)
    return float(Fraction(value) - origin)


def repeatability(table: OneWay, level: float = LEVEL) -> Estimate | None:
    """The intraclass correlation ICC(1) with its exact F interval: the share of scatter between groups.

    From −1/(n − 1) to 1. None for fewer than two groups, without repeats, or where nothing scatters at all
    or only the groups do (then it is 1, and no interval can be made). Exact for groups of one size; unequal
    groups count with their typical size. Source: Shrout and Fleiss, Psychological Bulletin 86 (1979), 420.
    """
    between, within, size = table.between_mean_square, table.within_mean_square, table.typical_size
    if not between and not within:
        return None
    if between is None or not within or size <= 1:
        return None
    f = between / within
    tail = (1 + level) / 2

    def share(ratio: float) -> float:
        return (ratio - 1) / (ratio + size - 1)

    low = f / f_quantile(tail, table.between_df, table.within_df)
    high = f * f_quantile(tail, table.within_df, table.between_df)
    return Estimate(share(f), share(low), share(high))


def sd_interval(table: OneWay, level: float = LEVEL) -> Estimate | None:
    """The standard deviation within groups with its chi-squared interval; None where nothing scatters.

    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.3.1.
    """
    sd, df = table.within_sd, table.within_df
    if not sd:
        return None
    tail = (1 + level) / 2
    return Estimate(
        sd,
        sd * math.sqrt(df / chi_squared_quantile(tail, df)),
        sd * math.sqrt(df / chi_squared_quantile(1 - tail, df)),
    )

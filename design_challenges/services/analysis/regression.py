"""Straight lines and planes through points: least squares by QR with intervals, and correlation."""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from .intervals import LEVEL, Estimate, t_interval, t_quantile

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

TIED = 1e-10
"""A column that the others leave less than this share of its length counts as a sum of them."""


@dataclass(frozen=True)
class Fit:
    """A least-squares fit: coefficients (the constant first where there is one) with standard errors."""

    coefficients: tuple[float, ...]
    standard_errors: tuple[float, ...]
    residual_squares: float
    df: int
    r_squared: float | None

    @property
    def residual_sd(self) -> float:
        return math.sqrt(self.residual_squares / self.df)

    def estimate(self, place: int, level: float = LEVEL) -> Estimate:
        """A coefficient with its t interval."""
        return t_interval(self.coefficients[place], self.standard_errors[place], self.df, level)


def least_squares(
    columns: Sequence[Sequence[float]], y: Sequence[float], *, constant: bool = True
) -> Fit | None:
    """Fit y to the columns; None with no degree of freedom left, or where one column follows from the others.

    Columns and y are centred (where there is a constant) and scaled before a Householder QR, so that
    a year near 1950 or a height near 10⁵ costs no digits. R² is against the mean where there is a constant
    and against 0 otherwise, as NIST StRD has it. Source: Björck, Numerical Methods for Least Squares (1996).
    """
    import numpy as np

    count, width = len(y), len(columns)
    df = count - width - (1 if constant else 0)
    if df < 1 or width < 1:
        return None
    centred = [_centred(column) if constant else (list(column), Fraction(0)) for column in columns]
    middles = [middle for _values, middle in centred]
    from_middle_y, middle_y = _centred(y) if constant else (list(y), Fraction(0))
    x = np.array([values for values, _middle in centred]).T
    target = np.array(from_middle_y)
    lengths = np.sqrt((x**2).sum(axis=0))
    if not lengths.all():
        return None
    q, r = np.linalg.qr(x / lengths)
    if np.abs(np.diag(r)).min() < TIED:
        return None
    inverse = np.linalg.inv(r)
    slopes = inverse @ (q.T @ target)
    # One step of refinement takes out what rounding in the first solution left.
    residual = target - (x / lengths) @ slopes
    step = inverse @ (q.T @ residual)
    slopes, residual = slopes + step, residual - (x / lengths) @ step
    squares = math.fsum(residual**2)
    variance = squares / df
    covariance = (inverse @ inverse.T) / np.outer(lengths, lengths)
    slopes = slopes / lengths
    total = math.fsum(target**2)
    coefficients = [float(slope) for slope in slopes]
    errors = [math.sqrt(variance * covariance[j, j]) for j in range(width)]
    if constant:
        exact = middle_y - sum(
            (middle * Fraction(slope) for middle, slope in zip(middles, coefficients, strict=True)),
            Fraction(0),
        )
        at = np.array([float(middle) for middle in middles])
        coefficients.insert(0, float(exact))
        errors.insert(0, math.sqrt(variance * (1 / count + float(at @ covariance @ at))))
    r_squared = 1 - squares / total if total > 0 else None
    return Fit(tuple(coefficients), tuple(errors), squares, df, r_squared)


def _centred(values: Sequence[float]) -> tuple[list[float], Fraction]:
    """Return the values less their mean, and the mean; twice over, so that no rounding of it stays behind."""
    first = math.fsum(values) / len(values)
    once = [value - first for value in values]
    second = math.fsum(once) / len(once)
    return [value - second for value in once], Fraction(first) + Fraction(second)


def leave_out_groups(
    columns: Sequence[Sequence[float]], y: Sequence[float], groups: Sequence[Hashable], level: float = LEVEL
) -> tuple[Estimate, ...] | None:
    """The slopes (without the constant) with intervals that let the values of a group be related.

    The jackknife over groups: each group is left out once, and the slopes' scatter gives the standard
    error, with one degree of freedom a group less the number of coefficients. None where the fit does
    not stand without one of the groups. Source: Efron, The Jackknife, the Bootstrap … (SIAM 1982), chapter 3.
    """
    whole = least_squares(columns, y)
    names = list(dict.fromkeys(groups))
    width = len(columns)
    df = len(names) - width - 1
    if whole is None or df < 1:
        return None
    without = []
    for name in names:
        keep = [place for place, group in enumerate(groups) if group != name]
        fit = least_squares([[column[i] for i in keep] for column in columns], [y[i] for i in keep])
        if fit is None:
            return None
        without.append(fit.coefficients[1:])
    estimates = []
    for place in range(width):
        slopes = [fit[place] for fit in without]
        middle = math.fsum(slopes) / len(slopes)
        scatter = math.fsum((slope - middle) ** 2 for slope in slopes)
        error = math.sqrt((len(names) - 1) / len(names) * scatter)
        estimates.append(t_interval(whole.coefficients[place + 1], error, df, level))
    return tuple(estimates)


def correlation(x: Sequence[float], y: Sequence[float]) -> float | None:
    """Pearson's r, from −1 to 1; None for fewer than two pairs or where one side does not vary."""
    if len(x) < 2:
        return None
    if len(set(x)) == 1 or len(set(y)) == 1:
        return None
    (dx, _x), (dy, _y) = _centred(x), _centred(y)
    xx, yy = math.fsum(d * d for d in dx), math.fsum(d * d for d in dy)
    if not (xx > 0 and yy > 0):
        return None
    xy = math.fsum(a * b for a, b in zip(dx, dy, strict=True))
    return max(-1.0, min(1.0, xy / math.sqrt(xx) / math.sqrt(yy)))


def correlation_interval(
    x: Sequence[float], y: Sequence[float], count: float | None = None
) -> Estimate | None:
    """Pearson's r with Fisher's z interval; `count` is how many pairs they are worth where some are related.

    None below four (worth of) pairs, or where one side does not vary. Source: Fisher, Metron 1 (1921), 3.
    """
    r = correlation(x, y)
    worth = float(len(x)) if count is None else count
    if r is None or worth <= 3:
        return None
    if abs(r) >= 1:
        return Estimate(r, r, r)
    # The normal quantile is that of t with no end of degrees of freedom.
    half = t_quantile((1 + LEVEL) / 2, math.inf) / math.sqrt(worth - 3)
    z = math.atanh(r)
    return Estimate(r, math.tanh(z - half), math.tanh(z + half))

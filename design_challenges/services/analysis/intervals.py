"""An estimate with its interval, and the quantiles and tail probabilities that intervals are made from."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

LEVEL = 0.95
"""The level of every interval that is shown."""
ONE_IN_TWENTY = 0.05
"""The probability at or above which nothing is claimed."""


@dataclass(frozen=True)
class Estimate:
    """A value with the ends of its interval, all in the value's unit."""

    value: float
    low: float
    high: float

    @property
    def excludes_zero(self) -> bool:
        """Whether the whole interval lies on one side of 0."""
        return self.low > 0 or self.high < 0

    @property
    def half_width(self) -> float:
        return (self.high - self.low) / 2


@lru_cache(maxsize=512)
def t_quantile(probability: float, df: float) -> float:
    """Student's t that is exceeded with 1 − `probability`; `df` above 0, not necessarily whole.

    Raises ValueError outside 0 < probability < 1 and df > 0. Computed by SciPy's inverse of the
    incomplete beta function; tests/outside compares it with a printed table.
    """
    from scipy.special import stdtrit  # a third of a second to import, and few pages need it

    if not (0 < probability < 1 and df > 0):
        raise ValueError(f"No t quantile for probability {probability} and {df} degrees of freedom")
    return float(stdtrit(df, probability))


def t_two_sided(t: float, df: float) -> float:
    """The probability of a Student's t at least as far from 0 as `t`; `df` above 0."""
    from scipy.special import stdtr

    return float(2 * stdtr(df, -abs(t)))


@lru_cache(maxsize=512)
def f_quantile(probability: float, df_above: float, df_below: float) -> float:
    """The F that is exceeded with 1 − `probability`; degrees of freedom above and below the line, above 0."""
    from scipy.special import fdtri

    if not (0 < probability < 1 and df_above > 0 and df_below > 0):
        raise ValueError(f"No F quantile for {probability}, {df_above}, {df_below}")
    return float(fdtri(df_above, df_below, probability))


def f_above(f: float, df_above: float, df_below: float) -> float:
    """The probability of an F of at least `f` (0 or more)."""
    from scipy.special import fdtrc

    return float(fdtrc(df_above, df_below, f))


@lru_cache(maxsize=512)
def chi_squared_quantile(probability: float, df: float) -> float:
    """The chi-squared that is exceeded with 1 − `probability`; `df` above 0."""
    from scipy.special import chdtri

    if not (0 < probability < 1 and df > 0):
        raise ValueError(f"No chi-squared quantile for probability {probability} and {df}")
    return float(chdtri(df, 1 - probability))


def t_interval(value: float, standard_error: float, df: float, level: float = LEVEL) -> Estimate:
    """The t interval round a value; `standard_error` 0 or more, `df` above 0."""
    half = t_quantile((1 + level) / 2, df) * standard_error
    return Estimate(value, value - half, value + half)

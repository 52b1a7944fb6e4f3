"""The difference of two means with Welch's interval, which lets the two scatter differently."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from design_challenges.services.statistics import sample_sd

from .intervals import LEVEL, Estimate, t_interval, t_two_sided


@dataclass(frozen=True)
class Summary:
    """A sample as its mean, standard deviation (n − 1) and count."""

    mean: float
    sd: float
    count: int


@dataclass(frozen=True)
class Difference:
    """The second mean minus the first, with Welch's interval, t, degrees of freedom and probability."""

    estimate: Estimate
    standard_error: float
    df: float
    t: float
    probability: float


def summary(values: Sequence[float]) -> Summary:
    """Summarise at least two values; ValueError for fewer."""
    return Summary(math.fsum(values) / len(values), sample_sd(values), len(values))


def welch(
    first: Summary, second: Summary, level: float = LEVEL, *, also: tuple[float, float] = (0.0, 0.0)
) -> Difference | None:
    """The second mean minus the first; None for fewer than two values in one, or where nothing scatters.

    `also` is a further variance of the difference (a correction's own) and its degrees of freedom.
    Source: Welch, Biometrika 34 (1947), 28; degrees of freedom by Satterthwaite (1946).
    """
    if first.count < 2 or second.count < 2:
        return None
    parts = (first.sd**2 / first.count, second.sd**2 / second.count)
    extra, extra_df = also
    variance = sum(parts) + extra
    if not variance > 0:
        return None
    below = parts[0] ** 2 / (first.count - 1) + parts[1] ** 2 / (second.count - 1)
    df = variance**2 / (below + (extra**2 / extra_df if extra else 0.0))
    error = math.sqrt(variance)
    value = second.mean - first.mean
    t = value / error
    return Difference(t_interval(value, error, df, level), error, df, t, t_two_sided(t, df))

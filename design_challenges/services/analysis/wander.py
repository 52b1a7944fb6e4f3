"""How far the mean of a few drops wanders, shown by the class's own scatter."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

COUNTS = (1, 2, 3, 5, 10)
TRIES = 4000
SHOWN = 40
SEED = 20


@dataclass(frozen=True)
class Wander:
    """Means of `drops` drops round 0, in s: within `most_s` of it 19 times in 20; some of them to show."""

    drops: int
    most_s: float
    means_s: tuple[float, ...]


def pooled_scatter(groups: Sequence[Sequence[float]]) -> list[float]:
    """Every drop's distance from its own device's mean, made larger by √(k/(k − 1)), in the values' unit.

    A mean takes part of the scatter with it: of k drops the distances are too small by that factor.
    Devices with a single drop say nothing and are left out.
    """
    scatter: list[float] = []
    for group in groups:
        count = len(group)
        if count < 2:
            continue
        middle = math.fsum(group) / count
        scatter += [(value - middle) * math.sqrt(count / (count - 1)) for value in group]
    return scatter


def wanders(groups: Sequence[Sequence[float]], counts: Sequence[int] = COUNTS) -> list[Wander]:
    """Draw means of several drops from the pooled scatter; [] where no device was dropped twice.

    The same numbers give the same draws (a fixed seed), so that the picture stands still.
    """
    import numpy as np

    scatter = pooled_scatter(groups)
    if not scatter:
        return []
    random = np.random.default_rng(SEED)
    pool = np.array(scatter)
    found = []
    for count in counts:
        means = pool[random.integers(0, len(pool), (TRIES, count))].mean(axis=1)
        found.append(
            Wander(
                count, float(np.quantile(np.abs(means), 0.95)), tuple(float(mean) for mean in means[:SHOWN])
            )
        )
    return found

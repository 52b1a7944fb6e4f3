"""What of a gain would have come by itself: teams picked for a bad first result do better anyway."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from .intervals import Estimate
from .variance import of_a_mean

LEAST_TEAMS = 4


@dataclass(frozen=True)
class Pulled:
    """The teams with the worst first figures: their mean gain, and the part that luck alone would bring.

    All in the figure's unit, above 0 for better; `by_itself` carries the interval of the repeatability.
    """

    teams: int
    gain: float
    by_itself: Estimate


def worst_teams(first: Sequence[float], *, lower_is_better: bool) -> list[int]:
    """The places of the third of the teams (at least 1) with the worst first figures; [] below 4 teams."""
    if len(first) < LEAST_TEAMS:
        return []
    order = sorted(range(len(first)), key=lambda place: -first[place] if lower_is_better else first[place])
    return sorted(order[: max(1, len(first) // 3)])


def pulled(
    first: Sequence[float],
    second: Sequence[float],
    drops: float,
    single: Estimate | None,
    *,
    lower_is_better: bool,
) -> Pulled | None:
    """What the repeatability of one drop says of the worst teams' gain from `first` to `second` figures.

    A figure from `drops` drops keeps, on average, the share R of its distance from the class's mean when
    it is taken again, so 1 − R of it is gained by itself. That counts the scatter of the drops alone; a
    device built anew pulls further. None without a repeatability or with fewer than four teams.
    Source: Galton (1886); Bland and Altman, BMJ 308 (1994), 1499.
    """
    worst = worst_teams(first, lower_is_better=lower_is_better)
    if single is None or not worst:
        return None
    sign = 1 if lower_is_better else -1
    mean = math.fsum(first) / len(first)
    far = sign * (math.fsum(first[place] for place in worst) / len(worst) - mean)
    gain = sign * math.fsum(first[place] - second[place] for place in worst) / len(worst)

    def by_itself(share: float) -> float:
        return (1 - of_a_mean(share, drops)) * far

    # The more repeatable, the less comes by itself: the ends change places.
    return Pulled(
        len(worst),
        gain,
        Estimate(by_itself(single.value), by_itself(single.high), by_itself(single.low)),
    )

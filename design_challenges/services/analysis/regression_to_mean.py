"""What of a gain would have come by itself: teams picked for a bad first result do better anyway."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from .intervals import Estimate

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

    A figure from k drops keeps the share R of its distance from the class's mean when it is taken again, so
    1 − R = (1 − ρ)/(1 + (k − 1)ρ) of it is gained by itself. Worked out from the same few teams, that is too
    much by (n − 1)/(n − 3) on average, which is taken out (James and Stein 1961; Efron and Morris, JASA 70
    (1975), 311). The scatter of drops alone is counted; a device built anew pulls further. None without a
    repeatability or with fewer than four teams.
    """
    worst = worst_teams(first, lower_is_better=lower_is_better)
    if single is None or not worst:
        return None
    sign = 1 if lower_is_better else -1
    teams = len(first)
    mean = math.fsum(first) / teams
    far = sign * (math.fsum(first[place] for place in worst) / len(worst) - mean)
    gain = sign * math.fsum(first[place] - second[place] for place in worst) / len(worst)

    def lost(share: float) -> float:
        kept = 1 + (drops - 1) * share
        return min(1.0, (1 - share) / kept) if kept > 0 else 1.0

    value = (teams - 3) / (teams - 1) * lost(single.value) * far
    # The more repeatable, the less comes by itself: the ends change places.
    low, high = lost(single.high) * far, lost(single.low) * far
    return Pulled(len(worst), gain, Estimate(value, min(low, value), max(high, value)))

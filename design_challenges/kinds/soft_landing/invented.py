"""Invented drops of a soft landing, by its physics, a build's flaw and a thumb's scatter: for the demo."""

from __future__ import annotations

import math
from collections.abc import Mapping
from fractions import Fraction
from random import Random

from design_challenges.kinds.base import Values
from design_challenges.kinds.soft_landing.expected import device_time_s
from design_challenges.kinds.soft_landing.kind import DIAMETER, LINE, SoftLanding
from design_challenges.services import physics

BUILD_SCATTER = 0.025
"""Standard deviation of one build's fall speed, as a share: folds, an edge cut by hand."""
DROP_SCATTER_S = 0.10
"""Standard deviation of one drop's time in s: the air, the release and a thumb."""
CLOSED_SHARE = {"not_open": 0.12, "tangled": 0.55}
"""The share of the drag that is left where the canopy did not open, or its lines were tangled."""


def fall_time_s(values: Values, diameter: Fraction, line: Fraction, *, drag_share: float = 1.0) -> float:
    """The time in s that a device takes for the class's drop, with no scatter.

    `diameter` and `line` (each line's length) in the class's length unit; `drag_share` (above 0)
    is what is left of the open canopy's drag.
    """
    metres = SoftLanding.system(values).length.metres
    area_m2 = math.pi * float(diameter * metres) ** 2 / 4
    return device_time_s(values, area_m2, float(line / diameter), drag_share)


class InventedDevice:
    """One build of a plan: a fixed flaw of its own, and a scatter from drop to drop."""

    def __init__(self, values: Values, sizes: Mapping[str, Fraction], random: Random) -> None:
        self.values = values
        self.diameter, self.line = sizes[DIAMETER], sizes[LINE]
        self.random = random
        self.flaw = random.gauss(1, BUILD_SCATTER)

    def drop(self, mark: str = "") -> int:
        """Return one drop's stopwatch reading in whole hundredths of a second, never under free fall."""
        share = CLOSED_SHARE.get(mark, 1.0)
        time = fall_time_s(self.values, self.diameter, self.line, drag_share=share) * self.flaw
        seconds = time + self.random.gauss(0, DROP_SCATTER_S)
        least = physics.free_fall_time_s(
            float(Fraction(self.values["drop_height"]) * SoftLanding.system(self.values).height.metres)
        )
        return max(round(seconds * 100), math.ceil(least * 100) + 3)

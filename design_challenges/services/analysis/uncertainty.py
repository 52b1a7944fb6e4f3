"""Timing and height carried through to the fall speed, to first order."""

from __future__ import annotations

import math

from design_challenges.kinds.base import Carried


def speed_uncertainty(
    height: float, time_s: float, *, timing_s: float, height_off: float, drops: int = 1
) -> Carried:
    """Carry the standard uncertainties of one timing (s) and of the height through v = h/t.

    `height` and `height_off` in one unit, 0 or more; `time_s` above 0 and `drops` from 1, else ValueError.
    More drops shrink what the thumb adds, never what the height does. Source: JCGM 100:2008 (GUM), 5.1.2.
    """
    if not time_s > 0 or drops < 1:
        raise ValueError("A speed needs a time above 0 and at least one drop")
    return Carried(
        reading=height / time_s**2 * timing_s / math.sqrt(drops),
        setting_up=height_off / time_s,
    )

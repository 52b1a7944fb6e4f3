"""Axes that begin, end and step at round numbers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from design_challenges.services.rounding import format_figure

_STEPS = (Fraction(1), Fraction(2), Fraction(5, 2), Fraction(5))


@dataclass(frozen=True)
class Axis:
    """An axis in the data's own unit: its ends, and its ticks with their text."""

    low: float
    high: float
    ticks: tuple[float, ...]
    texts: tuple[str, ...]

    def share(self, value: float) -> float:
        """Return where a value stands, 0 at the low end and 1 at the high end."""
        return (value - self.low) / (self.high - self.low)


def round_axis(values: Sequence[Fraction], *, steps: int = 5, places: int = 2) -> Axis:
    """Return an axis over positive values (at least one) of about `steps` steps of 1, 2, 2.5 or 5 times ten.

    Ticks have at most `places` decimals. Equal values get a step to each side; the
    axis never goes below zero.
    """
    low, high = min(values), max(values)
    step = _step(high - low, steps, _power(high) / 10, places)
    first, last = math.floor(low / step), math.ceil(high / step)
    # A mark on the frame is half hidden: leave it room.
    if low - first * step < step / 5:
        first -= 1
    if last * step - high < step / 5:
        last += 1
    first = max(first, 0)
    ticks = [number * step for number in range(first, last + 1)]
    places = _places(step)
    return Axis(
        low=float(ticks[0]),
        high=float(ticks[-1]),
        ticks=tuple(float(tick) for tick in ticks),
        texts=tuple(format_figure(tick, places) for tick in ticks),
    )


def _power(value: Fraction) -> Fraction:
    return Fraction(10) ** math.floor(math.log10(value))


def _step(spread: Fraction, steps: int, least: Fraction, places: int) -> Fraction:
    wanted = max(spread / steps, least)
    power = _power(wanted)
    while True:
        for candidate in _STEPS:
            step = candidate * power
            if step >= wanted and (step * 10**places).denominator == 1:
                return step
        power *= 10


def _places(step: Fraction) -> int:
    places = 0
    while (step * 10**places).denominator != 1:
        places += 1
    return places

"""Flat circles as children work them: every accepted π, and how far a count of squares may be off."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from .rounding import round_half_up

if TYPE_CHECKING:
    from decimal import Decimal

PI = Fraction("3.14159265358979323846264338327950288419716939937510")
"""π to 50 places (OEIS A000796), far beyond any rounding a class can choose."""

PI_CHOICES: tuple[Fraction, ...] = (Fraction("3.14"), Fraction(22, 7), PI)
"""What a child may use: 3.14, 22/7 or the π key."""


def circle_area(radius: Fraction, pi: Fraction = PI) -> Fraction:
    """A = π·r², in squares of the radius's unit; `radius` at least 0.

    Raises ValueError for a negative radius.
    """
    if radius < 0:
        raise ValueError(f"A radius cannot be negative: {radius}")
    return pi * radius * radius


def area_range(radius: Fraction, places: int) -> tuple[Decimal, Decimal]:
    """The smallest and the largest area, rounded half-up to `places`, that the accepted values of π give.

    Raises ValueError for a negative radius.
    """
    areas = [round_half_up(circle_area(radius, pi), places) for pi in PI_CHOICES]
    return min(areas), max(areas)


def within_percent(value: Fraction, exact: Fraction, percent: Fraction) -> bool:
    """Whether `value` lies within `percent` per cent of `exact`, the edges included (squares counted: 8)."""
    return abs(value - exact) * 100 <= percent * abs(exact)

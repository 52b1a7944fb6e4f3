"""A sheet with its round pieces laid out, as numbers for a drawing that shows how to cut it; pure."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from design_challenges.services.packing import Cutting

MOST_DRAWN = 300
"""More circles than this say no more than their number does."""
_WIDEST, _TALLEST = 320.0, 220.0


@dataclass(frozen=True)
class Drawing:
    """A drawing in its own units: the sheet's size, and the middle and radius of each circle, as texts."""

    width: str
    height: str
    radius: str
    circles: tuple[tuple[str, str], ...]


def draw_cutting(
    cutting: Cutting, across: Fraction, gap: Fraction, width: Fraction, length: Fraction
) -> Drawing | None:
    """Return the drawing of one sheet, its longer side across; None where nothing or too much is cut."""
    if not 0 < cutting.count <= MOST_DRAWN:
        return None
    wide, tall = (float(length), float(width)) if cutting.turned else (float(width), float(length))
    step = float(across + gap)
    row_step = step * (1 if cutting.way == "squares" else math.sqrt(3) / 2)
    radius = float(across) / 2
    shifted = step / 2 if cutting.way == "staggered" else 0
    middles = [
        (radius + place * step + (shifted if row % 2 else 0), radius + row * row_step)
        for row, count in enumerate(cutting.rows)
        for place in range(count)
    ]
    if tall > wide:
        wide, tall = tall, wide
        middles = [(y, x) for x, y in middles]
    scale = min(_WIDEST / wide, _TALLEST / tall)
    return Drawing(
        f"{wide * scale:.1f}",
        f"{tall * scale:.1f}",
        f"{radius * scale:.2f}",
        tuple((f"{x * scale:.1f}", f"{y * scale:.1f}") for x, y in middles),
    )

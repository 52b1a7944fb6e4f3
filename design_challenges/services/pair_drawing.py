"""Round 1 joined to round 2 for every team, as numbers for a drawing on paper; pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from design_challenges.services.nice_axis import round_axis

ROW, TOP, RIGHT, WIDTH = 26.0, 14.0, 20.0, 640.0
"""A row, what is above the first, what stays free at the edge, the width: in the drawing's own units."""
LETTERS, WIDE, NARROW, APART = 12.0, 0.92, 0.56, 18.0
"""The letters' size, how wide one is beside it (capitals, m and w; all others), the gap behind a name."""


@dataclass(frozen=True)
class PairRow:
    """One team's row: its name, its middle, and where its marks lie ("" where there is none)."""

    name: str
    y: str
    text_y: str
    first: str
    second: str


@dataclass(frozen=True)
class PairDrawing:
    """The whole drawing: its size, ticks (place and text), rows, and where the plot ends."""

    width: str
    height: str
    bottom: str
    tick_y: str
    ticks: Sequence[tuple[str, str]]
    rows: Sequence[PairRow]


def draw_pairs(
    pairs: Sequence[tuple[str, Decimal | None, Decimal | None]], places: int
) -> PairDrawing | None:
    """Return the drawing of (team, round 1, round 2), None without any figure."""
    figures = [Fraction(value) for _name, *both in pairs for value in both if value is not None]
    if not figures:
        return None
    axis = round_axis(figures, steps=6, places=places)
    left = APART + max(_width(name) for name, *_both in pairs)
    bottom = TOP + ROW * len(pairs)

    def place(share: float) -> str:
        return f"{left + (WIDTH - left - RIGHT) * share:.1f}"

    def mark(value: Decimal | None) -> str:
        return "" if value is None else place(axis.share(float(value)))

    middles = [TOP + ROW * number + ROW / 2 for number in range(len(pairs))]
    return PairDrawing(
        width=f"{WIDTH:.0f}",
        height=f"{bottom + 22:.0f}",
        bottom=f"{bottom:.1f}",
        tick_y=f"{bottom + 16:.1f}",
        ticks=[(place(axis.share(value)), text) for value, text in zip(axis.ticks, axis.texts, strict=True)],
        rows=[
            PairRow(name, f"{middle:.1f}", f"{middle + 4:.1f}", mark(first), mark(second))
            for middle, (name, first, second) in zip(middles, pairs, strict=True)
        ],
    )


def _width(name: str) -> float:
    """Return how much room a name takes at most: a label that runs into the drawing is worse than a gap."""
    return LETTERS * sum(WIDE if letter.isupper() or letter in "mw" else NARROW for letter in name)

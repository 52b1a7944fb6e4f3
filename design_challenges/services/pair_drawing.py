"""Round 1 joined to round 2 for every team, as numbers for a drawing on paper; pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from design_challenges.services.nice_axis import Axis, round_axis

LEFT, RIGHT, ROW, TOP = 150.0, 16.0, 26.0, 14.0
WIDTH = 640.0
"""Sizes in the drawing's own units: room for names, the edge, a row, the first row, and the whole width."""


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
    """The whole drawing: its size, ticks (place and text), rows, and where the plot begins and ends."""

    width: str
    height: str
    left: str
    right: str
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
    bottom = TOP + ROW * len(pairs)
    rows = [
        PairRow(
            name,
            f"{TOP + ROW * place + ROW / 2:.1f}",
            f"{TOP + ROW * place + ROW / 2 + 4:.1f}",
            _at(axis, first),
            _at(axis, second),
        )
        for place, (name, first, second) in enumerate(pairs)
    ]
    return PairDrawing(
        width=f"{WIDTH:.0f}",
        height=f"{bottom + 22:.0f}",
        left=f"{LEFT:.0f}",
        right=f"{WIDTH - RIGHT:.0f}",
        bottom=f"{bottom:.1f}",
        tick_y=f"{bottom + 16:.1f}",
        ticks=_ticks(axis),
        rows=rows,
    )


def _at(axis: Axis, value: Decimal | None) -> str:
    if value is None:
        return ""
    return f"{LEFT + (WIDTH - LEFT - RIGHT) * axis.share(float(value)):.1f}"


def _ticks(axis: Axis) -> list[tuple[str, str]]:
    span = WIDTH - LEFT - RIGHT
    return [
        (f"{LEFT + span * axis.share(value):.1f}", text)
        for value, text in zip(axis.ticks, axis.texts, strict=True)
    ]

"""Finds a place for each name on a chart, so that no two names overlap and none covers a mark."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

# Wide enough for the house's letters, so that a name is never longer than it was thought to be.
LETTER_WIDTH = 0.58
LINE_HEIGHT = 1.2
_DIRECTIONS = (0, 180, 90, 270, 40, 140, 320, 220, 65, 115, 295, 245, 20, 160, 340, 200)
_DISTANCES = (0, 14, 28, 46, 68, 94, 124, 158, 196, 238)


@dataclass(frozen=True)
class Box:
    """A rectangle in pixels, y downwards."""

    left: float
    top: float
    right: float
    bottom: float

    def overlap(self, other: Box) -> float:
        """Return the area in common, in square pixels."""
        wide = min(self.right, other.right) - max(self.left, other.left)
        high = min(self.bottom, other.bottom) - max(self.top, other.top)
        return wide * high if wide > 0 and high > 0 else 0.0

    def outside(self, frame: Box) -> float:
        """Return the area that lies outside a frame."""
        own = (self.right - self.left) * (self.bottom - self.top)
        return own - self.overlap(frame)


@dataclass(frozen=True)
class Mark:
    """A mark on the chart in pixels from the top left of the plot; `text` is "" where it has no name."""

    x: float
    y: float
    text: str = ""


@dataclass(frozen=True)
class Place:
    """Where a name's middle stands, in px from its mark (y downwards); `far` asks for a line to the mark."""

    dx: float
    dy: float
    far: bool
    box: Box


def place_names(
    marks: Sequence[Mark], width: float, height: float, font: float, radius: float
) -> list[Place | None]:
    """Return a place for each mark's name, None for a mark without one.

    `width` and `height` are the plot's, `font` the size of the letters and `radius`
    that of a mark, all in pixels. The nearest free place is taken; where a crowd
    leaves none, the one that covers least.
    """
    frame = Box(0, 0, width, height)
    taken = [Box(mark.x - radius, mark.y - radius, mark.x + radius, mark.y + radius) for mark in marks]
    places: list[Place | None] = [None] * len(marks)
    for index in _hardest_first(marks):
        mark = marks[index]
        if not mark.text:
            continue
        best = min(
            _candidates(mark, font, radius),
            key=lambda place: (_cost(place.box, taken, frame), math.hypot(place.dx, place.dy)),
        )
        for place in _candidates(mark, font, radius):
            if _cost(place.box, taken, frame) == 0:
                best = place
                break
        places[index] = best
        taken.append(best.box)
    return places


def text_width(text: str, font: float) -> float:
    """Return about how wide a name is, in pixels."""
    return max(len(text), 1) * font * LETTER_WIDTH


def _hardest_first(marks: Sequence[Mark]) -> list[int]:
    """Return the marks' indices, those in a crowd first: they have the least choice."""

    def room(index: int) -> float:
        mark = marks[index]
        others = (math.hypot(mark.x - other.x, mark.y - other.y) for other in marks if other is not mark)
        return min(others, default=math.inf)

    return sorted(range(len(marks)), key=lambda index: (room(index), index))


def _candidates(mark: Mark, font: float, radius: float) -> list[Place]:
    """Return places for a name round its mark, the nearest first."""
    half_width = text_width(mark.text, font) / 2
    half_height = font * LINE_HEIGHT / 2
    found = []
    for distance in _DISTANCES:
        for angle in _DIRECTIONS:
            across, down = math.cos(math.radians(angle)), -math.sin(math.radians(angle))
            dx = across * (radius + 3 + distance) + _side(across) * half_width
            dy = down * (radius + 2 + distance) + _side(down) * half_height
            box = Box(
                mark.x + dx - half_width,
                mark.y + dy - half_height,
                mark.x + dx + half_width,
                mark.y + dy + half_height,
            )
            found.append(Place(dx, dy, distance > 14, box))
    return found


def _side(share: float) -> float:
    """Return -1, 0 or 1: on which side of its mark a name goes (0 for straight above or beside)."""
    return 0.0 if abs(share) < 0.3 else math.copysign(1.0, share)


def _cost(box: Box, taken: Sequence[Box], frame: Box) -> float:
    return sum(box.overlap(other) for other in taken) + 4 * box.outside(frame)

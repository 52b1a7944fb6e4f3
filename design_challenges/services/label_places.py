"""Finds a place for each name on a chart, so that no two names overlap and none covers a mark."""

from __future__ import annotations

import math
from collections import Counter, deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

# Wide enough for the house's letters, so that a name is never longer than it was thought to be.
LETTER_WIDTH = 0.53
LINE_HEIGHT = 1.3
# Room between two names side by side, in letters: "3" and "5" must not read as 35.
_APART = 0.6
_DIRECTIONS = (0, 180, 90, 270, 35, 145, 325, 215, 62, 118, 298, 242)
_DISTANCES = (0, 12, 26, 44, 66, 92, 122, 156, 196, 240)
_NEAR = 0
# What a place costs besides its distance in px, so that the worse fault is always the dearer one.
_OVER_A_NAME, _OVER_A_MARK, _LINE_OVER_A_NAME, _LINES_CROSS = 100_000, 20_000, 900, 500
_TURNS = 4


@dataclass(frozen=True)
class Box:
    """A rectangle in pixels, y downwards."""

    left: float
    top: float
    right: float
    bottom: float

    def overlaps(self, other: Box) -> bool:
        """Say whether the two have any area in common."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )

    def inside(self, frame: Box) -> bool:
        """Say whether it lies within a frame."""
        return (
            self.left >= frame.left
            and self.right <= frame.right
            and self.top >= frame.top
            and self.bottom <= frame.bottom
        )


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
    start: tuple[float, float]
    end: tuple[float, float]


def place_names(
    marks: Sequence[Mark], width: float, height: float, font: float, radius: float
) -> list[Place | None]:
    """Return a place for each mark's name, None for a mark without one.

    `width` and `height` are the plot's, `font` the size of the letters and `radius`
    that of a mark, all in pixels. Each name takes its cheapest place: near its mark is
    cheap, covering a mark is not. A name that finds none free moves a neighbour, which
    then looks again. Who finds none in the end gets no place: laid over another, both
    would be lost.
    """
    frame = Box(0, 0, width, height)
    spots = [Box(mark.x - radius, mark.y - radius, mark.x + radius, mark.y + radius) for mark in marks]
    choices = {
        index: _free_of_marks(_candidates(mark, font, radius), spots, frame)
        for index, mark in enumerate(marks)
        if mark.text
    }
    placed: dict[int, Place] = {}
    moved: Counter[int] = Counter()
    waiting = deque(sorted(choices, key=lambda index: (len(choices[index]), index)))
    for _turn in range(_TURNS * len(choices)):
        if not waiting:
            break
        index = waiting.popleft()
        place = _cheapest(choices[index], placed, moved)
        for other in [at for at, taken in placed.items() if taken.box.overlaps(place.box)]:
            del placed[other]
            moved[other] += 1
            waiting.append(other)
        placed[index] = place
    # Once more, now that everybody stands: some lines to the marks get shorter.
    for index in list(placed):
        others = {at: place for at, place in placed.items() if at != index}
        placed[index] = _cheapest(choices[index], others, moved)
    return [placed.get(index) for index in range(len(marks))]


def _cheapest(
    choices: Sequence[tuple[float, Place]], others: Mapping[int, Place], moved: Mapping[int, int]
) -> Place:
    best, best_cost = choices[0][1], math.inf
    for cost, place in choices:
        if cost >= best_cost:
            break
        whole = cost + sum(_quarrel(place, other, moved.get(at, 0)) for at, other in others.items())
        if whole < best_cost:
            best, best_cost = place, whole
    return best


def text_width(text: str, font: float) -> float:
    """Return about how wide a name is, in pixels."""
    return max(len(text), 1) * font * LETTER_WIDTH


def _free_of_marks(candidates: list[Place], spots: Sequence[Box], frame: Box) -> list[tuple[float, Place]]:
    """Return the nearest candidates that cover no mark and stay inside, with their costs, cheapest first."""
    judged = [
        (
            math.hypot(place.dx, place.dy)
            + sum(_OVER_A_MARK for spot in spots if place.box.overlaps(spot))
            + (0 if place.box.inside(frame) else _OVER_A_MARK),
            place,
        )
        for place in candidates
    ]
    free = [choice for choice in judged if choice[0] < _OVER_A_MARK]
    return sorted(free or judged, key=lambda choice: choice[0])


def _quarrel(place: Place, other: Place, moved: int) -> float:
    """Return what a place costs because of another name, dearer where that one has moved before."""
    cost = 0.0
    if place.box.overlaps(other.box):
        cost += _OVER_A_NAME * (1 + moved)
    if place.far and _crosses_box(place, other.box):
        cost += _LINE_OVER_A_NAME
    if other.far and _crosses_box(other, place.box):
        cost += _LINE_OVER_A_NAME
    if place.far and other.far and _cross(place, other):
        cost += _LINES_CROSS
    return cost


def _candidates(mark: Mark, font: float, radius: float) -> list[Place]:
    """Return places for a name round its mark, the nearest first."""
    half_width = (text_width(mark.text, font) + _APART * font) / 2
    half_height = font * LINE_HEIGHT / 2
    found = []
    for distance in _DISTANCES:
        for angle in _DIRECTIONS:
            across, down = math.cos(math.radians(angle)), -math.sin(math.radians(angle))
            reach = radius + 2 + distance
            dx = across * reach + _side(across) * half_width
            dy = down * reach + _side(down) * half_height
            x, y = mark.x + dx, mark.y + dy
            box = Box(x - half_width, y - half_height, x + half_width, y + half_height)
            edge = (mark.x + across * reach, mark.y + down * reach)
            found.append(Place(dx, dy, distance > _NEAR, box, (mark.x, mark.y), edge))
    return found


def _side(share: float) -> float:
    """Return -1, 0 or 1: on which side of its mark a name goes (0 for straight above or beside)."""
    return 0.0 if abs(share) < 0.3 else math.copysign(1.0, share)


def _crosses_box(line: Place, box: Box) -> bool:
    """Say whether the line from a mark to its name runs through a box (tried at a few points of it)."""
    (x0, y0), (x1, y1) = line.start, line.end
    if max(x0, x1) < box.left or min(x0, x1) > box.right or max(y0, y1) < box.top or min(y0, y1) > box.bottom:
        return False
    return any(
        box.left < x0 + (x1 - x0) * share < box.right and box.top < y0 + (y1 - y0) * share < box.bottom
        for share in (0.2, 0.35, 0.5, 0.65, 0.8, 0.95)
    )


def _cross(one: Place, other: Place) -> bool:
    """Say whether two such lines cross."""

    def turn(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> float:
        return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])

    a, b, c, d = one.start, one.end, other.start, other.end
    return turn(a, b, c) * turn(a, b, d) < 0 and turn(c, d, a) * turn(c, d, b) < 0

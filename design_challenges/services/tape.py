"""Draws a measuring tape from zero with lengths marked on it: geometry for an SVG, and a sentence; pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from design_challenges.services.lengths import format_with_unit
from design_challenges.services.units import Unit
from design_challenges.words import Words

WIDEST = 380
"""A tape is drawn no wider than this, in CSS pixels: half of a tablet's page, or a phone's."""
EDGE = 2
"""The tape begins so far in, for its outline: its 0 stands under the box's edge."""
MARK_GAP = 6
"""Marks stand at least this far apart, in CSS pixels."""
LEAST_UNIT = 12
LABEL_GAP = 24
TORN = 22
"""Room for the torn ends where the middle of a long tape is left out."""
START_UNITS = 1
TOP, HEIGHT = 32, 84
LONG, MIDDLE, SHORT = 26, 18, 11
OVERHANG = 10
"""How far a tape goes on after its last mark, in CSS pixels."""
ZERO_ASIDE = 7
LARGEST = 1000
LETTER = 9
"""About how wide a letter of a place's words is, in CSS pixels."""
STEPS = (1, 2, 5, 10, 20, 50, 100)


@dataclass(frozen=True)
class Numeral:
    """A number on the tape."""

    x: int
    text: str


@dataclass(frozen=True)
class Place:
    """Where a length lies on the tape, and where its words stand: `anchor` is start, middle or end."""

    x: float
    label_x: float
    anchor: str
    text: str


@dataclass(frozen=True)
class Tape:
    """A drawing in CSS pixels: path data of the tape and its marks, numbers, places, and a sentence.

    The lengths that are marked have their words above the tape; `is_whole` is False where the middle of
    the tape is left out.
    """

    width: int
    height: int
    body: str
    marks: str
    numerals: Sequence[Numeral]
    numerals_y: int
    places: Sequence[Place]
    is_whole: bool
    sentence: Words


@dataclass(frozen=True)
class _Scale:
    """From units to pixels: the start of the tape, and the part round the lengths."""

    per_unit: int
    start: int
    window: tuple[int, int] | None

    def x(self, value: Fraction) -> Fraction:
        if self.window is None or value <= self.start:
            return EDGE + value * self.per_unit
        return EDGE + self.start * self.per_unit + TORN + (value - self.window[0]) * self.per_unit

    def spans(self) -> list[tuple[int, int]]:
        whole = [(0, self.start)]
        return whole if self.window is None else [*whole, self.window]


def draw(values: Sequence[Fraction], unit: Unit, division: Fraction) -> Tape | None:
    """Return the tape with a length or two marked, or with none, or None where that cannot be drawn.

    values      at most two lengths in `unit`, each more than 0 and at most 1000; not further apart than fits
    division    a mark every so many units, from 1/64 to 1

    The tape begins at zero and is as long as there is room, whatever is marked on it. Where a length lies
    beyond that, the tape's middle is left out.
    """
    if (
        len(values) > 2
        or any(not 0 < value <= LARGEST for value in values)
        or not Fraction(1, 64) <= division <= 1
    ):
        return None
    scale = _scale(min(values, default=Fraction(0)), max(values, default=Fraction(0)), division)
    if scale is None:
        return None
    end = ceil(scale.x(Fraction(scale.spans()[-1][1]))) + OVERHANG
    width = end + 1
    return Tape(
        width=width,
        height=HEIGHT,
        body=_body(scale, end),
        marks=" ".join(_marks(scale, division)),
        numerals=list(_numerals(scale)),
        places=_places(sorted(set(values)), scale, unit, division, width),
        numerals_y=TOP + LONG + 17,
        is_whole=scale.window is None,
        sentence=_sentence(values, unit, division),
    )


def _scale(low: Fraction, high: Fraction, division: Fraction) -> _Scale | None:
    per_unit = max(LEAST_UNIT, ceil(MARK_GAP / division))
    room = (WIDEST - EDGE - OVERHANG) // per_unit
    last = floor(high) + 1
    if last <= room:
        return _Scale(per_unit, room, None)
    shown = (WIDEST - EDGE - OVERHANG - TORN) // per_unit - START_UNITS
    first = max(0, floor(low) - 1)
    if last - first > shown:
        return None
    # Whatever room is left shows more of the tape before the length.
    return _Scale(per_unit, START_UNITS, (max(START_UNITS, last - shown), last))


def _body(scale: _Scale, end: int) -> str:
    """The outline of the tape; where its middle is left out, both pieces have a torn edge."""
    deep = HEIGHT - TOP - 1
    if scale.window is None:
        return f"M{EDGE} {TOP}H{end}v{deep}H{EDGE}z"
    left = EDGE + scale.start * scale.per_unit + TORN // 3
    right = left + TORN // 3
    tooth = deep // 4
    tear = f"l4 {tooth}l-6 {tooth}l5 {tooth}l-3 {tooth}"
    back = f"l3 -{tooth}l-5 -{tooth}l6 -{tooth}l-4 -{tooth}"
    bottom = TOP + 4 * tooth
    start = f"M{EDGE} {TOP}H{left}{tear}H{EDGE}z"
    return f"{start}M{end} {TOP}V{bottom}H{right}{back}z"


def _marks(scale: _Scale, division: Fraction) -> Iterable[str]:
    for low, high in scale.spans():
        for count in range(int(low / division), int(high / division) + 1):
            value = count * division
            length = LONG if value.denominator == 1 else MIDDLE if value.denominator == 2 else SHORT
            yield f"M{float(scale.x(value)):g} {TOP}v{length}"


def _numerals(scale: _Scale) -> Iterable[Numeral]:
    step = next(step for step in STEPS if step * scale.per_unit >= LABEL_GAP)
    for low, high in scale.spans():
        for number in range(low, high + 1):
            if number % step == 0:
                # The 0 stands beside its mark, which is the very end of the tape.
                yield Numeral(int(scale.x(Fraction(number))) + (0 if number else ZERO_ASIDE), str(number))


def _places(
    values: Sequence[Fraction], scale: _Scale, unit: Unit, division: Fraction, width: int
) -> list[Place]:
    marked = [(round(float(scale.x(value)), 2), format_with_unit(value, unit, division)) for value in values]
    if not marked:
        return []
    if len(marked) == 1:
        x, text = marked[0]
        half = len(text) * LETTER / 2
        return [Place(x, round(min(max(x, half), width - half), 2), "middle", text)]
    # The words of two lengths stand on either side, so that they do not run into each other.
    (low, low_text), (high, high_text) = marked[0], marked[-1]
    right = round(min(high, width - len(high_text) * LETTER), 2)
    left = round(max(min(low, right - LETTER), len(low_text) * LETTER), 2)
    return [Place(low, left, "end", low_text), Place(high, right, "start", high_text)]


def _sentence(values: Sequence[Fraction], unit: Unit, division: Fraction) -> Words:
    every = format_with_unit(division, unit, division)
    if not values:
        return format_lazy(_("A tape from 0 with a mark every {every}."), every=every)
    if len(values) > 1:
        named = sorted(set(values))
        return format_lazy(
            _("A tape from 0 with a mark every {every}. On it are {lengths}."),
            every=every,
            lengths=", ".join(format_with_unit(value, unit, division) for value in named),
        )
    value = values[0]
    length, whole = format_with_unit(value, unit, division), floor(value)
    marks = (value - whole) / division
    if marks == 0:
        where = format_lazy(_("{length} is at the number {whole}."), length=length, whole=whole)
    elif marks.denominator == 1:
        count = int(marks)
        past = _("{length} is {count} mark past the {whole}.")
        if count > 1:
            past = _("{length} is {count} marks past the {whole}.")
        where = format_lazy(past, length=length, count=count, whole=whole)
    else:
        where = format_lazy(
            _("{length} lies between two marks, past the {whole}."), length=length, whole=whole
        )
    return format_lazy(_("A tape from 0 with a mark every {every}. {where}"), every=every, where=where)

"""Drops as dots on one number line, for the projector: changes, twins, the day, how sure a mean is."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from design_challenges.services.analysis import speech as write
from design_challenges.services.analysis.alike import Twins
from design_challenges.services.analysis.analyse import Analysis
from design_challenges.services.analysis.gather import Build
from design_challenges.services.boards import GUESS_FIRST, shown_figure
from design_challenges.services.covers import covers_of
from design_challenges.services.nice_axis import Axis, round_axis
from design_challenges.services.record_types import ClassRecord, RoundRecord
from design_challenges.services.rounding import format_figure

TEAMS_A_PAGE, TWINS_A_PAGE = 5, 2
LANES = (13.0, 37.0)
"""The middles of the upper and the lower lane of a line, in px from its top; a line is 50 px high."""
NEAR, ASIDE = 1.3, (0.0, 9.0, 4.5, -3.0)
"""Dots nearer than this (in hundredths of the width) go so many px towards the middle of the strip, one after
another, so that each is seen and none leaves it."""
BIG, SMALL = 9, 5
"""The dots' radius in px: of drops, and of the many means that show how a mean wanders."""
COLUMN, PILE_FOOT, PILE_TOP = 1.5, 29.0, 7.0
"""Means within so many hundredths of the width are piled up, from the foot to the top, in px."""


@dataclass(frozen=True)
class Dot:
    """One drop: how far along the line (0 to 100), how far down in px, and whether it is filled."""

    x: float
    y: float
    filled: bool


@dataclass(frozen=True)
class Span:
    """From the first to the last of a lane's dots."""

    left: float
    width: float
    y: float


@dataclass(frozen=True)
class Line:
    """One row: its name, its dots and spans, the numbers said to a screen reader, what is seen, a radius."""

    name: str
    dots: tuple[Dot, ...]
    said: str
    sentences: tuple[str, ...] = ()
    spans: tuple[Span, ...] = ()
    figure: str = ""
    round: int = 0
    radius: int = BIG


@dataclass(frozen=True)
class Tick:
    """A number under the line."""

    x: float
    text: str


@dataclass(frozen=True)
class Pair:
    """Two twins, each on a line of its own, and the sentence about both."""

    lines: tuple[Line, ...]
    sizes: str
    sentence: str


def axis_of(hundredths: Iterable[int]) -> Axis | None:
    """Return one axis in seconds for all of these times; None without any."""
    times = [Fraction(time, 100) for time in hundredths]
    return round_axis(times, steps=6, places=2) if times else None


def ticks_of(axis: Axis | None) -> list[Tick]:
    """Return the axis's numbers with their places along it."""
    if axis is None:
        return []
    return [Tick(100 * axis.share(value), text) for value, text in zip(axis.ticks, axis.texts, strict=True)]


def is_covered(klass: ClassRecord) -> bool:
    """Whether the class is to guess first: the times give the figure away."""
    return covers_of(klass.challenge).figure


def pages_of(count: int, most: int) -> int:
    """Return how many to show on a page, as evenly as pages of at most `most` go."""
    return math.ceil(count / max(1, math.ceil(count / most))) if count else most


# --- each team's change ----------------------------------------------------------------------------------


def change_lines(klass: ClassRecord, found: Analysis, axis: Axis | None) -> list[Line]:
    """Return a line for each team that has dropped in both rounds and worked both out itself."""
    lines = []
    for change in found.children.changes:
        if not _both_shown(klass, change.team_id):
            continue
        if axis is None or covers_of(klass.challenge).team(change.team_id):
            lines.append(Line(change.team, (), "", (str(GUESS_FIRST),)))
            continue
        said = _("Build 1: {first} s. Build 2: {second} s.").format(
            first=_times(change.first), second=_times(change.second)
        )
        sentences = tuple(sentence.text for sentence in found.of(change))
        dots = (*_dots(change.first, axis, 0), *_dots(change.second, axis, 1))
        lines.append(Line(change.team, dots, said, sentences))
    return lines


def change_axis(klass: ClassRecord, found: Analysis) -> Axis | None:
    """Return the axis that every page of the changes has."""
    covers = covers_of(klass.challenge)
    shown = [
        change
        for change in found.children.changes
        if _both_shown(klass, change.team_id) and not covers.team(change.team_id)
    ]
    return axis_of(time for change in shown for time in (*change.first, *change.second))


def _both_shown(klass: ClassRecord, team_id: int) -> bool:
    rounds = klass.team(team_id).rounds
    return all(number in rounds and _is_shown(rounds[number]) for number in (1, 2))


def _is_shown(record: RoundRecord) -> bool:
    return shown_figure(record) is not None


# --- twins -----------------------------------------------------------------------------------------------


def twin_pairs(klass: ClassRecord, found: Analysis) -> tuple[list[Pair], Axis | None]:
    """Return the twins whose figures both teams have worked out, and the axis of all their drops."""
    shown = [
        twins for twins in found.children.twins if all(_may_be_seen(klass, build) for build in _both(twins))
    ]
    axis = axis_of(time for twins in shown for build in _both(twins) for time in build.hundredths)
    if axis is None:
        return [], None
    pairs = []
    for twins in shown:
        sentence = " ".join(said.text for said in found.of(twins))
        lines = tuple(_build_line(klass, build, axis) for build in _both(twins))
        pairs.append(Pair(lines, _sizes(klass, found, twins), sentence))
    return pairs, axis


def _may_be_seen(klass: ClassRecord, build: Build) -> bool:
    return _is_shown(_record(klass, build)) and not covers_of(klass.challenge).team(build.team_id)


def _both(twins: Twins) -> tuple[Build, Build]:
    return twins.first, twins.second


def _build_line(klass: ClassRecord, build: Build, axis: Axis) -> Line:
    record = _record(klass, build)
    figure = shown_figure(record)
    unit = record.performance.unit
    written = "" if figure is None else f"{format_figure(figure, record.performance.places)} {unit}"
    dots = _dots(build.hundredths, axis, build.round - 1, lane=0)
    said = _("{times} s").format(times=_times(build.hundredths))
    return Line(build.team, dots, said, (), (_spread(dots),), written, build.round)


def _spread(dots: Sequence[Dot]) -> Span:
    first, last = min(dot.x for dot in dots), max(dot.x for dot in dots)
    return Span(first, last - first, LANES[1])


def _sizes(klass: ClassRecord, found: Analysis, twins: Twins) -> str:
    """The first twin's sizes, those whose column is not covered."""
    covers = covers_of(klass.challenge)
    return ", ".join(
        f"{found.speech.variables[slug].label} {found.speech.size(slug, size)}"
        for slug, size in twins.first.design.items()
        if not covers.column(slug)
    )


def _record(klass: ClassRecord, build: Build) -> RoundRecord:
    return klass.team(build.team_id).rounds[build.round]


# --- the day, and how sure -------------------------------------------------------------------------------


def day_lines(found: Analysis, readings: dict[str, list[int]]) -> tuple[list[Line], Axis | None]:
    """Return the reference device's drops, a line a day, with what is seen of each later day."""
    axis = axis_of(time for times in readings.values() for time in times)
    if axis is None:
        return [], None
    seen = {
        day.shift.day: tuple(sentence.text for sentence in found.of(day)) for day in found.children.day_shifts
    }
    lines = [
        Line(
            day,
            _dots(times, axis, min(place, 1), lane=0),
            _("{times} s").format(times=_times(times)),
            seen.get(day, ()),
        )
        for place, (day, times) in enumerate(readings.items())
    ]
    return lines, axis


def sure_lines(found: Analysis) -> tuple[list[Line], list[Tick]]:
    """Return means of 1, 2, 3 … drops by the class's own scatter, each a dot round the true mean (0)."""
    wanders = found.children.how_sure.wanders
    widest = max((abs(mean) for wander in wanders for mean in wander.means_s), default=0.0)
    widest = max(widest, *(wander.most_s for wander in wanders)) if wanders else 0.0
    if widest <= 0:
        return [], []
    step = _step(widest / 2)
    reach = 2 * step
    lines = []
    for wander in wanders:
        dots = _piled(sorted(50 + 50 * mean / reach for mean in wander.means_s))
        share = 50 * wander.most_s / reach
        name = ngettext("1 drop", "mean of {n} drops", wander.drops).format(n=wander.drops)
        said = _("19 times out of 20 within {most}").format(most=write.seconds(wander.most_s))
        span = Span(50 - share, 2 * share, LANES[1])
        figure = f"± {write.plain(wander.most_s, 2)} s"
        lines.append(Line(name, tuple(dots), said, (), (span,), figure, radius=SMALL))
    ticks = [
        Tick(50 + 25 * place, ("+" if place > 0 else "") + write.plain(step * place, 2))
        for place in (-2, -1, 0, 1, 2)
    ]
    return lines, ticks


def _step(least: float) -> float:
    """Return a round step in whole hundredths, at least so large: 0.01, 0.02, 0.05, 0.1 …"""
    power = 0.01
    while True:
        for count in (1, 2, 5):
            if count * power >= least:
                return count * power
        power *= 10


# --- dots ------------------------------------------------------------------------------------------------


def _dots(
    times: Sequence[int], axis: Axis, lane_or_round: int, *, lane: int | None = None
) -> tuple[Dot, ...]:
    """Return the dots of one build: hollow for the first round, filled from the second on."""
    where = lane_or_round if lane is None else lane
    along = sorted(100 * axis.share(time / 100) for time in times)
    return tuple(_apart(along, where, filled=lane_or_round > 0))


def _apart(along: Sequence[float], lane: int, *, filled: bool) -> list[Dot]:
    """Set dots that would hide one another aside in turn, towards the middle of the strip."""
    inward = -1 if lane else 1
    dots: list[Dot] = []
    turn = 0
    for place, x in enumerate(along):
        turn = turn + 1 if place and x - along[place - 1] < NEAR else 0
        dots.append(Dot(round(x, 2), LANES[lane] + inward * ASIDE[turn % len(ASIDE)], filled))
    return dots


def _piled(along: Sequence[float]) -> list[Dot]:
    """Pile the dots of a column upon one another, closer where they are many."""
    dots: list[Dot] = []
    for _column, found in groupby(along, key=lambda x: round(x / COLUMN)):
        pile = list(found)
        step = min(2.0 * SMALL, (PILE_FOOT - PILE_TOP) / max(1, len(pile) - 1))
        dots += [Dot(round(x, 2), round(PILE_FOOT - step * place, 1), True) for place, x in enumerate(pile)]
    return dots


def _times(times: Sequence[int]) -> str:
    return ", ".join(write.plain(time / 100, 2) for time in times)

"""Reading a fall time as it stands on a stopwatch, and asking about times that can hardly be."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from design_challenges.kinds.base import Kind, Values
from design_challenges.services.numbers import InputError, decimal_places, read_plain
from design_challenges.services.rounding import format_figure
from design_challenges.services.statistics import median
from design_challenges.services.working import SumContext
from design_challenges.words import Words

STOPWATCH_PLACES = 2
LONG_S = Decimal(60)
TWICE = Fraction(2)
"""A time that differs from the team's others by more than this ratio is asked about."""
NEARLY = Fraction(4, 3)
"""Where the point was lost, the time with its point differs from the others by no more than this."""
LONGEST_S = Decimal(600)
"""Nothing dropped indoors falls for ten minutes: more than that is a slip of the finger."""

_UNIT = re.compile(r"\s*(?:s|sec|secs|second|seconds)\.?$", re.IGNORECASE)
_CLOCK = re.compile(r"(?:(\d{1,2}):)?(\d{1,2}):(\d{1,2})(?:[.,](\d{1,2}))?")


def parse_stopwatch(text: str) -> int:
    """Return the fall time that was typed, in whole hundredths of a second (1 to 60 000).

    `4.6` is 460, `1,5` and `1.5` are both 150, an `s` behind the number is welcome. Raises
    InputError for everything else: nothing, letters, signs, zero, a third digit after the
    point, minutes and seconds with a colon (which can be read in two ways, so it is asked about).
    """
    typed = _UNIT.sub("", text.strip())
    if not typed:
        raise InputError("empty", _("Type the time from the stopwatch, like 4.62."))
    if clock := _CLOCK.fullmatch(typed):
        raise InputError("clock", _ask_about_clock(clock))
    if typed[0] in "-−–—":
        raise InputError("sign", _("A time has no minus in front. Type it without."))
    value = _read(typed)
    if value == 0:
        raise InputError("zero", _("That is 0. Look at the stopwatch again and type what it shows."))
    if decimal_places(value) > STOPWATCH_PLACES:
        raise InputError("places", _("A stopwatch shows two digits after the point. Type just those two."))
    if value > LONGEST_S:
        raise InputError(
            "too_large",
            format_lazy(
                _("That is more than ten minutes. Is the point missing, as in {guess}?"),
                guess=_with_point(value),
            ),
        )
    return int(value.scaleb(STOPWATCH_PLACES))


def _read(typed: str) -> Decimal:
    whole, comma, part = typed.partition(",")
    if comma and whole.isascii() and whole.isdigit() and part.isascii() and part.isdigit():
        # No thousands on a stopwatch: a comma is always the decimal one here.
        typed = f"{whole}.{part}"
    try:
        return read_plain(typed)
    except InputError as error:
        if error.code == "unreadable":
            raise InputError(
                error.code, _("Type just the number from the stopwatch, like 4.62. No letters.")
            ) from None
        raise


def _ask_about_clock(clock: re.Match[str]) -> Words:
    """Return the question about 0:04, 4:62, 1:04.62 or 00:04:62: which seconds are meant?"""
    first, middle, last, part = clock.groups()
    if first is not None or part is not None:
        # 00:04:62 is a phone's minutes, seconds and hundredths; 1:04.62 says so itself.
        minutes, seconds = (first, f"{middle}.{last}") if first is not None else (middle, f"{last}.{part}")
        total = int(minutes) * 60 + Decimal(seconds)
        return format_lazy(_("Do you mean {seconds} seconds? Type it like that."), seconds=f"{total:f}")
    minutes_and_seconds = int(middle) * 60 + int(last)
    hundredths = Decimal(f"{int(middle)}.{last:0>2}")
    if int(last) >= LONG_S:
        return format_lazy(_("Do you mean {seconds} seconds? Type it like that."), seconds=f"{hundredths:f}")
    return format_lazy(
        _("Do you mean {hundredths} seconds, or {seconds} seconds? Type the one you mean."),
        hundredths=f"{hundredths:f}",
        seconds=minutes_and_seconds,
    )


def _with_point(value: Decimal) -> str:
    digits = "".join(str(digit) for digit in value.as_tuple().digits)
    return f"{digits[0]}.{digits[1:3]:0<2}"


def seconds_of(hundredths: int) -> Decimal:
    """Return whole hundredths as seconds with two digits after the point."""
    return Decimal(hundredths).scaleb(-STOPWATCH_PLACES)


def check_rounds_to_something(kind: Kind, values: Values, seconds: Decimal) -> None:
    """Raise InputError where the time would be 0 at the class's place: no sum can divide by it."""
    context = SumContext(settings=values, readings=(seconds,), trials=(1,))
    if kind.rounding_step(values, 1).right(context).highest == 0:
        raise InputError(
            "rounds_to_zero",
            _("Your class would round that to 0. Look at the stopwatch again and type what it shows."),
        )


def question_about(kind: Kind, values: Values, seconds: Decimal, others: Sequence[Decimal] = ()) -> Words:
    """Return what to ask about a time that can hardly be, or "".

    Faster than can be, over a minute, or more than twice or less than half of `others`: the team's other
    times in s of the same build, of drops that opened.
    """
    fastest = kind.fastest_possible_s(values)
    if seconds < Decimal(repr(fastest)):
        return format_lazy(
            _("A dropped stone takes about {fastest} s here. Did it open? Was the watch late?"),
            fastest=format_figure(Decimal(repr(fastest)), 1),
        )
    if seconds > LONG_S:
        return format_lazy(
            _("That is more than a minute. Is the point missing, as in {guess}?"), guess=_with_point(seconds)
        )
    return _question_beside(seconds, others) if others else ""


def _question_beside(seconds: Decimal, others: Sequence[Decimal]) -> Words:
    """Return what to ask about a time beside the team's others, or "" where it is like them."""
    usual = median(others)
    if not _is_far(seconds, usual, TWICE):
        return ""
    for guess in (seconds / 10, seconds * 10):
        if not _is_far(guess, usual, NEARLY):
            return format_lazy(
                _("Your other times are about {usual} s. Is the point in its place, as in {guess}?"),
                usual=format_figure(usual, 1),
                guess=format_figure(guess, STOPWATCH_PLACES),
            )
    if seconds < usual:
        return _("That is less than half of your other times. Did it open?")
    return _("That is more than twice your other times. Did it open? Was the watch stopped late?")


def _is_far(seconds: Decimal, usual: Fraction, ratio: Fraction) -> bool:
    return seconds > ratio * usual or ratio * Fraction(seconds) < usual

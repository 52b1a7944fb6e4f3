"""Slips that any sum can have: cut, rounded the wrong way or place, point lost, digits swapped."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from decimal import Decimal
from fractions import Fraction

from django.utils.translation import gettext_lazy as _

from .numbers import decimal_places
from .rounding import cut, round_half_up, shortest
from .working import Number, Right, Slip, SumContext

Exact = Callable[[SumContext], Iterable[Fraction]]
"""The right answers of a step before rounding (several where several values of π are allowed)."""


def _digit(exact: Fraction, places: int) -> int:
    """The digit at a decimal place: of 4.67 the one at 1 is 6, at 2 is 7."""
    return int(cut(exact * Fraction(10) ** places, 0)) % 10


def rounded_answers(exact: Iterable[Fraction], places: int) -> Right:
    """Right from the smallest to the largest of these answers after rounding half-up."""
    rounded = [round_half_up(value, places) for value in exact]
    return Right(min(rounded), max(rounded), places)


def rounding_slips(exact: Exact, places: int) -> tuple[Slip, ...]:
    """The slips of rounding `exact` to `places`; each applies only where it makes a difference."""

    def a_five_down(context: SumContext) -> Iterator[Decimal]:
        for value in exact(context):
            # Cutting does the same here: with a five to look at, the five is the thing to say.
            if _digit(value, places + 1) == 5:
                yield cut(value, places)

    def cut_off(context: SumContext) -> Iterator[Decimal]:
        for value in exact(context):
            if _digit(value, places + 1) > 5:
                yield cut(value, places)

    def always_up(context: SumContext) -> Iterator[Decimal]:
        for value in exact(context):
            if _digit(value, places + 1) < 5 and cut(value, places) != value:
                yield cut(value, places) + Decimal(1).scaleb(-places)

    def too_few_digits(context: SumContext) -> Iterator[Decimal]:
        for value in exact(context):
            yield from (round_half_up(value, fewer) for fewer in range(min(0, places - 1), places))

    return (
        Slip(
            "not_rounded",
            exact,
            _("Good sum. Now round it to the place your class uses."),
            _("I typed every digit I saw"),
            _("not rounding"),
        ),
        Slip(
            "cut",
            cut_off,
            _("You cut the extra digits off. Look at the next digit: five or more?"),
            _("I left the last digits off"),
            _("cutting digits off instead of rounding"),
            family="rounded_down",
        ),
        Slip(
            "five_down",
            a_five_down,
            _("Look at the next digit. It is a five. Which way does a five go?"),
            _("I rounded a five down"),
            _("rounding a five down"),
            family="rounded_down",
        ),
        Slip(
            "always_up",
            always_up,
            _("Look at the next digit. Is it big enough to round up?"),
            _("I rounded up"),
            _("rounding up where it goes down"),
        ),
        Slip(
            "wrong_place",
            too_few_digits,
            _("You rounded too far. Keep more digits, the way your class does."),
            _("I kept fewer digits"),
            _("rounding to too few digits"),
        ),
    )


def writing_slips(exact: Exact, places: int | None) -> tuple[Slip, ...]:
    """The slips of writing a right answer down: its point lost, two digits swapped."""

    def written(context: SumContext) -> Iterator[Decimal]:
        for value in exact(context):
            yield shortest(value, 2) if places is None else round_half_up(value, places)

    def point_lost(context: SumContext) -> Iterator[Number]:
        for value in written(context):
            digits = value.as_tuple().digits
            if value != value.to_integral_value() or (places or 0) > 0:
                yield int("".join(str(digit) for digit in digits))

    def swapped(context: SumContext) -> Iterator[Decimal]:
        for value in written(context):
            yield from _swaps(value)

    return (
        Slip(
            "point_lost",
            point_lost,
            _("Where is the point? About how big should it be?"),
            _("I left out the point"),
            _("losing the point"),
        ),
        Slip(
            "digits_swapped",
            swapped,
            _("Check your digits. Are they in the right order?"),
            _("I mixed up two digits"),
            _("swapping two digits"),
        ),
    )


def _swaps(value: Decimal) -> Iterator[Decimal]:
    """The number with two neighbouring digits swapped, each way that changes it."""
    digits, places = list(value.as_tuple().digits), decimal_places(value)
    for place in range(len(digits) - 1):
        if digits[place] != digits[place + 1]:
            other = digits.copy()
            other[place], other[place + 1] = other[place + 1], other[place]
            yield Decimal((0, tuple(other), -places))

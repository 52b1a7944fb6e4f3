"""Half-up rounding of exact numbers: the one rounding behind every figure on a screen or in a file."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

_TYPE_ERROR = "Round exact numbers only (Decimal, Fraction or int), never a float: {!r}"


def as_fraction(value: Decimal | Fraction | int) -> Fraction:
    """The same number as a Fraction, exactly.

    Raises TypeError for a float or a bool, and ValueError for a Decimal that is not finite.
    """
    check_exact(value)
    return Fraction(value)


def check_exact(value: Decimal | Fraction | int) -> None:
    """Raise TypeError for a float or a bool, and ValueError for a Decimal that is not finite."""
    if isinstance(value, bool) or not isinstance(value, (Decimal, Fraction, int)):
        raise TypeError(_TYPE_ERROR.format(value))
    if isinstance(value, Decimal) and not value.is_finite():
        raise ValueError(f"Not a finite number: {value}")


def _scaled(value: Decimal | Fraction | int, places: int) -> tuple[int, int]:
    """The number times ten to the `places`, as a numerator and a denominator above 0."""
    check_exact(value)
    top, bottom = value.as_integer_ratio()
    # Whole numbers, because a Fraction made for every rounding is what a check of a sum would wait for.
    return (top * 10**places, bottom) if places >= 0 else (top, bottom * 10**-places)


def _decimal(steps: int, places: int) -> Decimal:
    if places <= 0:
        return Decimal(steps * 10**-places)
    # The constructor is exact; scaleb() and quantize() would obey the context's 28 digits.
    return Decimal(f"{steps}E-{places}")


def round_half_up(value: Decimal | Fraction | int, places: int) -> Decimal:
    """Round to `places` decimal places, a tie going away from zero, without ever passing through a float.

    `places` may be 0 (whole numbers) or negative (-1 rounds to tens). The result carries exactly
    `places` digits after the point, so that 4.6 to two places prints as 4.60, and is never -0.
    The rule is IEEE 754 roundTiesToAway, which for positive numbers is rule B of ISO 80000-1, annex B.

    Raises TypeError for a float, ValueError for a Decimal that is not finite.
    """
    top, bottom = _scaled(value, places)
    steps = (2 * abs(top) + bottom) // (2 * bottom)
    return _decimal(-steps if top < 0 else steps, places)


def rounds_to(value: Decimal | Fraction | int, places: int, rounded: Decimal) -> bool:
    """Whether `round_half_up(value, places)` is `rounded`; quicker, for one answer held against many numbers.

    Raises as `round_half_up` does.
    """
    top, bottom = _scaled(value, places)
    steps = (2 * abs(top) + bottom) // (2 * bottom)
    told, parts = rounded.as_integer_ratio()
    return (-steps if top < 0 else steps) * parts == told * 10**places


def cut(value: Decimal | Fraction | int, places: int) -> Decimal:
    """The number with the digits after `places` cut off, as a child does who forgets to round (toward zero).

    Raises as `round_half_up` does.
    """
    top, bottom = _scaled(value, places)
    steps = abs(top) // bottom
    return _decimal(-steps if top < 0 else steps, places)


def shortest(value: Decimal | Fraction | int, most_places: int) -> Decimal:
    """The number rounded half-up to `most_places`, without zeros at the end of its decimals and no exponent.

    Raises as `round_half_up` does.
    """
    rounded = round_half_up(value, most_places).normalize()
    return Decimal(f"{rounded:f}")


def format_display(value: Decimal | Fraction | int, places: int) -> str:
    """The number as a calculator shows it: cut after `places` digits, with … where more would follow.

    Raises as `round_half_up` does.
    """
    shown = cut(value, places)
    if Fraction(shown) != as_fraction(value):
        return f"{shown:f}…"
    return f"{shown:f}".rstrip("0").rstrip(".") if places > 0 else f"{shown:f}"


def format_figure(value: Decimal | Fraction | int, places: int) -> str:
    """The number rounded half-up and written out with exactly `places` decimals: '4.60', never '4.6E+0'.

    Raises as `round_half_up` does.
    """
    return f"{round_half_up(value, places):f}"

"""The whole chain worked out a second time, on decimals alone, to hold pages and files against."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Context, Decimal

WORK = Context(prec=60, rounding=ROUND_HALF_UP)
PI = Decimal("3.14159265358979323846264338327950288419716939937510")
PIS = {"3.14": Decimal("3.14"), "22/7": WORK.divide(Decimal(22), Decimal(7)), "key": PI}


def rounded(value: Decimal, places: int) -> Decimal:
    """Round half-up to places."""
    return value.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP, context=WORK)


def read(text: str) -> Decimal:
    """Read a length as a child wrote it: `6 1/2`, `6,5` and `6.5` are the same."""
    total = Decimal(0)
    for part in text.replace(",", ".").split():
        top, slash, bottom = part.partition("/")
        total += WORK.divide(Decimal(top), Decimal(bottom)) if slash else Decimal(part)
    return total


def nearest_mark(length: Decimal, marks_a_unit: int) -> Decimal:
    """Return the mark of the tape that a length lies nearest to, half a division going up."""
    marks = (length * marks_a_unit).to_integral_value(ROUND_HALF_UP)
    return WORK.divide(marks, Decimal(marks_a_unit))


def mean(values: Sequence[Decimal]) -> Decimal:
    return WORK.divide(sum(values, Decimal(0)), Decimal(len(values)))


def middle(values: Sequence[Decimal]) -> Decimal:
    """Return the middle one; of an even number half way between the two in the middle."""
    ordered = sorted(values)
    half = len(ordered) // 2
    return ordered[half] if len(ordered) % 2 else mean(ordered[half - 1 : half + 1])


def area(radius: Decimal, places: int, pi: str = "key") -> Decimal:
    return rounded(WORK.multiply(PIS[pi], WORK.multiply(radius, radius)), places)


def as_number(value: Decimal) -> str:
    """Return a number in plain digits without zeros at the end of its decimals."""
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text

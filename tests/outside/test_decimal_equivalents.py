"""The common fractions of an inch in decimals and in millimetres, against the shop table of equivalents.

Source: the decimal-equivalents table that tap and drill charts and machinists' handbooks print (fractions of
an inch, decimal inches, millimetres). Rows were read in copies of it on the web (machinecalcs.com, decimal to
fraction chart; utilitiesbunker.com, fraction to decimal chart), which agree but for the last place of ties:
no standards body's own print was at hand. That an inch is 25.4 mm exactly is NIST Handbook 44, appendix C,
from memory.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from design_challenges.services.lengths import format_length, parse_length
from design_challenges.services.units import INCH, MILLIMETRE

SIXTEENTHS = [
    ("1/16", "0.0625", "1.5875"),
    ("1/8", "0.125", "3.1750"),
    ("3/16", "0.1875", "4.7625"),
    ("1/4", "0.25", "6.3500"),
    ("5/16", "0.3125", "7.9375"),
    ("3/8", "0.375", "9.5250"),
    ("7/16", "0.4375", "11.1125"),
    ("1/2", "0.5", "12.7000"),
    ("9/16", "0.5625", "14.2875"),
    ("5/8", "0.625", "15.8750"),
    ("11/16", "0.6875", "17.4625"),
    ("3/4", "0.75", "19.0500"),
    ("13/16", "0.8125", "20.6375"),
    ("7/8", "0.875", "22.2250"),
    ("15/16", "0.9375", "23.8125"),
]
FINER = [("1/32", "0.03125", "0.79375"), ("1/64", "0.015625", "0.396875"), ("63/64", "0.984375", "25.003125")]


@pytest.mark.parametrize(("fraction", "decimal", "millimetres"), [*SIXTEENTHS, *FINER])
def test_a_fraction_its_decimal_and_its_millimetres_are_one_length(
    fraction: str, decimal: str, millimetres: str
) -> None:
    as_fraction, as_decimal = parse_length(fraction, INCH), parse_length(decimal, INCH)
    assert as_fraction.value == as_decimal.value == Fraction(Decimal(decimal))
    assert as_fraction.in_unit(MILLIMETRE) == Fraction(Decimal(millimetres))
    assert parse_length(f"{millimetres} mm", INCH).in_unit(INCH) == as_fraction.value
    assert format_length(as_decimal.value, INCH, Fraction(1, 64)) == fraction
    # A table's row holds for every inch of the tape.
    assert parse_length(f"13 {fraction}", INCH).value == 13 + as_decimal.value


def test_an_inch_is_exactly_25_4_millimetres() -> None:
    assert parse_length("1 in", INCH).in_unit(MILLIMETRE) == Fraction("25.4")

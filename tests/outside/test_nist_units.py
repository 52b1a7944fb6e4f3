"""Unit factors and standard gravity against NIST.

Sources: NIST Special Publication 811 (2008 edition), appendix B, factors in bold and therefore exact:
foot to metre 3.048 E−01, inch to metre 2.54 E−02, inch to centimetre 2.54 E+00, inch to millimetre 2.54 E+01,
foot per second to metre per second 3.048 E−01, square inch to square centimetre 6.4516 E+00,
standard acceleration of free fall 9.806 65 E+00 m/s². The foot was read in the copy of appendix B at
physics.nist.gov; the others are quoted from memory of the same table.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from design_challenges.services.units import (
    CENTIMETRE,
    FOOT,
    G_N,
    INCH,
    METRE,
    METRIC,
    MILLIMETRE,
    US,
    Unit,
    area_m2,
    convert,
    convert_speed,
)


@pytest.mark.parametrize(
    ("from_unit", "to_unit", "factor"),
    [
        (FOOT, METRE, "3.048E-1"),
        (INCH, METRE, "2.54E-2"),
        (INCH, CENTIMETRE, "2.54"),
        (INCH, MILLIMETRE, "25.4"),
        (FOOT, INCH, "12"),
        (CENTIMETRE, METRE, "0.01"),
        (MILLIMETRE, CENTIMETRE, "0.1"),
    ],
)
def test_a_length_factor_is_nists_exactly(from_unit: Unit, to_unit: Unit, factor: str) -> None:
    assert convert(Fraction(1), from_unit, to_unit) == Fraction(factor)


def test_a_foot_per_second_is_nists_exactly() -> None:
    assert convert_speed(Fraction(1), US, METRIC) == Fraction("0.3048")


def test_a_square_inch_is_nists_exactly() -> None:
    assert area_m2(Fraction(1), INCH) / area_m2(Fraction(1), CENTIMETRE) == Fraction("6.4516")


def test_standard_gravity_is_nists_exactly() -> None:
    assert Fraction("9.80665") == G_N


def test_ten_metres_in_feet_rounds_to_nists_reciprocal() -> None:
    # SP 811, B.9: 1 ft = 0.3048 m, so 10 m is 32.808 399 ft to eight digits.
    assert round(float(convert(Fraction(10), METRE, FOOT)), 6) == 32.808399

"""Units and measuring systems: conversions are exact both ways."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from design_challenges.services.units import (
    CENTIMETRE,
    FOOT,
    INCH,
    METRIC,
    SYSTEMS,
    UNITS,
    US,
    Unit,
    area_m2,
    convert,
    convert_speed,
    speed_m_s,
)

units = st.sampled_from(list(UNITS.values()))
values = st.fractions(min_value=0, max_value=10_000, max_denominator=1_000)


@given(values, units, units)
def test_there_and_back_is_the_same_value(value: Fraction, one: Unit, other: Unit) -> None:
    assert convert(convert(value, one, other), other, one) == value


@given(values, units, units, units)
def test_a_way_round_is_the_straight_way(value: Fraction, one: Unit, over: Unit, other: Unit) -> None:
    assert convert(convert(value, one, over), over, other) == convert(value, one, other)


@given(values)
def test_speeds_convert_both_ways(value: Fraction) -> None:
    assert convert_speed(convert_speed(value, US, METRIC), METRIC, US) == value


def test_a_foot_is_twelve_inches() -> None:
    assert convert(Fraction(1), FOOT, INCH) == 12


def test_an_area_converts_by_the_square() -> None:
    assert area_m2(Fraction(10_000), CENTIMETRE) == 1


def test_a_class_measures_the_device_in_one_unit_and_the_drop_in_another() -> None:
    assert (SYSTEMS["us"].length, SYSTEMS["us"].height) == (INCH, FOOT)
    assert SYSTEMS["metric"].length == CENTIMETRE
    assert speed_m_s(Fraction(10), US) == Fraction("3.048")

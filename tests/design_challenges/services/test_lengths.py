"""Lengths as children write them: every form reads, nothing is guessed, what is printed reads back equal."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from design_challenges.services.lengths import (
    Length,
    check_length,
    format_length,
    format_with_unit,
    parse_length,
)
from design_challenges.services.numbers import InputError
from design_challenges.services.units import CENTIMETRE, FOOT, INCH, METRE, MILLIMETRE, UNITS, Unit


@pytest.mark.parametrize(
    ("typed", "value", "unit", "division"),
    [
        ("13.5", "13.5", INCH, "1/10"),
        ("13 1/2", "13.5", INCH, "1/2"),
        ("13-1/2", "13.5", INCH, "1/2"),
        ("13\u20131/2", "13.5", INCH, "1/2"),
        ("13½", "13.5", INCH, "1/2"),
        ("13 ½ in", "13.5", INCH, "1/2"),
        ("13 1⁄2", "13.5", INCH, "1/2"),
        ("1/2", "1/2", INCH, "1/2"),
        ("¾", "3/4", INCH, "1/4"),
        ("3/2", "3/2", INCH, "1/2"),
        ("13 in", "13", INCH, "1"),
        ("13 Inches", "13", INCH, "1"),
        ("13in.", "13", INCH, "1"),
        ('13"', "13", INCH, "1"),
        ("13”", "13", INCH, "1"),
        ("13 1/4″", "13.25", INCH, "1/4"),
        ("13''", "13", INCH, "1"),
        ("1 ft 2 in", "14", INCH, "1"),
        ("1ft2in", "14", INCH, "1"),
        ("1' 2\"", "14", INCH, "1"),
        ("1’2”", "14", INCH, "1"),
        ("1 ft 2 1/2 in", "14.5", INCH, "1/2"),
        ("1.5 ft", "1.5", FOOT, "1/10"),
        ("34,3 cm", "34.3", CENTIMETRE, "1/10"),
        ("343 mm", "343", MILLIMETRE, "1"),
        ("0.343 m", "0.343", METRE, "1/1000"),
        ("0,343 m", "0.343", METRE, "1/1000"),
        ("1 m 20 cm", "120", CENTIMETRE, "1"),
        ("1 m 20 cm 5 mm", "1205", MILLIMETRE, "1"),
        ("  7  ", "7", INCH, "1"),
    ],
)
def test_it_reads(typed: str, value: str, unit: Unit, division: str) -> None:
    length = parse_length(typed, INCH)
    assert length == Length(Fraction(value), unit, typed, Fraction(division))


def test_the_unit_left_out_is_the_classes_own() -> None:
    assert parse_length("34.3", CENTIMETRE).unit == CENTIMETRE


@pytest.mark.parametrize(
    ("typed", "code"),
    [
        ("", "empty"),
        ("   ", "empty"),
        ("long", "unreadable"),
        ("12..5", "separators"),
        ("12 apples", "unit"),
        ("12 yd", "unit"),
        ("-3", "sign"),
        ("1 ft -2 in", "sign"),
        ("13 - 1/2", "unreadable"),
        ("5 5", "unreadable"),
        ("13 1/2 1/4", "unreadable"),
        ("13.5 1/2", "two_parts"),
        ("1.5 ft 2 in", "two_parts"),
        ("13 3/2", "fraction"),
        ("13 0/2", "fraction"),
        ("1/0", "denominator"),
        ("1/4096", "denominator"),
        ("1/2/3", "unreadable"),
        ("13.", "unfinished"),
        ("1,234", "thousands"),
        ("1,234 mm", "thousands"),
        ("131/2", "fraction_space"),
        ("11/2", "fraction_space"),
        ("1 ft 2", "unit_missing"),
        ("2 in 1 ft", "unit_order"),
        ("1 ft 2 cm", "unit_order"),
        ("5 in in", "unreadable"),
        ("1e5", "unit"),
        ("NaN", "unreadable"),
        ("٣", "unreadable"),
        ("5²", "unreadable"),
        ("9" * 41, "too_long"),
        ("½" * 500_000, "too_long"),
    ],
)
def test_it_refuses_and_says_how_to_mend_it(typed: str, code: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_length(typed, INCH)
    assert caught.value.code == code
    assert len(str(caught.value.message)) < 100


def test_it_says_what_it_could_not_read_and_where() -> None:
    with pytest.raises(InputError) as caught:
        parse_length("13 ?? in", INCH)
    assert caught.value.position == 3
    assert "“13”" in str(caught.value.message)
    assert "“?? in”" in str(caught.value.message)


def test_a_fraction_without_its_space_is_asked_about_with_both_readings() -> None:
    with pytest.raises(InputError) as caught:
        parse_length("131/2", INCH)
    assert "13 1/2" in str(caught.value.message)
    assert "65 1/2" in str(caught.value.message)


def test_a_value_between_two_marks_of_the_tape_asks_for_the_mark() -> None:
    quarter = Fraction(1, 4)
    assert parse_length("13.25", INCH, division=quarter).value == Fraction("13.25")
    with pytest.raises(InputError) as caught:
        parse_length("13.2", INCH, division=quarter)
    assert caught.value.code == "off_mark"
    assert "13.2" in str(caught.value.message)
    assert "13 1/4" in str(caught.value.message)


def test_another_unit_than_the_tapes_is_not_held_against_its_marks() -> None:
    assert parse_length("343 mm", CENTIMETRE, division=Fraction(1, 2)).value == 343


def test_bounds_are_allowed_themselves() -> None:
    length = parse_length("13 1/2", INCH)
    check_length(length, Fraction("13.5"), Fraction(40))
    check_length(length, Fraction(1), Fraction("13.5"))
    check_length(length, Fraction("34.29"), Fraction("34.29"), CENTIMETRE)


@pytest.mark.parametrize(
    ("typed", "code"), [("0", "zero"), ("0 in", "zero"), ("1/8", "too_small"), ("1000 in", "too_large")]
)
def test_a_length_out_of_bounds_is_refused(typed: str, code: str) -> None:
    with pytest.raises(InputError) as caught:
        check_length(parse_length(typed, INCH), Fraction(1), Fraction(40))
    assert caught.value.code == code


def test_bounds_hold_in_the_unit_they_are_given_in() -> None:
    with pytest.raises(InputError, match="40 in"):
        check_length(parse_length("2 m", INCH), Fraction(1), Fraction(40), INCH)


@pytest.mark.parametrize(
    ("value", "unit", "division", "printed"),
    [
        ("27/2", INCH, "1/2", "13 1/2"),
        ("27/2", INCH, "1/4", "13 1/2"),
        ("27/2", INCH, "1", "13 1/2"),
        ("27/2", INCH, "1/10", "13.5"),
        ("66/5", INCH, "1/4", "13.2"),
        ("1/2", INCH, "1/4", "1/2"),
        ("0", INCH, "1/4", "0"),
        ("14", INCH, "1/4", "14"),
        ("5/4", FOOT, "1/4", "1 1/4"),
        ("69/2", CENTIMETRE, "1/2", "34.5"),
        ("34", CENTIMETRE, "1/10", "34"),
        ("1/3", CENTIMETRE, "1/10", "1/3"),
        ("343/1000", METRE, "1/1000", "0.343"),
    ],
)
def test_it_prints_as_the_tape_reads(value: str, unit: Unit, division: str, printed: str) -> None:
    assert format_length(Fraction(value), unit, Fraction(division)) == printed


def test_the_unit_stays_on_the_line_of_its_number() -> None:
    assert format_with_unit(Fraction(27, 2), INCH, Fraction(1, 4)) == "13 1/2\u00a0in"


def test_a_negative_length_cannot_be_printed() -> None:
    with pytest.raises(ValueError, match="negative"):
        format_length(Fraction(-1), INCH, Fraction(1))


def assert_says_something(error: InputError) -> None:
    assert 0 < len(str(error.message)) < 120


units = st.sampled_from(list(UNITS.values()))
divisions = st.sampled_from([Fraction(1, n) for n in (1, 2, 3, 4, 5, 8, 10, 16, 20, 32, 64, 100)])


@given(st.integers(min_value=0, max_value=200_000), divisions, divisions, units)
def test_what_is_printed_reads_back_equal(steps: int, step: Fraction, division: Fraction, unit: Unit) -> None:
    value = steps * step
    for printed in (format_length(value, unit, division), format_with_unit(value, unit, division)):
        assert parse_length(printed, unit).value == value
        assert parse_length(printed, unit).unit == unit


@given(st.text(alphabet="0123456789.,/-½¼ ⁄'\"ftincmm", max_size=20), units)
def test_what_reads_prints_and_reads_back_equal(typed: str, unit: Unit) -> None:
    try:
        length = parse_length(typed, unit)
    except InputError as error:
        assert_says_something(error)
        return
    again = parse_length(format_length(length.value, length.unit, length.division), length.unit)
    assert again.value == length.value


@given(st.text(max_size=60))
def test_nothing_crashes_it(typed: str) -> None:
    try:
        length = parse_length(typed, INCH)
    except InputError as error:
        assert_says_something(error)
    else:
        assert length.value >= 0
        assert length.division > 0

"""Plain numbers as children type them."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from design_challenges.services.numbers import InputError, parse_decimal


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        ("1.5", "1.5"),
        ("1,5", "1.5"),
        ("  4.60 ", "4.60"),
        (" 7\n", "7"),
        (".5", "0.5"),
        (",5", "0.5"),
        ("0,125", "0.125"),
        ("1,23", "1.23"),
        ("1.234", "1.234"),
        ("1234,567", "1234.567"),
        ("007", "7"),
    ],
)
def test_it_reads(typed: str, value: str) -> None:
    assert parse_decimal(typed) == Decimal(value)


def test_a_typed_zero_at_the_end_is_kept() -> None:
    assert str(parse_decimal("4.60")) == "4.60"


@pytest.mark.parametrize(
    ("typed", "code"),
    [
        ("", "empty"),
        ("   ", "empty"),
        ("four", "unreadable"),
        ("4.6s", "unreadable"),
        ("4 6", "unreadable"),
        ("4:60", "unreadable"),
        ("NaN", "unreadable"),
        ("Infinity", "unreadable"),
        ("1_000", "unreadable"),
        ("\uff14.\uff16", "unreadable"),
        ("٤", "unreadable"),
        ("\u00b2", "unreadable"),
        ("4\x006", "unreadable"),
        ("-4.6", "sign"),
        ("−4.6", "sign"),
        ("+4.6", "sign"),
        ("1e3", "exponent"),
        ("1.5E-2", "exponent"),
        ("1.2.3", "separators"),
        ("1,234,567", "separators"),
        ("1.234,5", "separators"),
        ("..", "separators"),
        (".", "unfinished"),
        ("4.", "unfinished"),
        ("4,", "unfinished"),
        ("1,234", "thousands"),
        ("12,500", "thousands"),
        ("9" * 41, "too_long"),
        ("1" * 1_000_000, "too_long"),
    ],
)
def test_it_refuses_and_says_how_to_mend_it(typed: str, code: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_decimal(typed)
    assert caught.value.code == code
    assert len(str(caught.value.message)) < 90


def test_a_comma_before_three_digits_is_asked_about_with_both_readings() -> None:
    with pytest.raises(InputError) as caught:
        parse_decimal("1,234")
    assert "1.234" in str(caught.value.message)
    assert "1234" in str(caught.value.message)


def test_more_places_than_a_stopwatch_shows_are_refused() -> None:
    assert parse_decimal("4.61", max_places=2) == Decimal("4.61")
    with pytest.raises(InputError) as caught:
        parse_decimal("4.612", max_places=2)
    assert caught.value.code == "places"
    assert "2" in str(caught.value.message)


def test_a_whole_number_is_asked_for_in_words() -> None:
    with pytest.raises(InputError, match="whole number"):
        parse_decimal("4.5", max_places=0)


def test_bounds_are_allowed_themselves_and_named_when_passed() -> None:
    least, most = Decimal("0.5"), Decimal(60)
    assert parse_decimal("0.5", least=least, most=most) == least
    assert parse_decimal("60", least=least, most=most) == most
    with pytest.raises(InputError, match=r"0\.5") as small:
        parse_decimal("0.49", least=least, most=most)
    assert small.value.code == "too_small"
    with pytest.raises(InputError, match="60") as large:
        parse_decimal("60.01", least=least, most=most)
    assert large.value.code == "too_large"


@given(st.decimals(min_value=0, max_value=9999, places=3, allow_nan=False))
def test_a_number_written_with_a_point_reads_back_equal(value: Decimal) -> None:
    assert parse_decimal(f"{value:f}") == value


@given(st.integers(min_value=0, max_value=999), st.integers(min_value=0, max_value=99))
def test_point_and_comma_read_alike(whole: int, part: int) -> None:
    assert parse_decimal(f"{whole}.{part:02}") == parse_decimal(f"{whole},{part:02}")


def assert_says_something(error: InputError) -> None:
    assert 0 < len(str(error.message)) < 120


@given(st.text(max_size=60))
def test_nothing_crashes_it(typed: str) -> None:
    try:
        value = parse_decimal(typed)
    except InputError as error:
        assert_says_something(error)
    else:
        assert value.is_finite()
        assert value >= 0

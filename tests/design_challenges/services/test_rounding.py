"""Half-up rounding: exact, never through a float, never a surprise at a tie."""

from __future__ import annotations

from decimal import Decimal, localcontext
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from design_challenges.services.rounding import cut, format_figure, round_half_up

fractions = st.fractions(min_value=-10_000, max_value=10_000, max_denominator=10_000)
places = st.integers(min_value=-2, max_value=8)


@given(fractions, places)
def test_the_result_is_within_half_a_step_of_the_value(value: Fraction, places: int) -> None:
    step = Fraction(10) ** -places
    assert abs(Fraction(round_half_up(value, places)) - value) <= step / 2


@given(st.integers(min_value=0, max_value=10**6), st.integers(min_value=0, max_value=6))
def test_a_tie_goes_up(steps: int, places: int) -> None:
    tie = Fraction(2 * steps + 1, 2) / 10**places
    assert Fraction(round_half_up(tie, places)) == Fraction(steps + 1, 10**places)


@given(fractions, places)
def test_a_number_and_its_negative_round_alike(value: Fraction, places: int) -> None:
    assert round_half_up(-value, places) == -round_half_up(value, places)


@given(fractions, st.integers(min_value=0, max_value=8))
def test_it_carries_exactly_the_places_asked_for(value: Fraction, places: int) -> None:
    assert round_half_up(value, places).as_tuple().exponent == -places


@given(fractions, places)
def test_rounding_again_changes_nothing(value: Fraction, places: int) -> None:
    once = round_half_up(value, places)
    assert round_half_up(once, places) == once


@given(fractions, places)
def test_cutting_never_goes_up(value: Fraction, places: int) -> None:
    assert abs(Fraction(cut(value, places))) <= abs(value)
    assert abs(Fraction(cut(value, places)) - value) < Fraction(10) ** -places


def test_a_result_longer_than_the_decimal_context_keeps_its_digits() -> None:
    with localcontext(prec=5):
        assert round_half_up(Fraction(2, 3), 40) == Decimal("0." + "6" * 39 + "7")


def test_a_third_is_exact_before_it_is_rounded() -> None:
    assert round_half_up(Fraction(14, 3), 2) == Decimal("4.67")


def test_it_never_gives_a_negative_zero() -> None:
    assert str(round_half_up(Fraction(-4, 100), 1)) == "0.0"


def test_it_rounds_to_tens() -> None:
    assert round_half_up(145, -1) == 150


@pytest.mark.parametrize("value", [4.6, float("nan"), True, "4.6"])
def test_it_refuses_what_is_not_exact(value: object) -> None:
    with pytest.raises(TypeError):
        round_half_up(value, 1)  # type: ignore[arg-type]


@pytest.mark.parametrize("value", ["NaN", "Infinity"])
def test_it_refuses_a_decimal_that_is_no_number(value: str) -> None:
    with pytest.raises(ValueError, match="Not a finite number"):
        round_half_up(Decimal(value), 1)


def test_a_figure_keeps_its_zeros() -> None:
    assert format_figure(Decimal("4.6"), 2) == "4.60"
    assert format_figure(Fraction(1, 10**9), 10) == "0.0000000010"
    assert format_figure(150, 0) == "150"

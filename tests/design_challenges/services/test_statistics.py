"""Averages are exact; the standard deviation keeps its digits."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from design_challenges.services.statistics import mean, median, sample_sd

times = st.lists(st.decimals(min_value=0, max_value=60, places=2), min_size=1, max_size=10)


def test_the_mean_of_three_is_exact() -> None:
    assert mean([Decimal("4.6"), Decimal("4.7"), Decimal("4.7")]) == Fraction(14, 3)


def test_the_median_is_the_middle_or_half_way() -> None:
    assert median([Decimal("5.0"), Decimal("4.1"), Decimal("4.6")]) == Fraction("4.6")
    assert median([Decimal("4.1"), Decimal("4.6")]) == Fraction("4.35")


@given(times)
def test_mean_and_median_lie_between_the_smallest_and_the_largest(values: list[Decimal]) -> None:
    for average in (mean(values), median(values)):
        assert min(values) <= average <= max(values)


@given(times)
def test_the_order_of_the_readings_does_not_matter(values: list[Decimal]) -> None:
    assert mean(values) == mean(values[::-1])
    assert median(values) == median(values[::-1])


def test_equal_readings_have_no_spread() -> None:
    assert sample_sd([4.6, 4.6, 4.6]) == 0.0


@given(times.filter(lambda values: len(values) > 1))
def test_the_spread_does_not_feel_a_large_offset(values: list[Decimal]) -> None:
    shifted = [value + 10**9 for value in values]
    assert sample_sd(shifted) == pytest.approx(sample_sd(values), rel=1e-14)


def test_too_few_values_are_refused() -> None:
    with pytest.raises(ValueError, match="mean"):
        mean([])
    with pytest.raises(ValueError, match="median"):
        median([])
    with pytest.raises(ValueError, match="two values"):
        sample_sd([4.6])


def test_children_s_averages_refuse_floats() -> None:
    with pytest.raises(TypeError):
        mean([4.6])  # type: ignore[list-item]
    with pytest.raises(TypeError):
        median([4.6])  # type: ignore[list-item]

"""Exact probabilities against lists of every split and every set of signs, ties and zeros among them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from design_challenges.services.analysis.permutation import permutation
from design_challenges.services.analysis.separation import chance, may_be_said, seen
from design_challenges.services.analysis.signed_rank import signed_rank
from tests.support.yardstick import in_yards

readings = st.lists(st.integers(390, 400), min_size=1, max_size=5)


def by_listing(first: Sequence[int], second: Sequence[int]) -> Fraction:
    """Every split, one by one."""
    pooled = [*first, *second]
    sums = [sum(split) for split in itertools.combinations(pooled, len(first))]
    above = sum(1 for value in sums if value >= sum(first))
    below = sum(1 for value in sums if value <= sum(first))
    return min(Fraction(1), Fraction(2 * min(above, below), len(sums)))


@given(readings, readings)
@settings(max_examples=150)
def test_the_permutation_probability_is_that_of_every_split(first: list[int], second: list[int]) -> None:
    found = permutation(first, second)
    assert found is not None
    assert found.probability == by_listing(first, second)
    assert found.least <= found.probability


@given(readings, readings)
@settings(max_examples=50)
def test_the_least_probability_is_that_of_the_readings_sorted_apart(
    first: list[int], second: list[int]
) -> None:
    ordered = sorted([*first, *second])
    low, high = ordered[: len(first)], ordered[-len(first) :]
    least = min(
        by_listing(low, ordered[len(first) :]), by_listing(high, ordered[: len(ordered) - len(first)])
    )
    found = permutation(first, second)
    assert found is not None
    assert found.least == least


def test_three_against_three_stops_at_one_in_ten() -> None:
    found = permutation([400, 401, 402], [500, 501, 502])
    assert found is not None
    assert found.probability == found.least == Fraction(1, 10)
    assert not found.can_tell
    assert not found.is_small


def test_four_against_four_can_tell() -> None:
    found = permutation([400, 401, 402, 403], [500, 501, 502, 503])
    assert found is not None
    assert found.probability == Fraction(2, 70)
    assert found.is_small


def test_equal_readings_can_tell_nothing() -> None:
    found = permutation([400] * 5, [400] * 5)
    assert found is not None
    assert found.probability == found.least == 1


def test_no_reading_has_no_probability() -> None:
    assert permutation([], [400]) is None
    assert permutation([400], []) is None


def test_more_splits_than_can_be_counted_have_no_probability() -> None:
    assert permutation([400] * 40, [401] * 40) is None


def test_ten_against_ten_is_counted_at_once() -> None:
    first, second = [int(400 + 7 * n % 31) for n in range(10)], [int(410 + 11 * n % 37) for n in range(10)]
    took, found = in_yards(lambda: permutation(first, second))
    assert took < 1
    assert found is not None
    assert found.probability.denominator <= 184_756
    assert math.comb(20, 10) == 184_756


changes = st.lists(st.integers(-4, 4), min_size=1, max_size=9)


@given(changes)
@settings(max_examples=150)
def test_the_signed_ranks_are_those_of_every_set_of_signs(found: list[int]) -> None:
    moved = [change for change in found if change]
    result = signed_rank(found)
    if not moved:
        assert result is None
        return
    assert result is not None
    sizes = sorted(abs(change) for change in moved)
    rank = {
        size: Fraction(sum(i for i, s in enumerate(sizes, 1) if s == size), sizes.count(size))
        for size in sizes
    }
    ranks = [rank[abs(change)] for change in moved]
    positive = sum((r for r, change in zip(ranks, moved, strict=True) if change > 0), Fraction(0))
    assert result.positive == positive
    assert result.negative == sum(ranks) - positive
    assert result.zeros == len(found) - len(moved)
    sums = [
        sum((r for r, plus in zip(ranks, signs, strict=True) if plus), Fraction(0))
        for signs in itertools.product((False, True), repeat=len(ranks))
    ]
    tail = sum(1 for value in sums if value <= min(positive, sum(ranks) - positive))
    assert result.exact.probability == min(Fraction(1), Fraction(2 * tail, len(sums)))


def test_forty_teams_that_all_gained_are_counted_exactly() -> None:
    found = signed_rank([n + 1 for n in range(40)])
    assert found is not None
    assert found.exact.probability == Fraction(2, 2**40)


@pytest.mark.parametrize(
    ("first", "second", "said"),
    [(3, 3, True), (2, 3, False), (3, 2, False), (2, 5, True), (1, 19, True), (1, 18, False)],
)
def test_a_separation_is_said_where_luck_brings_it_once_in_twenty_at_most(
    first: int, second: int, said: bool
) -> None:
    assert may_be_said(first, second) is said
    assert chance(first, second) == Fraction(1, math.comb(first + second, first))


def test_no_drop_has_no_chance() -> None:
    assert not may_be_said(0, 3)
    with pytest.raises(ValueError, match="at least one drop"):
        chance(0, 3)


def test_equal_times_touch_and_so_overlap() -> None:
    assert seen([400, 401], [402, 403]) == "longer"
    assert seen([400, 402], [402, 403]) == "overlap"
    assert seen([402, 403], [400, 401]) == "shorter"
    assert seen([], [400]) == ""

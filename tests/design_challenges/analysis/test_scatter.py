"""Scatter within teams and what follows: repeatability, drops needed, means that wander, the pull back."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from design_challenges.services.analysis.drift import Reference, find_shifts, variance_of_shift
from design_challenges.services.analysis.drops_needed import drops_needed, margin_of_mean
from design_challenges.services.analysis.intervals import (
    Estimate,
    chi_squared_quantile,
    f_quantile,
    t_quantile,
)
from design_challenges.services.analysis.regression_to_mean import pulled, worst_teams
from design_challenges.services.analysis.uncertainty import speed_uncertainty
from design_challenges.services.analysis.variance import one_way, repeatability, sd_interval
from design_challenges.services.analysis.wander import pooled_scatter, wanders
from design_challenges.services.analysis.welch import Summary, summary, welch


def test_nothing_and_too_little_is_no_error() -> None:
    empty = one_way([])
    assert (empty.groups, empty.values, empty.within_sd, empty.f, empty.r_squared) == (0, 0, None, None, None)
    single = one_way([[4.0]])
    assert (single.within_sd, single.f, single.probability) == (None, None, None)
    assert repeatability(empty) is repeatability(single) is None
    assert sd_interval(single) is None


def test_empty_groups_are_left_out() -> None:
    assert one_way([[], [4.0, 5.0], []]).sizes == (2,)


def test_equal_values_scatter_not_at_all() -> None:
    table = one_way([[0.1, 0.1, 0.1], [0.1, 0.1, 0.1]])
    assert (table.between_squares, table.within_squares, table.within_sd, table.f) == (0, 0, 0, None)
    apart = one_way([[0.1, 0.1], [0.3, 0.3]])
    assert apart.within_sd == 0
    assert apart.between_squares > 0
    assert repeatability(apart) is None


def test_decimals_and_floats_give_the_same_table() -> None:
    decimals = [[Decimal("4.12"), Decimal("3.98")], [Decimal("4.5"), Decimal("4.61"), Decimal("4.4")]]
    exact, rounded = one_way(decimals), one_way([[float(value) for value in group] for group in decimals])
    assert math.isclose(exact.within_squares, rounded.within_squares, rel_tol=1e-12)
    assert math.isclose(exact.between_squares, rounded.between_squares, rel_tol=1e-12)
    # n₀ = (5 − (4 + 9)/5)/1
    assert math.isclose(exact.typical_size, 2.4)


def test_scipy_finds_the_same_f_for_unequal_groups() -> None:
    from scipy.stats import f_oneway

    groups = [[4.1, 4.0, 4.2], [4.4, 4.5], [3.9, 4.1, 4.0, 4.05]]
    found = f_oneway(*groups)
    table = one_way(groups)
    assert table.f is not None
    assert table.probability is not None
    assert math.isclose(table.f, found.statistic, rel_tol=1e-12)
    assert math.isclose(table.probability, found.pvalue, rel_tol=1e-12)


def test_the_standard_deviation_s_interval_is_the_handbook_s() -> None:
    # NIST/SEMATECH e-Handbook, 7.2.3.1: s·√((N − 1)/χ²); with s = 1 and 9 degrees of freedom 0.688 to 1.826.
    values = [math.sqrt(2) * (1 if n % 2 else -1) for n in range(10)]
    table = one_way([[value * math.sqrt(9 / 20) for value in values]])
    found = sd_interval(table)
    assert found is not None
    assert math.isclose(found.value, 1.0)
    assert (round(found.low, 3), round(found.high, 3)) == (0.688, 1.826)


@given(st.floats(0.01, 5), st.integers(2, 200), st.floats(0.05, 2))
def test_so_many_drops_are_needed_and_not_one_fewer(sd: float, df: int, margin: float) -> None:
    count = drops_needed(sd, df, margin)
    assert margin_of_mean(sd, df, count) <= margin * (1 + 1e-6)
    if count > 1:
        assert margin_of_mean(sd, df, count - 1) > margin * (1 - 1e-6)


def test_a_margin_next_to_nothing_has_an_end() -> None:
    assert drops_needed(0.2, 8, 1e-300) == 1_000_000


@pytest.mark.parametrize("margin", [0.0, -1.0, math.inf, math.nan])
def test_a_margin_must_be_above_nothing(margin: float) -> None:
    with pytest.raises(ValueError, match="margin"):
        drops_needed(0.2, 8, margin)


def test_quantiles_outside_their_range_are_refused() -> None:
    for call in (
        lambda: t_quantile(1.0, 3),
        lambda: t_quantile(0.5, 0),
        lambda: f_quantile(0.5, 0, 1),
        lambda: chi_squared_quantile(0.0, 2),
        lambda: margin_of_mean(0.1, 3, 0),
    ):
        with pytest.raises(ValueError):
            call()


def test_welch_needs_two_drops_each_and_a_scatter() -> None:
    assert welch(Summary(4, 0, 1), summary([4.0, 4.1])) is None
    assert welch(summary([4.0, 4.0]), summary([4.1, 4.1])) is None
    one_side = welch(summary([4.0, 4.0]), summary([4.0, 4.2]))
    assert one_side is not None
    assert math.isclose(one_side.df, 1.0)


def test_scatter_is_enlarged_to_what_it_would_be_about_the_true_mean() -> None:
    assert pooled_scatter([[4.0, 4.2], [5.0]]) == pytest.approx([-0.1 * math.sqrt(2), 0.1 * math.sqrt(2)])
    many = [[4 + 0.1 * ((7 * n + k * k) % 11) for k in range(3)] for n in range(40)]
    scatter = pooled_scatter(many)
    table = one_way(many)
    assert table.within_sd is not None
    assert math.isclose(math.fsum(s * s for s in scatter) / len(scatter), table.within_sd**2, rel_tol=1e-9)


def test_the_mean_of_more_drops_wanders_less_and_the_picture_stands_still() -> None:
    groups = [[4.0, 4.1, 4.25], [4.4, 4.35, 4.5], [3.9, 3.85, 4.0]]
    found = wanders(groups)
    assert [wander.drops for wander in found] == [1, 2, 3, 5, 10]
    widths = [wander.most_s for wander in found]
    assert widths == sorted(widths, reverse=True)
    assert wanders(groups) == found
    # By √n, within what 4,000 tries can show.
    scatter = pooled_scatter(groups)
    sd = math.sqrt(math.fsum(s * s for s in scatter) / len(scatter))
    assert abs(found[-1].most_s / (1.96 * sd / math.sqrt(10)) - 1) < 0.06
    assert wanders([[4.0], [4.1]]) == []


def test_the_worst_third_is_picked_by_the_direction_that_counts() -> None:
    assert worst_teams([4, 5, 6, 7, 8, 9], lower_is_better=True) == [4, 5]
    assert worst_teams([4, 5, 6, 7, 8, 9], lower_is_better=False) == [0, 1]
    assert worst_teams([4, 5, 6], lower_is_better=True) == []


def test_so_much_of_a_distance_comes_back_as_was_luck() -> None:
    first, second = [4.0, 5.0, 6.0, 9.0], [4.0, 5.0, 6.0, 7.0]
    found = pulled(first, second, 1, Estimate(0.4, 0.2, 0.9), lower_is_better=True)
    assert found is not None
    assert (found.teams, found.gain) == (1, 2.0)
    # 3 above the mean; 0.6 of it was luck, less what four teams make too much of it: (4 − 3)/(4 − 1).
    assert math.isclose(found.by_itself.value, 0.6)
    assert math.isclose(found.by_itself.low, 0.3)
    assert math.isclose(found.by_itself.high, 2.4)
    three = pulled(first, second, 3, Estimate(0.4, 0.2, 0.9), lower_is_better=True)
    assert three is not None
    assert math.isclose(three.by_itself.value, 0.6 / 1.8)
    other_way = pulled(
        [-y for y in first], [-y for y in second], 1, Estimate(0.4, 0.2, 0.9), lower_is_better=False
    )
    assert other_way == found
    assert pulled(first, second, 1, None, lower_is_better=True) is None


def test_no_more_than_all_comes_by_itself() -> None:
    found = pulled([4.0, 5.0, 6.0, 9.0], [6.0] * 4, 3, Estimate(-0.5, -0.5, 0.1), lower_is_better=True)
    assert found is not None
    assert found.by_itself.value == 1.0
    assert found.by_itself.high == 3.0


def test_a_longer_day_is_taken_out_by_its_ratio() -> None:
    shifts = find_shifts({"Monday": [400, 400], "Sunday": [], "Tuesday": [432, 432]})
    assert shifts.ratio("Tuesday") == 1.08
    assert shifts.ratio("Monday") == shifts.ratio(None) == shifts.ratio("Friday") == 1.0
    assert find_shifts({"Monday": [400]}).by_day == {}
    assert find_shifts({}).taken_out is False
    assert find_shifts(Reference().readings).taken_out is False


def test_a_reference_dropped_once_a_day_has_no_scatter_of_its_own() -> None:
    shifts = find_shifts({"Monday": [400], "Tuesday": [410]})
    assert (shifts.log_sd, shifts.df) == (None, 0)
    # One day against one other: both means' errors count in full.
    assert math.isclose(variance_of_shift(shifts, {"Tuesday": 2.0}, 0.03), 4 * 0.03**2 * 2)


def test_height_and_timing_are_carried_to_the_speed() -> None:
    # v = h/t: u(v)² = (h/t²·u_t)²/k + (u_h/t)²
    found = speed_uncertainty(15, 4, timing_s=0.1, height_off=0.2, drops=4)
    assert math.isclose(found.reading, 15 / 16 * 0.05)
    assert math.isclose(found.setting_up, 0.05)
    assert math.isclose(found.total, math.hypot(15 / 16 * 0.05, 0.05))
    step = 1e-6
    assert math.isclose((15 / (4 - step) - 15 / (4 + step)) / (2 * step), 15 / 16, rel_tol=1e-9)
    with pytest.raises(ValueError, match="above 0"):
        speed_uncertainty(15, 0, timing_s=0.1, height_off=0.2)

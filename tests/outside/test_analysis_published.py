"""Exact tests, Welch, repeatability, t and repeated drops against published examples and tables."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest

from design_challenges.services.analysis.drops_needed import margin_of_mean
from design_challenges.services.analysis.intervals import f_quantile, t_quantile
from design_challenges.services.analysis.permutation import permutation
from design_challenges.services.analysis.signed_rank import signed_rank
from design_challenges.services.analysis.variance import one_way, repeatability
from design_challenges.services.analysis.welch import summary, welch

# NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2, upper critical values of Student's t
# (read from a printed copy of that table): df, then 0.10, 0.05, 0.025, 0.01, 0.005.
T_TABLE = {
    1: (3.078, 6.314, 12.706, 31.821, 63.657),
    2: (1.886, 2.920, 4.303, 6.965, 9.925),
    4: (1.533, 2.132, 2.776, 3.747, 4.604),
    7: (1.415, 1.895, 2.365, 2.998, 3.499),
    16: (1.337, 1.746, 2.120, 2.583, 2.921),
    30: (1.310, 1.697, 2.042, 2.457, 2.750),
    100: (1.290, 1.660, 1.984, 2.364, 2.626),
    10**9: (1.282, 1.645, 1.960, 2.326, 2.576),
}


@pytest.mark.parametrize("df", T_TABLE)
def test_t_quantiles_are_those_of_the_table(df: int) -> None:
    for above, printed in zip((0.10, 0.05, 0.025, 0.01, 0.005), T_TABLE[df], strict=True):
        assert abs(t_quantile(1 - above, df) - printed) <= 0.00051


def test_f_with_one_degree_above_is_t_squared() -> None:
    for df in (2, 7, 16):
        assert math.isclose(f_quantile(0.95, 1, df), t_quantile(0.975, df) ** 2, rel_tol=1e-12)


# Student, The probable error of a mean, Biometrika 6 (1908): extra hours of sleep with two drugs, as in R's
# data set `sleep`; R's documentation of t.test gives Welch's result of it (from memory).
SLEEP_1 = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0]
SLEEP_2 = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4]


def test_welch_on_student_s_sleep() -> None:
    found = welch(summary(SLEEP_1), summary(SLEEP_2))
    assert found is not None
    assert round(found.t, 4) == 1.8608
    assert round(found.df, 3) == 17.776
    assert round(found.probability, 5) == 0.07939
    assert (round(found.estimate.low, 7), round(found.estimate.high, 7)) == (-0.2054832, 3.3654832)


def test_welch_on_three_and_three() -> None:
    # The worked example in ClickHouse's documentation of welchTTest (clickhouse.com/docs).
    found = welch(summary([18.9, 20.3, 19.0]), summary([20.3, 22.1, 21.9]))
    assert found is not None
    assert math.isclose(found.t, 2.7988719532211235, rel_tol=1e-12)
    assert math.isclose(found.probability, 0.05180736034858519, rel_tol=1e-12)
    assert math.isclose(found.estimate.low, -0.026294346671631885, rel_tol=1e-10)
    assert math.isclose(found.estimate.high, 4.092961013338302, rel_tol=1e-12)


def test_signed_rank_on_nine_patients() -> None:
    # Hollander and Wolfe, Nonparametric Statistical Methods, example 3.1 (data as in R's package NSM3 and in
    # ?wilcox.test): T+ = 40, one-sided P = 0.0195, so twice that for both sides.
    before = [1.83, 0.50, 1.62, 2.48, 1.68, 1.88, 1.55, 3.06, 1.30]
    after = [0.878, 0.647, 0.598, 2.05, 1.06, 1.29, 1.06, 3.14, 1.29]
    found = signed_rank([a - b for a, b in zip(after, before, strict=True)])
    assert found is not None
    assert found.negative == 40
    assert found.exact.probability == Fraction(2 * 10, 512)
    assert round(float(found.exact.probability) / 2, 4) == 0.0195


# Wilcoxon and Wilcox, Some Rapid Approximate Statistical Procedures (Lederle, 1964), table 2, as
# printed in most textbooks (from memory): the largest smaller rank sum with a two-sided
# probability of at most 0.05.
SIGNED_RANK_CRITICAL = {6: 0, 7: 2, 8: 3, 9: 5, 10: 8, 12: 13, 15: 25, 20: 52}


@pytest.mark.parametrize("count", SIGNED_RANK_CRITICAL)
def test_signed_rank_reaches_one_in_twenty_where_the_table_says(count: int) -> None:
    def probability(rank_sum: int) -> Fraction:
        left, negative = rank_sum, set()
        for rank in range(count, 0, -1):
            if rank <= left:
                negative.add(rank)
                left -= rank
        found = signed_rank([-rank if rank in negative else rank for rank in range(1, count + 1)])
        assert found is not None
        assert found.negative == rank_sum
        return found.exact.probability

    critical = SIGNED_RANK_CRITICAL[count]
    assert probability(critical) <= Fraction(1, 20)
    assert probability(critical + 1) > Fraction(1, 20)


def test_five_teams_cannot_go_below_one_in_sixteen() -> None:
    found = signed_rank([1, 2, 3, 4, 5])
    assert found is not None
    assert found.exact.probability == found.exact.least == Fraction(1, 16)


def test_repeatability_of_shrout_and_fleiss() -> None:
    # Shrout and Fleiss, Psychological Bulletin 86 (1979), 420, tables 2 to 4: six targets, four judges;
    # BMS 11.24, WMS 6.26, ICC(1,1) = 0.17. The interval −0.13 to 0.72: R's psych::ICC (from memory).
    targets = [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]]
    table = one_way(targets)
    found = repeatability(table)
    assert found is not None
    assert table.between_mean_square is not None
    assert table.within_mean_square is not None
    assert round(table.between_mean_square, 2) == 11.24
    assert round(table.within_mean_square, 2) == 6.26
    assert round(found.value, 2) == 0.17
    assert (round(found.low, 2), round(found.high, 2)) == (-0.13, 0.72)


# Gelman, Hill and Vehtari, Regression and Other Stories (2020), chapter 1, helicopters.txt: two paper
# helicopters of one plan, dropped ten times each, in hundredths of a second.
HELICOPTERS = (
    [164, 174, 168, 162, 168, 170, 162, 166, 169, 162],
    [162, 165, 166, 163, 166, 171, 164, 169, 159, 161],
)


def test_repeated_drops_of_two_paper_helicopters() -> None:
    table = one_way([[time / 100 for time in times] for times in HELICOPTERS])
    assert [sum(times) for times in HELICOPTERS] == [1665, 1646]
    # By hand: squares about each mean 146.5 and 118.4 (hundredths squared), 18 degrees of freedom.
    assert math.isclose(table.within_squares, 0.02649, rel_tol=1e-9)
    assert table.within_sd is not None
    assert round(table.within_sd, 4) == 0.0384
    assert round(margin_of_mean(table.within_sd, 18, 10), 4) == 0.0255
    # Built to one plan, ten drops each: the data do not tell the two apart, by either test.
    exact = permutation(*HELICOPTERS)
    assert exact is not None
    assert exact.can_tell
    assert not exact.is_small
    found = welch(summary([t / 100 for t in HELICOPTERS[0]]), summary([t / 100 for t in HELICOPTERS[1]]))
    assert found is not None
    assert not found.estimate.excludes_zero
    assert table.probability is not None
    assert abs(float(exact.probability) - table.probability) < 0.03


def test_permutation_agrees_with_scipy_s_list_of_all_splits() -> None:
    import numpy as np
    from scipy.stats import permutation_test

    random = np.random.default_rng(7)
    for first, second in ((4, 4), (3, 5), (5, 6), (3, 3)):
        a, b = random.integers(390, 420, first).tolist(), random.integers(395, 425, second).tolist()
        listed = permutation_test((a, b), lambda x, y: np.sum(x) - 0 * np.sum(y), n_resamples=10**6)
        found = permutation(a, b)
        assert found is not None
        assert math.isclose(float(found.probability), min(1.0, listed.pvalue), rel_tol=1e-9)

"""Means and standard deviations against NIST's certified values; the log relative errors are printed."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction

import pytest

from design_challenges.services.statistics import mean, sample_sd
from tests.outside.nist_univariate import DATASETS, Dataset

by_name = pytest.mark.parametrize("data", DATASETS, ids=lambda data: data.name)
counts = {"Lew": 200, "Lottery": 218, "Mavro": 50, "Michelso": 100, "NumAcc1": 3}


def digits(computed: Fraction | float, certified: str) -> float:
    """The log relative error, −log10(|c − e| / |e|): correct digits, 15 where none of them differs."""
    error = abs(Fraction(computed) - Fraction(certified)) / abs(Fraction(certified))
    return min(15.0, -math.log10(error)) if error else 15.0


def test_no_value_was_lost_on_the_way() -> None:
    for data in DATASETS:
        assert len(data.values) == counts.get(data.name, 1001)
    michelso = next(data for data in DATASETS if data.name == "Michelso")
    assert (michelso.values[0], michelso.values[-1]) == (Decimal("299.85"), Decimal("299.87"))


@by_name
def test_the_mean_has_every_certified_digit(data: Dataset) -> None:
    assert digits(mean(data.values), data.mean) > 14.4


@by_name
def test_the_standard_deviation_of_exact_decimals_has_every_certified_digit(data: Dataset) -> None:
    assert digits(sample_sd(data.values), data.sd) > 14.2


@by_name
def test_the_standard_deviation_of_doubles_has_what_doubles_allow(data: Dataset) -> None:
    assert digits(sample_sd([float(value) for value in data.values]), data.sd) > data.digits_from_doubles


def test_the_log_relative_errors_are_printed(capsys: pytest.CaptureFixture[str]) -> None:
    lines = ["", "NIST StRD univariate, correct digits (log relative error, 15 at most):"]
    lines.append(f"{'set':10}{'level':10}{'mean':>6}{'sd':>6}{'sd of doubles':>15}")
    for data in DATASETS:
        found = (
            digits(mean(data.values), data.mean),
            digits(sample_sd(data.values), data.sd),
            digits(sample_sd([float(value) for value in data.values]), data.sd),
        )
        assert min(found) > 8
        lines.append(f"{data.name:10}{data.level:10}{found[0]:6.1f}{found[1]:6.1f}{found[2]:15.1f}")
    with capsys.disabled():
        print("\n".join(lines))

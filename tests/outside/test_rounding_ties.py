"""Ties that binary floats get wrong, against the standards' rule for a number half way between two.

Sources: IEEE 754-2019, 4.3.1, roundTiesToAway; ISO 80000-1, annex B, rule B (of two numbers equally near, the
one of larger magnitude); both quoted from memory. What the nearest doubles are follows from binary64 itself.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from design_challenges.services.rounding import format_figure, round_half_up

TIES = [
    ("2.675", 2, "2.68"),
    ("1.005", 2, "1.01"),
    ("4.25", 1, "4.3"),
    ("0.05", 1, "0.1"),
    ("0.5", 0, "1"),
    ("2.5", 0, "3"),
    ("1.15", 1, "1.2"),
    ("8.345", 2, "8.35"),
]


@pytest.mark.parametrize(("typed", "places", "rounded"), TIES)
def test_a_tie_goes_to_the_larger_magnitude(typed: str, places: int, rounded: str) -> None:
    assert format_figure(Decimal(typed), places) == rounded
    assert round_half_up(-Decimal(typed), places) == -Decimal(rounded)


@pytest.mark.parametrize(("typed", "places"), [("2.675", 2), ("1.005", 2), ("4.25", 1), ("1.15", 1)])
def test_the_tie_is_one_that_binary_floats_get_wrong(typed: str, places: int) -> None:
    assert f"{float(typed):.{places}f}" != format_figure(Decimal(typed), places)
    assert str(round(float(typed), places)) != format_figure(Decimal(typed), places)


def test_the_double_nearest_to_a_tie_lies_below_it() -> None:
    assert Decimal(float("2.675")) < Decimal("2.675")
    assert Decimal(float("1.005")) < Decimal("1.005")

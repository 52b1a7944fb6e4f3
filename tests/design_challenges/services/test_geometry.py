"""Circle areas with every π a child may use."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from design_challenges.services.geometry import PI, PI_CHOICES, area_range, circle_area, within_percent
from design_challenges.services.rounding import round_half_up

radii = st.integers(min_value=1, max_value=200).map(lambda quarters: Fraction(quarters, 4))


def test_a_7_inch_radius_is_154_square_inches_with_any_pi() -> None:
    assert area_range(Fraction(7), 0) == (Decimal(154), Decimal(154))


def test_a_wide_canopy_gives_different_answers_with_different_pi() -> None:
    assert area_range(Fraction(14), 0) == (Decimal(615), Decimal(616))


@given(radii, st.integers(min_value=0, max_value=2))
def test_every_pi_lies_in_the_range(radius: Fraction, places: int) -> None:
    lowest, highest = area_range(radius, places)
    assert all(lowest <= round_half_up(circle_area(radius, pi), places) <= highest for pi in PI_CHOICES)


def test_a_negative_radius_is_refused() -> None:
    with pytest.raises(ValueError, match="negative"):
        circle_area(Fraction(-1))


def test_pi_is_pi() -> None:
    assert float(PI) == 3.141592653589793


@pytest.mark.parametrize(
    ("counted", "near"), [("92", True), ("108", True), ("91.99", False), ("108.01", False), ("100", True)]
)
def test_a_count_of_squares_may_be_eight_per_cent_off(counted: str, near: bool) -> None:
    assert within_percent(Fraction(counted), Fraction(100), Fraction(8)) is near

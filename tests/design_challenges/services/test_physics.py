"""The fall with drag: bounded by free fall, inverted by the bracketed root, sound far out."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from design_challenges.services.physics import (
    air_density_kg_m3,
    drag_coefficient,
    fall_time_s,
    free_fall_time_s,
    terminal_speed_from_drag,
    terminal_speed_m_s,
)

heights = st.floats(min_value=0.5, max_value=50)
speeds = st.floats(min_value=0.05, max_value=60)


@given(heights, speeds)
def test_a_fall_takes_longer_than_free_fall_and_than_the_way_at_full_speed(
    height: float, speed: float
) -> None:
    time = fall_time_s(height, speed)
    assert time > free_fall_time_s(height) * (1 - 1e-12)
    assert time > height / speed


@given(heights, speeds)
def test_a_slower_terminal_speed_is_a_longer_fall(height: float, speed: float) -> None:
    assert fall_time_s(height, speed * 0.9) > fall_time_s(height, speed)


@given(heights, st.floats(min_value=0.05, max_value=15))
def test_the_terminal_speed_comes_back_from_the_time(height: float, speed: float) -> None:
    time = fall_time_s(height, speed)
    assert terminal_speed_m_s(height, time) == pytest.approx(speed, rel=1e-6)


def test_it_agrees_with_the_plain_formula_where_that_does_not_overflow() -> None:
    height, speed = 4.572, 1.4
    plain = speed / 9.80665 * math.acosh(math.exp(9.80665 * height / speed**2))
    assert fall_time_s(height, speed) == pytest.approx(plain, rel=1e-14)


def test_a_very_slow_fall_does_not_overflow() -> None:
    assert fall_time_s(50, 0.01) == pytest.approx(5_000, rel=1e-3)


def test_a_very_fast_terminal_speed_is_free_fall() -> None:
    assert fall_time_s(4.5, 1e6) == pytest.approx(free_fall_time_s(4.5), rel=1e-9)


def test_a_time_no_longer_than_free_fall_has_no_terminal_speed() -> None:
    with pytest.raises(ValueError, match="no slower than free fall"):
        terminal_speed_m_s(4.5, free_fall_time_s(4.5))


def test_a_time_a_hair_over_free_fall_says_that_it_cannot_tell() -> None:
    with pytest.raises(ValueError, match="cannot be told"):
        terminal_speed_m_s(4.5, free_fall_time_s(4.5) * (1 + 4e-16))


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_nonsense_is_refused(bad: float) -> None:
    with pytest.raises(ValueError, match="positive"):
        free_fall_time_s(bad)
    with pytest.raises(ValueError, match="positive"):
        fall_time_s(4.5, bad)
    with pytest.raises(ValueError, match="positive"):
        terminal_speed_m_s(bad, 3)
    with pytest.raises(ValueError, match="positive"):
        drag_coefficient(bad, 1.2, 0.1, 1.5)
    with pytest.raises(ValueError, match="positive"):
        terminal_speed_from_drag(0.006, bad, 1.2, 0.1)


@given(st.floats(min_value=0.002, max_value=0.1), st.floats(min_value=0.2, max_value=2.5))
def test_drag_and_terminal_speed_undo_each_other(mass: float, drag: float) -> None:
    speed = terminal_speed_from_drag(mass, drag, 1.2, 0.13)
    assert drag_coefficient(mass, 1.2, 0.13, speed) == pytest.approx(drag, rel=1e-12)


@given(st.floats(min_value=-4_000, max_value=10_000))
def test_air_thins_with_height(altitude: float) -> None:
    assert air_density_kg_m3(altitude + 100) < air_density_kg_m3(altitude)


@pytest.mark.parametrize("altitude", [-5_001, 11_001, math.nan])
def test_air_outside_the_troposphere_is_refused(altitude: float) -> None:
    with pytest.raises(ValueError, match="altitude"):
        air_density_kg_m3(altitude)

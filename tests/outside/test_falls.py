"""Fall time, terminal speed and drag against NASA Glenn's relations and Knacke's canopy values.

Sources: NASA Glenn Research Center, Beginner's Guide, "Falling Object with Air Resistance": a = (W − D)/m
with D = Cd·ρ·V²·A/2 and W = m·g; "Terminal Velocity", also for model rockets: V = √(2W/(Cd·ρ·A)); pages seen.
T. W. Knacke, Parachute Recovery Systems Design Manual, NWC TP 6575 (1991), chapter 4: rate of descent
v = √(2·W_T/(ρ·S_0·C_D0)), g = 9.80665 m/s², sea-level air 1.2250 kg/m³ (text seen); table 5-1, flat circular
canopies, C_D0 0.75 to 0.80 on the flat area (from memory: the table itself was not at hand).
"""

from __future__ import annotations

import math
from fractions import Fraction

import pytest

from design_challenges.kinds.soft_landing import SOFT_LANDING
from design_challenges.services.geometry import circle_area
from design_challenges.services.physics import (
    air_density_kg_m3,
    drag_coefficient,
    fall_time_s,
    free_fall_time_s,
    terminal_speed_from_drag,
    terminal_speed_m_s,
)
from design_challenges.services.units import SYSTEMS, area_m2

SEA_LEVEL = 1.2250
KNACKE = (0.75, 0.80)


def stepped_fall_time_s(height_m: float, mass_kg: float, drag: float, area_m2: float) -> float:
    """NASA's a = (W − D)/m stepped by the classical Runge-Kutta method until the height is fallen."""
    g, step = 9.80665, 1e-4

    def acceleration(speed: float) -> float:
        weight, air = mass_kg * g, drag * SEA_LEVEL * speed**2 * area_m2 / 2
        return (weight - air) / mass_kg

    time = fallen = speed = 0.0
    while True:
        a1 = acceleration(speed)
        a2 = acceleration(speed + a1 * step / 2)
        a3 = acceleration(speed + a2 * step / 2)
        a4 = acceleration(speed + a3 * step)
        v2, v3, v4 = speed + a1 * step / 2, speed + a2 * step / 2, speed + a3 * step
        way = step * (speed + 2 * v2 + 2 * v3 + v4) / 6
        if fallen + way >= height_m:
            return time + step * (height_m - fallen) / way
        fallen += way
        speed += step * (a1 + 2 * a2 + 2 * a3 + a4) / 6
        time += step


@pytest.mark.parametrize("drag", [*KNACKE, 1.2])
@pytest.mark.parametrize(("mass_kg", "radius_m"), [(0.009, 0.18), (0.008, 0.10), (0.02, 0.30), (0.1, 0.05)])
def test_the_fall_time_is_what_nasas_equation_of_motion_gives(
    mass_kg: float, radius_m: float, drag: float
) -> None:
    area = math.pi * radius_m**2
    speed = terminal_speed_from_drag(mass_kg, drag, SEA_LEVEL, area)
    assert fall_time_s(4.572, speed) == pytest.approx(
        stepped_fall_time_s(4.572, mass_kg, drag, area), abs=2e-7
    )


@pytest.mark.parametrize("drag", KNACKE)
def test_the_terminal_speed_is_nasas_and_knackes(drag: float) -> None:
    mass, area = 0.009, 0.1
    weight = mass * 9.80665
    expected = math.sqrt(2 * weight / (drag * SEA_LEVEL * area))
    assert terminal_speed_from_drag(mass, drag, SEA_LEVEL, area) == pytest.approx(expected, rel=1e-14)


def test_at_the_terminal_speed_drag_is_weight() -> None:
    speed = terminal_speed_from_drag(0.009, 0.75, SEA_LEVEL, 0.1)
    assert 0.75 * SEA_LEVEL * speed**2 * 0.1 / 2 == pytest.approx(0.009 * 9.80665, rel=1e-14)


@pytest.mark.parametrize("drag", KNACKE)
@pytest.mark.parametrize("diameter_in", range(8, 25, 2))
def test_knackes_drag_comes_back_from_the_time_of_a_fall(drag: float, diameter_in: int) -> None:
    area = float(area_m2(circle_area(Fraction(diameter_in, 2)), SYSTEMS["us"].length))
    speed = terminal_speed_from_drag(0.009, drag, SEA_LEVEL, area)
    time = fall_time_s(4.572, speed)
    found = drag_coefficient(0.009, SEA_LEVEL, area, terminal_speed_m_s(4.572, time))
    assert found == pytest.approx(drag, rel=1e-9)


def test_a_dropped_stone_takes_about_a_second_over_fifteen_feet() -> None:
    # Galileo's h = g·t²/2 by hand: √(2 × 4.572 / 9.80665) = √0.932428… = 0.965623… s
    assert free_fall_time_s(4.572) == pytest.approx(0.965623, abs=1e-6)


FILM_KG_M2 = 0.020  # a thin plastic bag, 22 µm of polyethylene at about 920 kg/m³; common practice, no source
LINE_KG_M = 0.0005  # thin string; common practice, no source


@pytest.mark.parametrize("drag", KNACKE)
@pytest.mark.parametrize(
    ("system", "radii", "lines"),
    [
        ("us", ("5.5", "6", "7", "8"), ("9", "12", "14")),
        ("metric", ("14", "16", "18", "20"), ("22", "28", "36")),
    ],
)
def test_usual_settings_and_plausible_designs_fall_in_two_and_a_half_to_four_and_a_half_seconds(
    system: str, radii: tuple[str, ...], lines: tuple[str, ...], drag: float
) -> None:
    values = SOFT_LANDING.read_values({}, system)
    unit = SYSTEMS[system].length
    height = float(Fraction(values["drop_height"]) * SYSTEMS[system].height.metres)
    within = 0
    for radius, line in ((Fraction(r), Fraction(n)) for r in radii for n in lines):
        area = circle_area(radius)
        count = values["line_count"]
        used = Fraction(values["price_area"]) * area + Fraction(values["price_line"]) * count * line
        if used > values["limit"]:
            continue
        within += 1
        flat = float(area_m2(area, unit))
        mass = float(values["load_mass"]) / 1000 + FILM_KG_M2 * flat
        mass += LINE_KG_M * float(count * line * unit.metres)
        speed = terminal_speed_from_drag(mass, drag, air_density_kg_m3(0), flat)
        assert 2.5 <= fall_time_s(height, speed) <= 4.5, (radius, line)
    assert within >= 6

"""The physics of a fall from rest, in SI floats: free fall, quadratic drag, drag coefficient, air density."""

from __future__ import annotations

import math

from .units import G_N

G = float(G_N)
"""Standard gravity in m/s²."""

SEA_LEVEL_TEMPERATURE_K = 288.15
SEA_LEVEL_PRESSURE_PA = 101_325.0
LAPSE_RATE_K_PER_M = 0.0065
GAS_CONSTANT = 8_314.32
"""R* in N·m/(kmol·K), the value that U.S. Standard Atmosphere 1976 uses (not today's)."""
MOLAR_MASS_AIR = 28.9644
"""M₀ in kg/kmol, U.S. Standard Atmosphere 1976."""
EARTH_RADIUS_M = 6_356_766.0
"""The radius that U.S. Standard Atmosphere 1976 uses for geopotential altitude."""


def _positive(**values: float) -> None:
    for name, value in values.items():
        if not (math.isfinite(value) and value > 0):
            raise ValueError(f"{name} must be a positive number, not {value}")


def free_fall_time_s(height_m: float) -> float:
    """t = √(2h/g): seconds that a dropped stone takes. `height_m` above 0, else ValueError."""
    _positive(height_m=height_m)
    return math.sqrt(2 * height_m / G)


def _drag_fall_s(height_m: float, speed_m_s: float) -> float:
    x = G * height_m / speed_m_s**2
    # Not arcosh(exp(x)), whose exponential overflows for slow falls.
    return speed_m_s / G * (x + math.log1p(math.sqrt(-math.expm1(-2 * x))))


def fall_time_s(height_m: float, terminal_speed_m_s: float) -> float:
    """Seconds of a fall from rest with quadratic drag: t = (v_t/g)·arcosh(exp(g·h/v_t²)).

    Both arguments above 0, else ValueError. Source: the integral of dv/dt = g(1 − v²/v_t²) from rest;
    NASA Glenn, flight equations with drag, gives the same relation.
    """
    _positive(height_m=height_m, terminal_speed_m_s=terminal_speed_m_s)
    return _drag_fall_s(height_m, terminal_speed_m_s)


def terminal_speed_m_s(height_m: float, fall_time_s: float) -> float:
    """The terminal speed in m/s with which a fall from rest over `height_m` takes `fall_time_s`.

    Both above 0. A time at or under free fall (or so near it that no drag can be told) has no
    answer: ValueError. The root of `fall_time_s` is bracketed from h/t, which is always too slow.
    """
    from scipy.optimize import brentq  # takes most of a second to import, and few pages need it

    _positive(height_m=height_m, fall_time_s=fall_time_s)
    slow = height_m / fall_time_s
    if fall_time_s <= free_fall_time_s(height_m):
        raise ValueError(f"{fall_time_s} s over {height_m} m is no slower than free fall")

    def too_long_by(speed: float) -> float:
        return _drag_fall_s(height_m, speed) - fall_time_s

    fast = 2 * slow
    while too_long_by(fast) > 0:
        fast *= 2
        if fast > 1e6 * slow:
            raise ValueError(f"{fall_time_s} s over {height_m} m cannot be told from free fall")
    return float(brentq(too_long_by, slow, fast, xtol=1e-14 * slow, rtol=1e-14))


def drag_coefficient(
    mass_kg: float, density_kg_m3: float, area_m2: float, terminal_speed_m_s: float
) -> float:
    """C_D = 2mg/(ρ·A·v_t²), a pure number; `mass_kg` is everything that falls, `area_m2` the flat canopy.

    All above 0, else ValueError. Source: NASA Glenn, terminal velocity; Knacke (1991) for C_D0 on flat area.
    """
    _positive(
        mass_kg=mass_kg, density_kg_m3=density_kg_m3, area_m2=area_m2, terminal_speed_m_s=terminal_speed_m_s
    )
    return 2 * mass_kg * G / (density_kg_m3 * area_m2 * terminal_speed_m_s**2)


def terminal_speed_from_drag(
    mass_kg: float, drag_coefficient: float, density_kg_m3: float, area_m2: float
) -> float:
    """v_t = √(2mg/(C_D·ρ·A)) in m/s, the speed at which drag balances weight. All above 0, else ValueError.

    Source: NASA Glenn, terminal velocity.
    """
    _positive(
        mass_kg=mass_kg, drag_coefficient=drag_coefficient, density_kg_m3=density_kg_m3, area_m2=area_m2
    )
    return math.sqrt(2 * mass_kg * G / (drag_coefficient * density_kg_m3 * area_m2))


def air_density_kg_m3(altitude_m: float) -> float:
    """The air's density in kg/m³ at a geometric altitude of −5000 to 11 000 m, else ValueError.

    Source: U.S. Standard Atmosphere 1976, troposphere (layer b = 0), geopotential altitude by equation 18.
    """
    if not -5_000 <= altitude_m <= 11_000:
        raise ValueError(f"altitude_m must lie between -5000 and 11000, not {altitude_m}")
    geopotential = EARTH_RADIUS_M * altitude_m / (EARTH_RADIUS_M + altitude_m)
    temperature = SEA_LEVEL_TEMPERATURE_K - LAPSE_RATE_K_PER_M * geopotential
    exponent = G * MOLAR_MASS_AIR / (GAS_CONSTANT * LAPSE_RATE_K_PER_M)
    pressure = SEA_LEVEL_PRESSURE_PA * (temperature / SEA_LEVEL_TEMPERATURE_K) ** exponent
    return pressure * MOLAR_MASS_AIR / (GAS_CONSTANT * temperature)

"""The air's density against the U.S. Standard Atmosphere 1976.

Source: U.S. Standard Atmosphere, 1976 (NOAA, NASA, USAF), as tabulated by geometric altitude in M. Kutz
(ed.), Mechanical Engineers' Handbook, volume 4, table 6, "Thermophysical Properties of the U.S. Standard
Atmosphere"; page seen. The constants are the Standard's own: R* = 8314.32 N·m/(kmol·K), M0 = 28.9644 kg/kmol,
r0 = 6356.766 km, L = −6.5 K/km.
"""

from __future__ import annotations

import pytest

from design_challenges.services.physics import air_density_kg_m3

TABLE = [
    (0, 1.2250),
    (1_000, 1.1117),
    (2_000, 1.0066),
    (3_000, 0.9093),
    (4_000, 0.8194),
    (5_000, 0.7364),
    (6_000, 0.6601),
    (7_000, 0.5900),
    (8_000, 0.5258),
    (9_000, 0.4671),
    (10_000, 0.4135),
    (11_000, 0.3648),
]


@pytest.mark.parametrize(("altitude_m", "density"), TABLE)
def test_the_density_is_the_standards_to_its_last_digit(altitude_m: int, density: float) -> None:
    # The handbook rounded the Standard's five digits once more: 0.81935 became 0.8194.
    assert air_density_kg_m3(altitude_m) == pytest.approx(density, abs=0.000055)

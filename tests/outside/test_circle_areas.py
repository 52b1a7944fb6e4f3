"""Circle areas against a handbook's table of circles by diameter.

Source: R. G. Hatfield, The American House-Carpenter, "Table of Circles (from Gregory's Mathematics)", read in
the copy at chestofbooks.com as far as 13 1/4. That table mostly cuts its last digit off, so an area may
lie one unit of the fifth place away. Rows that the scan spoilt (2, 2 1/4, 5, 6 3/4, 7, 8 1/4, and the
diameters 7 1/2 and 10 1/2) are left out.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from design_challenges.services.geometry import PI_CHOICES, area_range, circle_area
from design_challenges.services.rounding import round_half_up

TABLE = {
    "0.25": "0.04908",
    "0.5": "0.19635",
    "0.75": "0.44178",
    "1": "0.78539",
    "1.25": "1.22718",
    "1.5": "1.76714",
    "1.75": "2.40528",
    "2.5": "4.90873",
    "2.75": "5.93957",
    "3": "7.06858",
    "3.25": "8.29576",
    "3.5": "9.62112",
    "3.75": "11.04466",
    "4": "12.56637",
    "4.25": "14.18625",
    "4.5": "15.90431",
    "4.75": "17.72054",
    "5.25": "21.64753",
    "5.5": "23.75829",
    "5.75": "25.96722",
    "6": "28.27433",
    "6.25": "30.67961",
    "6.5": "33.18307",
    "7.25": "41.28249",
    "7.75": "47.17297",
    "8": "50.26548",
    "8.5": "56.74501",
    "8.75": "60.13204",
    "9": "63.61725",
    "9.25": "67.20063",
    "9.5": "70.88218",
    "9.75": "74.66191",
    "10": "78.53981",
    "10.25": "82.51589",
    "10.75": "90.76257",
    "11": "95.03317",
    "11.25": "99.40195",
    "11.5": "103.86890",
    "11.75": "108.43403",
    "12": "113.09733",
    "12.25": "117.85881",
    "12.5": "122.71846",
    "12.75": "127.67628",
    "13": "132.73228",
    "13.25": "137.88646",
}
"""Area by diameter, in squares of whatever unit the diameter is in."""


@pytest.mark.parametrize(("diameter", "area"), TABLE.items())
def test_an_area_is_the_handbooks_to_its_last_digit(diameter: str, area: str) -> None:
    exact = circle_area(Fraction(diameter) / 2)
    assert abs(exact - Fraction(area)) < Fraction(1, 100_000)


@pytest.mark.parametrize("half", ["8", "8.5", "9", "9.5", "10", "11", "11.5", "12"])
def test_a_canopy_beyond_the_tables_end_has_four_times_the_area_of_half_its_diameter(half: str) -> None:
    exact = circle_area(Fraction(half))
    assert abs(exact - 4 * Fraction(TABLE[half])) < Fraction(4, 100_000)


@pytest.mark.parametrize(("diameter", "area"), TABLE.items())
def test_the_accepted_range_holds_the_handbooks_area(diameter: str, area: str) -> None:
    lowest, highest = area_range(Fraction(diameter) / 2, 0)
    assert lowest <= round_half_up(Fraction(area), 0) <= highest


def test_the_accepted_values_of_pi_bracket_pi() -> None:
    # Archimedes, Measurement of a Circle, proposition 3: the circumference is less than 3 1/7 diameters.
    assert PI_CHOICES[0] < PI_CHOICES[2] < PI_CHOICES[1] == 3 + Fraction(1, 7)

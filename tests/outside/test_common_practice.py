"""What every classroom does and no standard says: marked as common practice, with no published source."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from design_challenges.kinds.soft_landing import SOFT_LANDING
from design_challenges.services.geometry import area_range, circle_area
from design_challenges.services.lengths import parse_length
from design_challenges.services.rounding import format_figure, round_half_up
from design_challenges.services.statistics import mean
from design_challenges.services.units import FOOT, INCH, convert


def test_three_drops_are_rounded_averaged_and_divided_into_fifteen_feet() -> None:
    # Common practice, no source: three drops from 15 ft, each rounded to the nearest tenth, and the mean too.
    rounded = [round_half_up(Decimal(reading), 1) for reading in ("4.62", "4.75", "4.31")]
    assert rounded == [Decimal("4.6"), Decimal("4.8"), Decimal("4.3")]
    average = round_half_up(mean(rounded), 1)
    assert average == Decimal("4.6")
    assert format_figure(Fraction(15) / Fraction(average), 1) == "3.3"


def test_the_usual_drop_is_fifteen_feet() -> None:
    # Common practice, no source: a stairwell or a gallery of one storey.
    values = SOFT_LANDING.read_values({}, "us")
    assert values["drop_height"] == 15
    assert convert(Fraction(15), FOOT, INCH) == 180


def test_the_usual_place_is_the_nearest_tenth() -> None:
    # Common practice, no source.
    assert SOFT_LANDING.read_values({}, "us")["places_time"] == 1
    assert format_figure(Decimal("4.25"), 1) == "4.3"


def test_a_7_inch_radius_is_a_14_inch_diameter() -> None:
    # Common practice, no source: the radius that makes 22/7 come out even.
    radius = parse_length("7 in", INCH).value
    assert 2 * radius == 14
    assert circle_area(radius, Fraction(22, 7)) == 154
    assert area_range(radius, 0) == (Decimal(154), Decimal(154))

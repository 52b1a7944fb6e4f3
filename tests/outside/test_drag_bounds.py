"""The drag that a device may imply, against Knacke's canopies.

Source: T. W. Knacke, Parachute Recovery Systems Design Manual, NWC TP 6575 (1991), chapter 5, C_D0 on the
flat or nominal area of solid and slotted canopies. The table was not at hand: the values stand from memory.
"""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction

import pytest

from design_challenges.kinds.soft_landing import SOFT_LANDING
from design_challenges.kinds.soft_landing.doubts import LEAST_DRAG, MOST_DRAG, find_doubt, implied_drag
from design_challenges.kinds.soft_landing.expected import height_m, masses_kg
from design_challenges.services.physics import air_density_kg_m3, fall_time_s, terminal_speed_from_drag

# From memory: type, lowest and highest C_D0.
KNACKE = [
    ("flat circular", 0.75, 0.80),
    ("conical", 0.75, 0.90),
    ("hemispherical", 0.62, 0.77),
    ("annular", 0.85, 0.95),
    ("cross", 0.60, 0.85),
    ("flat ribbon", 0.45, 0.50),
    ("guide surface", 0.28, 0.42),
]
FLAT_CIRCULAR = KNACKE[0]
VALUES = SOFT_LANDING.read_values({}, "us") | {"unit_system": "us"}
SIZES = {
    **{("canopy_diameter", way): Fraction(14) for way in (1, 2)},
    **{("line_length", line): Fraction(16) for line in range(1, 5)},
}


def time_of(drag: float) -> Decimal:
    """The time in s that a canopy of 14 in with this drag takes for the usual drop."""
    area, line = math.pi * (14 * 0.0254) ** 2 / 4, 16 * 0.0254
    mass = sum(masses_kg(VALUES, area, line))
    speed = terminal_speed_from_drag(mass, drag, air_density_kg_m3(0), area)
    return Decimal(repr(fall_time_s(height_m(VALUES), speed)))


@pytest.mark.parametrize(("name", "lowest", "highest"), KNACKE)
def test_every_canopy_of_the_table_can_be(name: str, lowest: float, highest: float) -> None:
    assert LEAST_DRAG < lowest < highest < MOST_DRAG, name
    for drag in (lowest, highest):
        assert implied_drag(VALUES, SIZES, [time_of(drag)]) == pytest.approx(drag, rel=1e-6)
        assert find_doubt(VALUES, SIZES, [(1, time_of(drag))]) is None


def test_a_radius_for_a_diameter_implies_more_than_three_times_the_drag() -> None:
    # A quarter of the area, and less film to weigh: a flat circular canopy lands at the edge of what can be.
    halves = {key: size / 2 if key[0] == "canopy_diameter" else size for key, size in SIZES.items()}
    for _name, lowest, highest in KNACKE:
        for drag in (lowest, highest):
            implied = implied_drag(VALUES, halves, [time_of(drag)])
            assert implied is not None
            assert 3 < implied / drag < 4
            doubt = find_doubt(VALUES, halves, [(1, time_of(drag))])
            assert (doubt is not None) == (implied > MOST_DRAG)
            if doubt is not None:
                assert "was the radius measured?" in str(doubt.ask)


def test_a_point_lost_by_one_place_cannot_be() -> None:
    time = time_of(FLAT_CIRCULAR[1]).quantize(Decimal("0.01"))
    doubt = find_doubt(VALUES, SIZES, [(1, time), (2, time * 10), (3, time)])
    assert doubt is not None
    assert str(doubt.ask).startswith(f"Drop 2 has {time * 10:f} s: was the point lost?")

"""The made thing beside its plan: how sizes are written, which screens there are, what it cost."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from design_challenges.kinds.base import Variable
from design_challenges.services import made
from design_challenges.services.lengths import parse_length
from design_challenges.services.units import CENTIMETRE, INCH
from tests import builders

VARIABLE = Variable("canopy_diameter", "Canopy diameter", lambda system: system.length.symbol, 2)


@pytest.mark.parametrize(
    ("value", "unit", "written"),
    [
        (Fraction(14), INCH, "14"),
        (Fraction(55, 4), INCH, "13 3/4"),
        (Fraction(221, 16), INCH, "13 13/16"),
        (Fraction(40, 3), INCH, "13.33"),
        (Fraction(441, 32), INCH, "13.78"),
        (Fraction(69, 2), CENTIMETRE, "34.5"),
        (Fraction(239, 8), CENTIMETRE, "29.875"),
        (Fraction(2755, 80), CENTIMETRE, "34.44"),
        (Fraction(103, 3), CENTIMETRE, "34.33"),
    ],
)
def test_a_size_is_written_as_a_tape_shows_it_or_else_rounded(
    value: Fraction, unit: Any, written: str
) -> None:
    assert made.write_size(value, VARIABLE, unit) == written


@given(st.integers(1, 640), st.sampled_from([1, 2, 4, 8, 16]))
def test_what_a_tape_shows_reads_back_exactly(numerator: int, denominator: int) -> None:
    value = Fraction(numerator, denominator)
    assert parse_length(made.write_size(value, VARIABLE, INCH), INCH).value == value


@pytest.mark.django_db
@pytest.mark.parametrize(("lines", "sizes"), [(2, [2, 2]), (4, [2, 4]), (5, [2, 4, 1]), (12, [2, 4, 4, 4])])
def test_no_screen_asks_for_more_than_four_spots(lines: int, sizes: list[int]) -> None:
    challenge = builders.make_challenge(builders.make_class(teams=1), values={"line_count": str(lines)})
    team = challenge.classroom.teams.get()
    builders.plan_round(challenge, team)
    record = builders.record_of(challenge, team)
    assert [len(part.spots) for part in made.parts(record)] == sizes
    assert not any(part.done for part in made.parts(record))


@pytest.mark.django_db
def test_before_all_is_measured_there_is_nothing_to_compare() -> None:
    challenge = builders.make_challenge(builders.make_class(teams=1))
    team = challenge.classroom.teams.get()
    builders.plan_round(challenge, team)
    record = builders.record_of(challenge, team)
    assert made.compare_with_plan(record) == []
    assert made.material(record) is None


@pytest.mark.django_db
def test_the_difference_is_that_of_the_sizes_as_they_are_shown() -> None:
    challenge = builders.make_challenge(builders.make_class(teams=1), values={"line_count": "3"})
    team = challenge.classroom.teams.get()
    builders.plan_round(challenge, team)
    builders.build_round(challenge, team, lines=("12 3/4", "12 3/4", "13"))
    _canopy, line = made.compare_with_plan(builders.record_of(challenge, team))
    # 12.8333… is shown as 12.83, and 13 − 12.83 is 0.17.
    assert (line.planned, line.made, str(line.difference)) == ("13", "12.83", "0.17 in less")


@pytest.mark.django_db
def test_differences_and_material_come_from_the_exact_sizes() -> None:
    challenge = builders.make_challenge(builders.make_class(teams=1), unit_system="metric")
    team = challenge.classroom.teams.get()
    builders.plan_round(challenge, team, radius="17", line="30")
    builders.build_round(challenge, team, across=("35", "34.5"), lines=("30", "29.5", "30", "30"))
    record = builders.record_of(challenge, team)
    canopy, line = made.compare_with_plan(record)
    assert (canopy.planned, canopy.made, str(canopy.difference)) == ("34", "34.75", "0.75 cm more")
    assert (line.planned, line.made, str(line.difference)) == ("30", "29.875", "0.125 cm less")
    assert list(line.readings) == ["30", "29.5", "30", "30"]
    material = made.material(record)
    assert material is not None
    # π · 17.375² = 948.4 → 948, and 948 + 8 · 119.5 = 1904
    assert (material.used, material.left, material.over_per_cent) == (Decimal(1904), Decimal(496), Decimal(0))


@pytest.mark.parametrize(
    ("value", "division", "written"),
    [
        (Fraction(257, 16), Fraction(1, 4), "16"),
        (Fraction(129, 8), Fraction(1, 4), "16 1/4"),
        (Fraction(111, 8), Fraction(1, 4), "14"),
        (Fraction(16), Fraction(1, 4), "16"),
    ],
)
def test_side_by_side_a_mean_is_written_at_the_nearest_mark(
    value: Fraction, division: Fraction, written: str
) -> None:
    assert made.write_nearest_mark(value, INCH, division) == written

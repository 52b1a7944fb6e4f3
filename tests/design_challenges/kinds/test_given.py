"""What the sums of the soft landing are worked from, as pages show it."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from design_challenges.kinds.soft_landing import SOFT_LANDING
from design_challenges.services.working import SumContext


def settings(unit_system: str = "us", **values: str) -> dict[str, Any]:
    return {
        "unit_system": unit_system,
        "trials_per_round": 3,
        "average": "mean",
        **SOFT_LANDING.read_values(values, unit_system),
    }


def shown(slug: str, context: SumContext) -> list[tuple[str, str]]:
    return [
        (str(name), str(value).replace("\N{NO-BREAK SPACE}", " "))
        for name, value in SOFT_LANDING.given(slug, context)
    ]


PLAN = {"canopy_radius": Fraction(27, 4), "line_length": Fraction(25, 2)}


def test_the_area_is_worked_from_the_radius() -> None:
    assert shown("area", SumContext(settings(), PLAN)) == [("Canopy radius", "6 3/4 in")]
    metric = SumContext(settings("metric"), {"canopy_radius": Fraction(35, 2)})
    assert shown("area", metric) == [("Canopy radius", "17.5 cm")]


def test_the_material_is_worked_from_the_team_s_own_area_and_the_prices() -> None:
    context = SumContext(settings(), PLAN, accepted={"area": Decimal(144)})

    assert shown("material", context) == [
        ("Canopy area", "144 in², at 1 point for each in²"),
        ("Lines", "4, each 12 1/2 in long"),
        ("Price of line", "3 points for each in"),
    ]


def test_a_rounding_is_worked_from_its_own_reading() -> None:
    context = SumContext(settings(), readings=(Decimal("4.12"), Decimal("3.98")), trials=(1, 3))

    assert shown("rounded_3", context) == [("Stopwatch, drop 3", "3.98 s")]


def test_mean_speed_and_change_are_worked_from_what_came_before() -> None:
    context = SumContext(
        settings(),
        readings=(Decimal("4.12"), Decimal("3.98"), Decimal("4.05")),
        accepted={"mean": Decimal("4.1")},
        before={"performance": Decimal("4.2")},
        now={"performance": Decimal("3.7")},
    )

    assert shown("mean", context) == [("Your rounded times", "4.1 s, 4.0 s, 4.1 s")]
    assert shown("speed", context) == [("Drop height", "15 ft"), ("Mean fall time", "4.1 s")]
    assert shown("change", context) == [("Round before", "4.2 ft/s"), ("This round", "3.7 ft/s")]


def test_a_sum_of_another_kind_has_nothing_to_show() -> None:
    assert shown("height", SumContext(settings())) == []


def test_the_table_has_the_team_s_row_among_its_neighbours() -> None:
    context = SumContext(settings(area_method="table"), PLAN)

    rows = SOFT_LANDING.table("area", context)

    assert ("6 3/4", "143") in rows
    assert rows[0] == ("4", "50")
    assert rows[-1] == ("9", "254")
    assert len(rows) == 21


def test_the_table_holds_a_radius_that_is_no_mark_on_the_tape() -> None:
    context = SumContext(settings(area_method="table"), {"canopy_radius": Fraction(32, 5)})

    assert ("6.4", "129") in SOFT_LANDING.table("area", context)


def test_the_table_begins_above_zero() -> None:
    context = SumContext(settings(area_method="table"), {"canopy_radius": Fraction(1)})

    assert SOFT_LANDING.table("area", context)[0] == ("1/4", "0")


@pytest.mark.parametrize("method", ["formula", "squares"])
def test_there_is_no_table_where_the_area_is_found_otherwise(method: str) -> None:
    assert not SOFT_LANDING.table("area", SumContext(settings(area_method=method), PLAN))


def test_the_rules_name_limit_and_prices_in_the_class_s_units() -> None:
    assert [(str(name), str(value)) for name, value in SOFT_LANDING.rules(settings("metric"))] == [
        ("Limit", "2400 points"),
        ("Canopy", "1 point for each cm²"),
        ("4 lines", "8 points for each cm"),
    ]

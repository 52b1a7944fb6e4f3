"""Charts: axes at round numbers, names that do not overlap, marks by round, and nothing built twice."""

from __future__ import annotations

import json
from decimal import Decimal
from fractions import Fraction
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from design_challenges.services import charts
from design_challenges.services.label_places import Box, Mark, place_names
from design_challenges.services.nice_axis import round_axis
from tests.support.yardstick import in_yards

MOST_YARDS = 5


def scatter(*points: tuple[str, int, str, str], size=charts.BOARD_WHOLE) -> charts.ScatterChart:
    return charts.ScatterChart(
        tuple(
            charts.ScatterPoint(team, number, Fraction(x), Decimal(y), f"{team} {y}")
            for team, number, x, y in points
        ),
        "Canopy diameter, in",
        "Fall speed, ft/s",
        size,
    )


def pairs(*rows: tuple[str, str | None, str | None, str]) -> charts.PairChart:
    return charts.PairChart(
        tuple(
            charts.Pair(
                team, Decimal(first) if first else None, Decimal(second) if second else None, verdict, team
            )
            for team, first, second, verdict in rows
        ),
        Decimal("4.4"),
        Decimal("3.9"),
        "median of round 1",
        "median of round 2",
        "Fall speed, ft/s",
    )


def traces(text: str, mode: str) -> list[dict]:
    return [trace for trace in json.loads(text)["data"] if trace["mode"] == mode]


# --- axes ---


@pytest.mark.parametrize(
    ("values", "texts"),
    [
        ("3.4 5.1", "3.0 3.5 4.0 4.5 5.0 5.5"),
        ("12 16", "11 12 13 14 15 16 17"),
        ("4.1 4.1", "4.0 4.1 4.2"),
        ("0.91 1.14", "0.8 0.9 1.0 1.1 1.2"),
        ("7.875 16.125", "6 8 10 12 14 16 18"),
        ("240 1310", "0 250 500 750 1000 1250 1500"),
    ],
)
def test_an_axis_begins_steps_and_ends_at_round_numbers(values, texts):
    axis = round_axis([Fraction(value) for value in values.split()])
    assert axis.texts == tuple(texts.split())
    assert (axis.low, axis.high) == (axis.ticks[0], axis.ticks[-1])


def test_an_axis_has_no_finer_ticks_than_the_figure():
    axis = round_axis([Fraction("3.4"), Fraction("4.8")], steps=6, places=1)
    assert axis.texts == ("3.0", "3.5", "4.0", "4.5", "5.0")


@given(st.lists(st.fractions(min_value=Fraction(1, 100), max_value=2000), min_size=1, max_size=30))
def test_an_axis_holds_every_value_in_a_few_even_steps_and_never_goes_below_zero(values):
    axis = round_axis(values)
    assert axis.low <= min(values)
    assert max(values) <= axis.high
    assert axis.low >= 0
    assert 2 <= len(axis.ticks) <= 13
    steps = [later - earlier for earlier, later in zip(axis.ticks, axis.ticks[1:], strict=False)]
    assert max(steps) - min(steps) < 1e-9 * max(steps) + 1e-9
    assert len(set(axis.texts)) == len(axis.texts)


# --- names ---


def test_sixteen_names_with_both_rounds_overlap_nowhere():
    marks = [
        Mark(80 + 67 * (place % 8) + 9 * (place % 3), 60 + 150 * (place // 8) + 23 * (place % 4), name)
        for place, name in enumerate(f"Sea Rovers {n}" for n in range(16))
    ]
    places = place_names([*marks, *(Mark(mark.x + 25, mark.y + 40) for mark in marks)], 1100, 440, 28, 12)
    boxes = [place.box for place in places if place is not None]
    assert len(boxes) == 16
    assert not [1 for one, other in combinations(boxes, 2) if one.overlaps(other)]
    assert all(box.inside(Box(0, 0, 1100, 440)) for box in boxes)


def test_a_mark_without_a_name_gets_no_place_and_is_not_covered():
    named, bare = Mark(100, 100, "Gannet"), Mark(130, 100)
    place, none = place_names([named, bare], 600, 400, 20, 8)
    assert none is None
    assert place is not None
    assert not place.box.overlaps(Box(122, 92, 138, 108))


def test_two_teams_on_the_same_spot_both_get_a_name():
    one, other = place_names([Mark(200, 200, "Gannet"), Mark(200, 200, "Heron")], 600, 400, 28, 11)
    assert not one.box.overlaps(other.box)


def test_a_name_without_any_room_is_left_out_rather_than_laid_over_another():
    marks = [Mark(20, 15, f"Sea Rovers {n}") for n in range(6)]
    places = place_names(marks, 190, 60, 20, 5)
    boxes = [place.box for place in places if place is not None]
    assert 1 <= len(boxes) < 6
    assert not [1 for one, other in combinations(boxes, 2) if one.overlaps(other)]


# --- the figure against a variable ---


def test_rounds_are_hollow_and_filled_and_a_trace_each():
    text = charts.scatter_json(scatter(("Gannet", 1, "12", "4.4"), ("Gannet", 2, "14", "3.9")))
    first, second = traces(text, "markers")
    assert first["marker"]["color"] == charts.SHEET
    assert first["marker"]["line"]["color"] == second["marker"]["color"] == charts.ROUND_BLUE
    assert (first["x"], second["x"]) == ([12.0], [14.0])


def test_a_teams_rounds_are_joined_in_one_trace_with_gaps():
    text = charts.scatter_json(
        scatter(
            ("Gannet", 1, "12", "4.4"),
            ("Gannet", 2, "14", "3.9"),
            ("Heron", 1, "9", "5.0"),
            ("Tern", 1, "8", "6"),
            ("Tern", 2, "9", "5"),
        )
    )
    (path,) = traces(text, "lines")
    assert path["x"] == [12.0, 14.0, None, 8.0, 9.0, None]


def test_each_team_is_named_once_at_its_latest_round():
    text = charts.scatter_json(scatter(("Gannet", 1, "12", "4.4"), ("Gannet", 2, "14", "3.9")))
    (name,) = json.loads(text)["layout"]["annotations"]
    assert (name["text"], name["x"], name["y"]) == ("Gannet", 14.0, 3.9)


def test_the_unit_stands_on_each_axis():
    layout = json.loads(charts.scatter_json(scatter(("Gannet", 1, "12", "4.4"))))["layout"]
    assert layout["xaxis"]["title"]["text"] == "Canopy diameter, in"
    assert layout["yaxis"]["title"]["text"] == "Fall speed, ft/s"


def test_a_team_name_is_never_markup():
    text = charts.scatter_json(scatter(("<b>A & B</b>", 1, "12", "4.4")))
    assert json.loads(text)["layout"]["annotations"][0]["text"] == "&lt;b&gt;A &amp; B&lt;/b&gt;"


def test_without_a_point_there_is_no_chart():
    assert charts.scatter_json(scatter()) == ""


def test_axes_hold_the_other_pages_of_the_board_too():
    one = scatter(("Gannet", 1, "12", "4.4"))
    wide = charts.ScatterChart(
        one.points,
        one.x_title,
        one.y_title,
        one.size,
        (Fraction(6), Fraction(20)),
        (Fraction(3), Fraction(8)),
    )
    layout = json.loads(charts.scatter_json(wide))["layout"]
    assert layout["xaxis"]["range"][0] <= 6
    assert layout["xaxis"]["range"][1] >= 20
    assert layout["yaxis"]["range"][1] >= 8


def test_the_same_numbers_are_not_built_twice():
    charts.scatter_json.cache_clear()
    first = charts.scatter_json(scatter(("Gannet", 1, "12", "4.4")))
    again = charts.scatter_json(scatter(("Gannet", 1, "12", "4.4")))
    assert again is first
    assert charts.scatter_json.cache_info().misses == 1
    charts.scatter_json(scatter(("Gannet", 1, "12", "4.5")))
    assert charts.scatter_json.cache_info().misses == 2


# --- round 1 beside round 2 ---


def test_both_rounds_are_joined_whole_for_better_and_dotted_for_not():
    text = charts.pair_json(
        pairs(("Gannet", "4.1", "3.6", "better"), ("Heron", "4.0", "4.4", "worse"), ("Tern", "4.4", None, ""))
    )
    better, worse = traces(text, "lines")
    assert better["x"] == [4.1, 3.6, None]
    assert worse["x"] == [4.0, 4.4, None]
    assert "dash" not in better["line"]
    assert worse["line"]["dash"] == "dot"
    first, second = traces(text, "markers")
    assert first["x"] == [4.1, 4.0, 4.4]
    assert second["x"] == [3.6, 4.4, None]


def test_teams_stand_from_top_to_bottom_in_the_order_given():
    layout = json.loads(
        charts.pair_json(pairs(("Tern", "4", "3", "better"), ("Gannet", "5", "4", "better")))
    )["layout"]
    assert layout["yaxis"]["ticktext"] == ["Tern", "Gannet"]
    assert layout["yaxis"]["range"][0] > layout["yaxis"]["range"][1]


def test_the_medians_are_marked_and_their_words_do_not_meet():
    layout = json.loads(charts.pair_json(pairs(("Gannet", "4.4", "3.9", "better"))))["layout"]
    assert sorted(line["x0"] for line in layout["shapes"]) == [3.9, 4.4]
    anchors = {name["x"]: name["xanchor"] for name in layout["annotations"]}
    assert anchors == {4.4: "left", 3.9: "right"}


def test_equal_medians_are_said_once():
    chart = charts.PairChart(
        (charts.Pair("Gannet", Decimal(4), Decimal(4), "same", ""),),
        Decimal(4),
        Decimal("4.0"),
        "both",
        "both",
        "s",
    )
    assert len(json.loads(charts.pair_json(chart))["layout"]["annotations"]) == 1


def test_teams_without_any_figure_make_no_picture():
    chart = charts.PairChart((charts.Pair("Gannet", None, None, "", ""),), None, None, "", "", "s")
    assert charts.pair_json(chart) == ""


def test_forty_teams_are_drawn_in_a_few_yards():
    charts.pair_json(pairs(("Warm up", "4", "3", "better")))
    chart = pairs(*((f"Team {n}", f"{4 + n / 20:.2f}", f"{3.9 + n / 25:.2f}", "better") for n in range(40)))
    charts.pair_json.cache_clear()
    assert in_yards(lambda: charts.pair_json(chart))[0] < MOST_YARDS


def test_a_whole_view_of_sixteen_teams_is_drawn_in_a_few_yards():
    points = [
        (f"Sea Rovers {n}", number, f"{10 + (n * 7) % 13 / 2}", f"{3.5 + (n * 5 + number * 3) % 17 / 7:.1f}")
        for n in range(16)
        for number in (1, 2)
    ]
    charts.scatter_json(scatter(("Warm up", 1, "12", "4.4")))
    charts.scatter_json.cache_clear()
    chart = scatter(*points)
    assert in_yards(lambda: charts.scatter_json(chart))[0] < MOST_YARDS

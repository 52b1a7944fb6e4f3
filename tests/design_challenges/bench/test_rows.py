"""The benchmark's rows: ratio, target and whether it is met; the fitted exponent; the table."""

from __future__ import annotations

import pytest

from design_challenges.bench.rows import Row, as_table, fit_exponent, machine


@pytest.mark.parametrize(
    ("row", "ratio", "met"),
    [
        (Row("save", 30, "/s", 100, 0.25, "at least"), 0.3, True),
        (Row("save", 20, "/s", 100, 0.25, "at least"), 0.2, False),
        (Row("gradebook", 140, "ms", 100, 1.3, "at most"), 1.4, False),
        (Row("analysis", 149, "ms", None, 150, "at most"), None, True),
        (Row("errors", 0, "", None, 0, "at most"), None, True),
        (Row("redraw", 40, "ms"), None, None),
        (Row("pages", None, "ms", None, 200, "at most"), None, None),
    ],
)
def test_a_target_is_held_against_the_ratio_where_there_is_a_baseline_else_against_the_value(row, ratio, met):
    assert row.ratio == ratio
    assert row.met is met
    told = row.as_json()
    assert set(told) >= {"name", "value", "unit", "baseline", "ratio", "target", "met"}
    assert (told["ratio"], told["met"]) == (ratio, met)


@pytest.mark.parametrize("exponent", [0, 0.5, 1, 2])
def test_the_exponent_of_a_power_is_found(exponent):
    sizes = [8, 80, 800]
    assert fit_exponent(sizes, [3 * size**exponent for size in sizes]) == pytest.approx(exponent)


def test_the_table_says_what_was_missed_and_what_was_not_measured():
    table = as_table(
        [
            Row("a", 20, "/s", 100, 0.25, "at least"),
            Row("b", None, "ms", note="no browser"),
            Row("c", 0.0, ""),
        ]
    )
    assert "| a | 20.0 /s | 100 /s | 0.20 | at least 0.25 | **missed** |" in table
    assert "| b | not measured |  |  |  | no browser |" in table
    assert "cores" in machine()

"""The materials list: what is wanted, what comes out of the sheets on hand, and the string."""

from __future__ import annotations

from fractions import Fraction

import pytest

from design_challenges.kinds.soft_landing.advice import longest_line
from design_challenges.kinds.soft_landing.kind import SOFT_LANDING
from design_challenges.services.cutting_plan import draw_cutting
from design_challenges.services.materials import Order, Stock, work_out
from design_challenges.services.packing import best_cutting


def values(unit_system="us", **stored):
    common = {"unit_system": unit_system, "trials_per_round": 3, "sums_by": "children", "average": "mean"}
    return {**common, **SOFT_LANDING.read_values(stored, unit_system)}


def order(**changes):
    usual = {
        "teams": 8,
        "rounds": 2,
        "spares": 1,
        "across": Fraction(15),
        "gap": Fraction(0),
        "line_count": 4,
        "line": Fraction(31, 2),
        "margin_per_cent": 10,
    }
    return Order(**{**usual, **changes})


def test_the_largest_canopy_leaves_the_shortest_lines_and_the_next_mark_does_not():
    for unit_system in ("us", "metric"):
        chosen = values(unit_system)
        needs = SOFT_LANDING.needs(chosen)
        mark = Fraction(chosen["tape_division"])
        assert longest_line(chosen, needs.largest / 2) >= 1
        assert longest_line(chosen, (needs.largest + mark) / 2) < 1
        assert longest_line(chosen, needs.line / 2) >= needs.line
        assert longest_line(chosen, (needs.line + mark) / 2) < needs.line + mark


def test_the_usual_inches_by_hand():
    # 375 points: a radius of 10 3/4 in has 363 in², which leaves 12 points, 1 in for each of 4 lines at 3.
    # Lines as long as the canopy is wide: r = 7 3/4 has 189, 375 - 189 = 186, 186 / 12 = 15.5 = 2 r.
    needs = SOFT_LANDING.needs(values())
    assert needs.largest == Fraction(43, 2)
    assert needs.line == Fraction(31, 2)
    assert needs.line_count == 4


def test_a_limit_that_allows_nothing_has_no_needs():
    assert SOFT_LANDING.needs(values(limit="5")) is None


def test_both_rounds_and_spares_are_counted_and_string_has_its_margin():
    found = work_out(order(), [Stock(Fraction(24), Fraction(30), 10)])
    assert found.order.devices == 17
    assert found.string == Fraction(17 * 4 * 31, 2) * Fraction(11, 10)
    # One canopy of 15 in across the 24, two along the 30.
    assert [(stock.squares.count, stock.staggered.count) for stock in found.stocks] == [(2, 2)]
    assert (found.pieces_had, found.pieces_missing, found.sheets_missing) == (20, 0, 0)


def test_what_is_missing_is_told_in_pieces_and_sheets():
    found = work_out(order(), [Stock(Fraction(24), Fraction(30), 3), Stock(Fraction(10), Fraction(90), 5)])
    assert found.pieces_had == 6
    assert found.pieces_missing == 11
    assert found.sheets_missing == 6
    assert found.stocks[1].best.count == 0


def test_no_sheet_that_is_large_enough_asks_for_no_number_of_sheets():
    assert work_out(order(), [Stock(Fraction(10), Fraction(90), 5)]).sheets_missing is None
    assert work_out(order(), []).sheets_missing is None


def test_the_gap_lies_between_pieces_and_not_at_the_edge():
    exact = [Stock(Fraction(31), Fraction(15), 1)]
    assert work_out(order(gap=Fraction(1)), exact).pieces_had == 2
    assert work_out(order(gap=Fraction(3, 2)), exact).pieces_had == 1


def test_a_drawing_shows_each_piece_inside_the_sheet():
    across, gap = Fraction(4), Fraction(1, 4)
    for width, length in ((Fraction(17, 2), Fraction(11)), (Fraction(30), Fraction(12))):
        cutting = best_cutting(across + gap, width + gap, length + gap)
        drawing = draw_cutting(cutting, across, gap, width, length)
        assert drawing is not None
        assert len(drawing.circles) == cutting.count
        radius = float(drawing.radius)
        for x, y in drawing.circles:
            assert radius - 0.1 <= float(x) <= float(drawing.width) - radius + 0.1
            assert radius - 0.1 <= float(y) <= float(drawing.height) - radius + 0.1


@pytest.mark.parametrize("across", ["50", "1/4"])
def test_nothing_and_far_too_many_pieces_are_not_drawn(across):
    size = Fraction(across)
    cutting = best_cutting(size, Fraction(24), Fraction(30))
    assert draw_cutting(cutting, size, Fraction(0), Fraction(24), Fraction(30)) is None

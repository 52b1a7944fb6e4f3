"""Circles cut from sheets, against the densities of the two lattices and small cases counted by hand.

Sources: the density of circles in a square lattice is π/4 and in a hexagonal lattice π/√12 (Lagrange 1773
for lattices; L. Fejes Tóth, "Über die dichteste Kugellagerung", Math. Z. 48 (1942) for all arrangements).
From memory: E. Specht's list of packings has 68 unit circles in a square of side 8 × the diameter or a
little less (64 in squares), and 106 in one of side 10; no way of cutting may give more than the best known.
"""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from design_challenges.services.packing import best_cutting, cut_squares, cut_staggered, share_used

HEXAGONAL, SQUARE = math.pi / math.sqrt(12), math.pi / 4


@pytest.mark.parametrize("side", [100, 1000, 10_000])
def test_the_share_of_a_large_sheet_tends_to_the_lattices(side):
    one, wide = Fraction(1), Fraction(side)
    squares = share_used(one, wide, wide, cut_squares(one, wide, wide).count)
    staggered = share_used(one, wide, wide, cut_staggered(one, wide, wide).count)
    print(
        f"\n{side:6} circles wide: squares {squares:.5f} (π/4 {SQUARE:.5f}),"
        f" staggered {staggered:.5f} (π/√12 {HEXAGONAL:.5f})"
    )
    # What the edges cost goes with 1/side: half a circle at the ends of every second row, and the first row.
    assert squares == pytest.approx(SQUARE, abs=1e-9)
    assert HEXAGONAL - 2 / side < staggered < HEXAGONAL


@pytest.mark.parametrize(
    ("across", "width", "length", "squares", "staggered"),
    [
        # one circle, exactly and with a hair missing
        (1, 1, 1, 1, 1),
        (Fraction(101, 100), 1, 1, 0, 0),
        # 2 × 2: four squares; a second shifted row holds one, 2 + 1
        (1, 2, 2, 4, 3),
        # a row of three, then two: (1 + √3/2 = 1.87) needs 2 of length
        (1, 3, 2, 6, 5),
        # half a circle more of width: the shifted row is full, 3 + 3 in 1.87 of length, where squares get 3
        (1, Fraction(7, 2), Fraction(19, 10), 3, 6),
        # 1.86 is too short for the second row (√3/2 = 0.8660…), so one row it is
        (1, Fraction(7, 2), Fraction(186, 100), 3, 3),
        # 10 × 10: eleven rows, 6 × 10 + 5 × 9
        (1, 10, 10, 100, 105),
        # a strip one and a half wide, turned: rows of one shifted by half, six in 1 + 5 × 0.866 = 5.33
        (1, Fraction(3, 2), Fraction(16, 3), 5, 6),
        # US letter, circles of 4 in: 2 × 2; staggered three rows (4 + 2 × 3.46 = 10.93), 2 + 1 + 2
        (4, Fraction(17, 2), 11, 4, 5),
        # a bag cut open, 24 × 33 in, canopies of 10 in: 2 × 3; staggered three rows (10 + 2 × 8.66 = 27.3),
        # 2 + 1 + 2; turned two rows, 3 + 2
        (10, 24, 33, 6, 5),
    ],
)
def test_small_cases_counted_by_hand(across, width, length, squares, staggered):
    sizes = Fraction(across), Fraction(width), Fraction(length)
    assert cut_squares(*sizes).count == squares
    assert cut_staggered(*sizes).count == staggered
    assert best_cutting(*sizes).count == max(squares, staggered)


def test_squares_are_chosen_where_both_give_as_many():
    assert best_cutting(Fraction(10), Fraction(24), Fraction(33)).way == "squares"


def test_no_more_than_the_best_known_packing_comes_out():
    assert best_cutting(Fraction(1), Fraction(8), Fraction(8)).count <= 68
    assert best_cutting(Fraction(1), Fraction(10), Fraction(10)).count <= 106


@pytest.mark.parametrize("sizes", [(0, 1, 1), (1, 0, 1), (1, 1, -1)])
def test_sizes_of_nothing_are_refused(sizes):
    with pytest.raises(ValueError, match="above 0"):
        best_cutting(*(Fraction(size) for size in sizes))


def _centres(cutting, across, width, length):
    """Lay the circles out as the drawing of a cutting does, in floats."""
    if cutting.turned:
        width, length = length, width
    step = across * (1 if cutting.way == "squares" else math.sqrt(3) / 2)
    for row, count in enumerate(cutting.rows):
        shift = across / 2 if cutting.way == "staggered" and row % 2 else 0
        for place in range(count):
            yield across / 2 + shift + place * across, across / 2 + row * step, width, length


sizes = st.fractions(min_value=Fraction(1, 2), max_value=Fraction(20), max_denominator=16)


@given(across=sizes, width=sizes, length=sizes)
def test_every_circle_lies_inside_and_apart_from_every_other(across, width, length):
    for cut in (cut_squares, cut_staggered):
        cutting = cut(across, width, length)
        if cutting.count > 200:
            continue
        laid = list(_centres(cutting, float(across), float(width), float(length)))
        radius = float(across) / 2
        for x, y, wide, long in laid:
            assert radius - 1e-9 <= x <= wide - radius + 1e-9
            assert radius - 1e-9 <= y <= long - radius + 1e-9
        for place, (x, y, *_) in enumerate(laid):
            for other_x, other_y, *_ in laid[:place]:
                assert math.hypot(x - other_x, y - other_y) >= 2 * radius - 1e-9


@given(across=sizes, width=sizes, length=sizes)
def test_a_turned_sheet_gives_as_many(across, width, length):
    assert best_cutting(across, width, length).count == best_cutting(across, length, width).count

"""The D-criterion against designs known to be D-optimal, and the physics' slopes against a closed form."""

from __future__ import annotations

import itertools
import math
from fractions import Fraction

import pytest

from design_challenges.kinds.soft_landing.expected import FallEffects, masses_kg, open_share
from design_challenges.services import physics
from design_challenges.services.analysis.experiment import best_layout, d_criterion, own_spreads
from tests.support.class_records import class_values

SQUARE = [(float(x), float(y)) for x in (-1, -0.5, 0, 0.5, 1) for y in (-1, -0.5, 0, 0.5, 1)]
CORNERS = {(-1.0, -1.0), (-1.0, 1.0), (1.0, -1.0), (1.0, 1.0)}


def test_of_all_four_points_of_a_square_the_factorial_s_corners_are_best() -> None:
    # Atkinson, Donev and Tobias, Optimum Experimental Designs, with SAS (Oxford, 2007), chapter 11: for a
    # first-order model on a square the 2² factorial is D-optimal; XᵀX = 4·I, so det(XᵀX)^(1/3)/4 = 1
    # (from memory).
    best = max(itertools.combinations(SQUARE, 4), key=d_criterion)
    assert set(best) == CORNERS
    assert math.isclose(d_criterion(best), 1.0, rel_tol=1e-14)
    others = [points for points in itertools.combinations(SQUARE, 4) if set(points) != CORNERS]
    assert max(d_criterion(points) for points in others) < 1


def test_the_layout_chosen_on_a_square_is_the_factorial_s_corners() -> None:
    steps = [Fraction(step, 2) for step in range(-2, 3)]
    layout = best_layout(steps, steps, lambda a, b: (float(a), float(b)))
    assert layout is not None
    assert layout[:2] == ((-1, 1), (-1, 1))
    assert math.isclose(layout[2], 1.0, rel_tol=1e-14)


def test_three_factors_have_the_cube_s_corners() -> None:
    cube = [tuple(map(float, point)) for point in itertools.product((-1, 1), repeat=3)]
    assert math.isclose(d_criterion(cube), 1.0, rel_tol=1e-14)
    # A half fraction (x₃ = x₁x₂) is as good a point; a design without one factor tells nothing of it.
    half = [point for point in cube if point[0] * point[1] == point[2]]
    assert math.isclose(d_criterion(half), 1.0, rel_tol=1e-14)
    assert d_criterion([point for point in cube if point[2] > 0]) == 0


def test_the_criterion_is_the_determinant_of_the_whole_model() -> None:
    import numpy as np

    points = [(0.3, 1.2), (1.1, -0.4), (2.2, 0.9), (0.7, 0.1), (1.9, -1.3)]
    model = np.array([(1.0, *point) for point in points])
    whole = float(np.linalg.det(model.T @ model)) ** (1 / 3) / len(points)
    assert math.isclose(d_criterion(points), whole, rel_tol=1e-12)
    # What each varies by itself: one over the diagonal of the inverse, per point.
    diagonal = np.diag(np.linalg.inv(model.T @ model))[1:]
    for mine, theirs in zip(own_spreads(points), diagonal, strict=True):
        assert math.isclose(mine * len(points), 1 / theirs, rel_tol=1e-12)


@pytest.mark.parametrize("load", ["2", "6", "50", "500"])
def test_the_area_s_exponent_is_worked_out_from_the_masses(load: str) -> None:
    # v² = 2mg/(ρ·C_D·A) with m = load + film·A + line·n·L and L/d held, so that L grows as √A:
    # d ln v/d ln A = −1/2 + (film's share of the mass)/2 + (lines' share)/4, for the terminal speed.
    # The mean speed of a fall from rest follows it by d ln v̄/d ln v_t, worked out here by the chain rule.
    values = class_values(values={"load_mass": load})
    area, ratio = 0.1, 1.0
    line = ratio * math.sqrt(4 * area / math.pi)
    load_kg, film_kg, lines_kg = masses_kg(values, area, line)
    mass = load_kg + film_kg + lines_kg
    terminal = physics.terminal_speed_from_drag(
        mass, 0.75 * open_share(ratio), physics.air_density_kg_m3(0), area
    )
    by_terminal = -0.5 + (film_kg / 2 + lines_kg / 4) / mass
    height, step = 15 * 0.3048, 1e-6
    up = math.log(height / physics.fall_time_s(height, terminal * (1 + step)))
    down = math.log(height / physics.fall_time_s(height, terminal * (1 - step)))
    expected = by_terminal * (up - down) / (2 * step)
    found = FallEffects(values).slopes((math.log(area), ratio))
    assert math.isclose(found[0], expected, rel_tol=1e-4)
    if load == "2":
        assert by_terminal > -0.3
    if load == "500":
        assert abs(by_terminal + 0.5) < 0.003


def test_longer_lines_help_less_and_less() -> None:
    effects = FallEffects(class_values())
    slopes = [effects.slopes((math.log(0.1), ratio))[1] for ratio in (0.4, 0.8, 1.2, 1.6)]
    assert slopes == sorted(slopes)
    assert slopes[0] < slopes[1] / 2 < 0

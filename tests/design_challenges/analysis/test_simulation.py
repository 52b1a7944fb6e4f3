"""What is claimed, over thousands of classes made from the physics: how often it is right, printed.

Fixed seeds. Every case runs over 2,000 classes, the class experiment over fewer here and over 2,000 with
--long.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
import pytest

from design_challenges.kinds.soft_landing.expected import DIAMETER
from design_challenges.kinds.soft_landing.plan_sums import LINE
from design_challenges.services.analysis import alike, cited, separation
from design_challenges.services.analysis.gather import ClassData
from design_challenges.services.analysis.regression import least_squares
from design_challenges.services.analysis.regression_to_mean import pulled
from design_challenges.services.analysis.teacher import (
    ClassGain,
    TeamChange,
    apart,
    class_gain,
    designs_of,
    offer,
)
from design_challenges.services.analysis.variance import one_way, repeatability
from tests.support.simulated_classes import SOFT_LANDING, Sizes, World, times_again

CLASSES, TEAMS, DROPS = 2000, 8, 3
Say = Callable[[str], None]


@pytest.fixture
def say(capsys: pytest.CaptureFixture[str]) -> Say:
    """Print past pytest's capture: the figures are to be read."""

    def out(line: str) -> None:
        with capsys.disabled():
            print(f"\n{line}", end="")

    return out


def share_all_longer(build_scatter: float) -> float:
    first, second = times_again(
        np.random.default_rng(11), CLASSES, TEAMS, DROPS, drop_scatter=0.03, build_scatter=build_scatter
    )
    longer = second.min(axis=2) > first.max(axis=2)
    # The product's own rule on some of the teams, so that what is counted is what is said.
    for row in range(50):
        for team in range(TEAMS):
            said = separation.seen(first[row, team].tolist(), second[row, team].tolist())
            assert (said == "longer") == bool(longer[row, team])
    assert separation.may_be_said(DROPS, DROPS)
    return float(longer.mean())


def test_all_longer_is_said_of_the_same_device_five_times_in_a_hundred(say: Say) -> None:
    same = share_all_longer(0.0)
    rebuilt = {
        name: share_all_longer(0.03 * times) for name, times in (("half", 0.5), ("once", 1), ("twice", 2))
    }
    say(
        f"all longer at 3+3, {CLASSES} classes of {TEAMS}: same device {100 * same:.2f} % (5 ± 0.8); "
        f"rebuilt to the same plan, builds varying half, once, twice as much as drops: "
        f"{', '.join(f'{100 * share:.1f}' for share in rebuilt.values())} %"
    )
    assert abs(same - 0.05) <= 0.008
    # What the teacher's page says is what this finds.
    for name, share in rebuilt.items():
        assert abs(100 * share - int(cited.REBUILT[name])) <= 1.0


# --- the class's change ----------------------------------------------------------------------------------


def gain_of(data: ClassData) -> ClassGain:
    """The class's gain, without the tests of single teams, which take most of the time."""
    lower = data.performance.lower_is_better
    changes = []
    for team in data.teams:
        first, second = team.builds[1], team.builds[2]
        change = second.figure - first.figure
        changes.append(TeamChange(team.team_id, team.team, first, second, lower, change, None, None))
    return class_gain(data, changes)


def designs_of_a_class(world: World) -> list[list[Sizes]]:
    """Round 1 leaves some of the limit unused, round 2 less of it."""
    return [[world.near_the_limit(0.6, 1.0), world.near_the_limit(0.85, 1.0)] for _ in range(TEAMS)]


def population_change(world: World, teams: int = 40_000) -> tuple[float, float]:
    """The mean change, and the mean figure of round 1, over very many teams: times alone, no product code."""
    height = float(world.values["drop_height"])
    figures = []
    for low in (0.6, 0.85):
        true = np.array([world.true_time_s(world.near_the_limit(low, 1.0)) for _ in range(teams)])
        built = true * world.flaws(teams)
        drops = np.exp(world.drop_scatter * world.random.standard_normal((teams, DROPS)))
        figures.append(height / (built[:, None] * drops).mean(axis=1))
    return float((figures[1] - figures[0]).mean()), float(figures[0].mean())


@dataclass
class Gains:
    """Estimates and intervals of many classes."""

    values: np.ndarray
    lows: np.ndarray
    highs: np.ndarray

    def covers(self, truth: float) -> float:
        return float(((self.lows <= truth) & (truth <= self.highs)).mean())


def gains(seed: int, *, day: float = 1.0, reference_drops: int = 0) -> Gains:
    world = World(seed)
    rows = []
    for _ in range(CLASSES):
        reference = world.reference(reference_drops, day) if reference_drops else None
        data = world.classroom(designs_of_a_class(world), DROPS, day=day, reference=reference)
        mean = gain_of(data).mean
        assert mean is not None
        rows.append((mean.value, mean.low, mean.high))
    table = np.array(rows)
    return Gains(table[:, 0], table[:, 1], table[:, 2])


def test_the_class_interval_covers_the_population_95_times_in_a_hundred(say: Say) -> None:
    truth, figure = population_change(World(21))
    found = gains(22)
    covered = found.covers(truth)
    say(
        f"class interval, {CLASSES} classes of {TEAMS}: covers the population's mean change "
        f"({truth:+.3f} ft/s of {figure:.2f}) in {100 * covered:.1f} % (95 ± 1.5); "
        f"mean estimate {found.values.mean():+.3f}"
    )
    assert abs(covered - 0.95) <= 0.015


def test_a_shift_of_the_day_is_taken_out_without_bias(say: Say) -> None:
    truth, figure = population_change(World(31))
    left_in = gains(32, day=1.08)
    taken_out = gains(32, day=1.08, reference_drops=3)
    bias = (taken_out.values.mean() - truth) / figure
    say(
        f"shift of the day 8 %, {CLASSES} classes: left in, the change is off by "
        f"{100 * (left_in.values.mean() - truth) / figure:+.1f} % of the fall speed; with 3 reference "
        f"drops a day {100 * bias:+.2f} % (within 1), interval covers {100 * taken_out.covers(truth):.1f} %"
    )
    assert abs(bias) <= 0.01
    assert abs(left_in.values.mean() - truth) / figure > 0.05
    assert abs(taken_out.covers(truth) - 0.95) <= 0.025


def test_what_is_said_to_come_by_itself_does(say: Say) -> None:
    # The same devices dropped again: nothing was made better, so all that is gained comes by itself.
    world = World(61, drop_scatter=0.06)
    gained, said, held = [], [], 0
    for _ in range(CLASSES):
        flaws = world.flaws(TEAMS)
        times = [world.true_time_s(world.near_the_limit(0.6, 1.0)) * float(flaw) for flaw in flaws]
        first, second = (np.array([world.hundredths(time, DROPS) for time in times]) for _ in range(2))
        figures = [15 / (drops.mean(axis=1) / 100) for drops in (first, second)]
        single = repeatability(one_way((1500 / first).tolist()))
        found = pulled(figures[0].tolist(), figures[1].tolist(), DROPS, single, lower_is_better=True)
        assert found is not None
        gained.append(found.gain)
        said.append(found.by_itself.value)
        held += found.by_itself.low <= found.by_itself.value <= found.by_itself.high
    say(
        f"worst third, same devices dropped again, {CLASSES} classes: gained {np.mean(gained):.3f} ft/s, "
        f"said to come by itself {np.mean(said):.3f}"
    )
    assert held == CLASSES
    assert abs(np.mean(said) / np.mean(gained) - 1) < 0.15


# --- separate effects ------------------------------------------------------------------------------------


def effects_claimed(classes: int, seed: int = 41) -> tuple[float, float]:
    """The shares of near-limit classes in which any separate effect is claimed, and any is given at all."""
    world = World(seed)
    model = SOFT_LANDING.effects(world.values)
    assert model is not None
    claimed = given = 0
    for _ in range(classes):
        designs = [[world.near_the_limit(), world.near_the_limit()] for _ in range(TEAMS)]
        found = apart(designs_of(world.classroom(designs, DROPS)), model)
        given += bool(found.effects)
        claimed += any(effect.estimate.excludes_zero for effect in found.effects)
    return claimed / classes, given / classes


def test_near_the_limit_no_separate_effect_is_claimed(say: Say) -> None:
    claimed, given = effects_claimed(CLASSES)
    say(
        f"all teams within 10 % of the limit, {CLASSES} classes: a separate effect is claimed in "
        f"{100 * claimed:.2f} % (at most 1), given with its interval in {100 * given:.2f} %"
    )
    assert claimed <= 0.01


def test_designs_that_are_not_tied_give_effects_that_hold_what_physics_gives(say: Say) -> None:
    world = World(45)
    model = SOFT_LANDING.effects(world.values)
    assert model is not None
    given, covered, classes = 0, np.zeros(2), 300
    for _ in range(classes):
        designs = [[free_design(world) for _ in range(2)] for _ in range(TEAMS)]
        found = apart(designs_of(world.classroom(designs, DROPS)), model)
        if not found.effects:
            continue
        given += 1
        covered += [
            effect.estimate.low <= effect.expected <= effect.estimate.high for effect in found.effects
        ]
    shares = 100 * covered / given
    say(
        f"designs drawn freely, {classes} classes of {TEAMS}: separate effects given in "
        f"{100 * given / classes:.0f} %, intervals hold physics' slope of area in {shares[0]:.1f} %, "
        f"of lines in {shares[1]:.1f} %"
    )
    assert given > classes / 4
    assert shares.min() > 92


def free_design(world: World) -> Sizes:
    """A canopy of 12 to 16 in and lines of 0.9 to 1.7 times that, where its effect is nearly straight."""
    across = Fraction(int(world.random.integers(24, 33)), 2)
    return across, Fraction(round(float(across) * world.random.uniform(0.9, 1.7) * 4), 4)


def signs_found(world: World, designs: list[Sizes], drops: int) -> tuple[bool, bool]:
    """Build and drop these designs: whether both slopes have physics' sign, and whether both are shown."""
    model = SOFT_LANDING.effects(world.values)
    assert model is not None
    built = world.classroom([[sizes] for sizes in designs], drops)
    terms = [model.terms_of(build.design) for build in built.builds]
    columns = [[term[place] for term in terms] for place in range(2)]
    fit = least_squares(columns, [math.log(build.figure) for build in built.builds])
    if fit is None:
        return False, False
    estimates = [fit.estimate(1), fit.estimate(2)]
    middle = (math.fsum(columns[0]) / len(terms), math.fsum(columns[1]) / len(terms))
    signs = zip(estimates, model.slopes(middle), strict=True)
    right = all((estimate.value > 0) == (slope > 0) for estimate, slope in signs)
    return right, right and all(estimate.excludes_zero for estimate in estimates)


def test_the_class_experiment_finds_both_signs_more_often_than_the_class_s_own_designs(say: Say) -> None:
    world = World(51)
    model = SOFT_LANDING.effects(world.values)
    assert model is not None
    offered = 0
    found = {"experiment": np.zeros(2), "own": np.zeros(2)}
    gain = []
    for _ in range(CLASSES):
        designs = [[world.near_the_limit(0.8), world.near_the_limit()] for _ in range(TEAMS)]
        data = world.classroom(designs, DROPS)
        plan = offer(data, designs_of(data), model, None)
        if plan is None:
            continue
        offered += 1
        gain.append(plan.gain)
        within = alike.tolerances(data)
        assert len({tuple(share.design.values()) for share in plan.shares}) == 4
        assert all(model.inside_limit(share.design) for share in plan.shares)
        for share, build in zip(plan.shares, (team.builds[2] for team in data.teams), strict=True):
            sizes = {slug: float(size) for slug, size in share.design.items()}
            assert set(share.keeps) == set(sizes) - set(alike.differing(build.sizes, sizes, within))
        layouts = {
            "experiment": [(share.design[DIAMETER], share.design[LINE]) for share in plan.shares],
            "own": [(team.builds[2].design[DIAMETER], team.builds[2].design[LINE]) for team in data.teams],
        }
        for name, sizes_of in layouts.items():
            found[name] += signs_found(world, sizes_of, 5)
    assert offered > 0
    shares = {name: 100 * counts / offered for name, counts in found.items()}
    said = {
        name: f"right in {right:.0f} %, shown in {shown:.0f} %" for name, (right, shown) in shares.items()
    }
    say(
        f"class experiment at five drops, {CLASSES} classes, offered in {100 * offered / CLASSES:.0f} % "
        f"(standard errors {np.median(gain):.1f} times smaller, median): signs of both effects "
        f"{said['experiment']}; by the class's own designs {said['own']}"
    )
    assert shares["experiment"][0] > shares["own"][0]

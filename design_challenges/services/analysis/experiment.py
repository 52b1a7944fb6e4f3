"""A class experiment: two sizes by two that tell two variables apart better than the class's own."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from design_challenges.kinds.base import EffectModel

from .alike import Sizes, Tolerances, differing
from .gather import Build

LEAST_TEAMS = 4
LEAST_GAIN = 1.1
"""A layout that separates hardly better than what the class has is not worth a lesson."""
SIZES_TRIED = 12
LOWEST_SHARE = Fraction(1, 2)

Design = Mapping[str, Fraction]
Terms = tuple[float, float]


@dataclass(frozen=True)
class Share:
    """What one team does: its design in the experiment, and which variables it keeps as they are."""

    team_id: int
    team: str
    design: Design
    keeps: tuple[str, ...]


@dataclass(frozen=True)
class Experiment:
    """The chosen layout: two sizes of each variable, who makes which, and how much better it separates.

    `gain` is how many times smaller the standard error of the less improved of the two effects becomes, with
    as many devices; infinite where the class's own designs separate nothing. `d_ratio` is that of the
    D-criteria.
    """

    sizes: Mapping[str, tuple[Fraction, Fraction]]
    shares: tuple[Share, ...]
    gain: float
    d_ratio: float


def d_criterion(points: Sequence[Sequence[float]]) -> float:
    """det(XᵀX)^(1/p)/n of a linear model with a constant, p coefficients and n points: more is better.

    Per point, so that designs of different size compare. 0 where the terms cannot be told apart, or for
    no points. Source: Atkinson, Donev and Tobias, Optimum Experimental Designs, with SAS (2007), chapter 11.
    """
    count = len(points)
    if not count:
        return 0.0
    width = len(points[0])
    means = [math.fsum(point[j] for point in points) / count for j in range(width)]
    rows = [[value - mean for value, mean in zip(point, means, strict=True)] for point in points]
    # The constant's row and column leave n times the determinant of what is left about the means.
    inner = [[math.fsum(row[i] * row[j] for row in rows) for j in range(width)] for i in range(width)]
    determinant = _determinant(inner)
    return max(0.0, count * determinant) ** (1 / (width + 1)) / count


def own_spreads(points: Sequence[Terms]) -> Terms:
    """What each of two terms varies by itself, per point: its variance less what goes with the other term.

    The variance of an effect estimated with the other held is one over this, times that of a figure over the
    number of points. (0, 0) where the terms do not vary.
    """
    count = len(points)
    if not count:
        return 0.0, 0.0
    x, z = ([point[place] for point in points] for place in range(2))
    mean_x, mean_z = math.fsum(x) / count, math.fsum(z) / count
    xx = math.fsum((value - mean_x) ** 2 for value in x)
    zz = math.fsum((value - mean_z) ** 2 for value in z)
    if not (xx > 0 and zz > 0):
        return 0.0, 0.0
    xz = math.fsum((a - mean_x) * (b - mean_z) for a, b in zip(x, z, strict=True))
    alone = max(0.0, 1 - xz**2 / (xx * zz)) / count
    return xx * alone, zz * alone


def _determinant(matrix: list[list[float]]) -> float:
    if len(matrix) == 2:
        (a, b), (c, d) = matrix
        return a * d - b * c
    rows = [row[:] for row in matrix]
    found = 1.0
    for place in range(len(rows)):
        best = max(range(place, len(rows)), key=lambda row: abs(rows[row][place]))
        if rows[best][place] == 0:
            return 0.0
        if best != place:
            rows[place], rows[best] = rows[best], rows[place]
            found = -found
        found *= rows[place][place]
        for row in rows[place + 1 :]:
            factor = row[place] / rows[place][place]
            for column in range(place, len(row)):
                row[column] -= factor * rows[place][column]
    return found


def best_layout(
    firsts: Sequence[Fraction],
    seconds: Sequence[Fraction],
    terms_of: Callable[[Fraction, Fraction], Terms | None],
) -> tuple[tuple[Fraction, Fraction], tuple[Fraction, Fraction], float] | None:
    """Choose two of each size whose four combinations have the largest D-criterion.

    `terms_of` gives a combination's two terms, or None where a teacher would not accept it. Returns the
    two first sizes, the two second sizes and the criterion; None where no four are accepted.
    """
    found = {(a, b): terms_of(a, b) for a in firsts for b in seconds}
    best = None
    for place, low in enumerate(firsts):
        for high in firsts[place + 1 :]:
            shared = [b for b in seconds if found[low, b] is not None and found[high, b] is not None]
            for at, short in enumerate(shared):
                for long in shared[at + 1 :]:
                    points = [found[a, b] for a in (low, high) for b in (short, long)]
                    criterion = d_criterion([point for point in points if point is not None])
                    if criterion > (best[2] if best else 0.0):
                        best = ((low, high), (short, long), criterion)
    return best


def plan_experiment(
    builds: Sequence[Build],
    first_round: Sequence[Build],
    effects: EffectModel,
    within: Tolerances,
    *,
    lower_is_better: bool,
    largest: Fraction | None = None,
) -> Experiment | None:
    """Plan an experiment from the class's own builds; None where none is better than what the class has.

    The sizes lie between the smallest and the largest that the class has built (lines also down to half the
    shortest), the first variable's at most `largest` where the materials on hand end there. Every combination
    keeps to the limit, and theory, brought to the class's own level, expects none to do worse than the middle
    of `first_round`. Each team's latest build is what it may keep.
    """
    latest = list({build.team_id: build for build in sorted(builds, key=lambda build: build.round)}.values())
    latest.sort(key=lambda build: build.place)
    if len(latest) < LEAST_TEAMS or not first_round:
        return None
    first, second = effects.variables
    expected = [effects.log_figure(effects.terms_of(build.design)) for build in builds]
    level = math.fsum(math.log(b.figure) - e for b, e in zip(builds, expected, strict=True)) / len(builds)
    ordered = sorted(math.log(build.figure) for build in first_round)
    middle = (ordered[(len(ordered) - 1) // 2] + ordered[len(ordered) // 2]) / 2

    def accepted(a: Fraction, b: Fraction) -> Terms | None:
        design = {first: a, second: b}
        if not effects.inside_limit(design):
            return None
        terms = effects.terms_of(design)
        figure = effects.log_figure(terms) + level
        return terms if (figure <= middle if lower_is_better else figure >= middle) else None

    firsts = [build.design[first] for build in builds]
    seconds = [build.design[second] for build in builds]
    highest = max(firsts) if largest is None else min(largest, max(firsts))
    layout = best_layout(
        effects.marks(first, min(firsts), highest, SIZES_TRIED),
        effects.marks(second, min(seconds) * LOWEST_SHARE, max(seconds), SIZES_TRIED),
        accepted,
    )
    if layout is None:
        return None
    sizes = {first: layout[0], second: layout[1]}
    cells = [effects.terms_of({first: a, second: b}) for a in layout[0] for b in layout[1]]
    own = [effects.terms_of(build.design) for build in builds]
    gain = _gain(own_spreads(own), own_spreads(cells))
    if gain < LEAST_GAIN:
        return None
    criterion = d_criterion(own)
    return Experiment(
        sizes, _share_out(latest, sizes, within), gain, layout[2] / criterion if criterion > 0 else math.inf
    )


def _gain(own: Terms, planned: Terms) -> float:
    ratios = [ours / theirs if theirs > 0 else math.inf for theirs, ours in zip(own, planned, strict=True)]
    return math.sqrt(min(ratios))


def _share_out(
    builds: Sequence[Build],
    sizes: Mapping[str, tuple[Fraction, Fraction]],
    within: Tolerances,
) -> tuple[Share, ...]:
    """Give every team one of the four designs, equally many each, so that little is made anew."""
    from scipy.optimize import linear_sum_assignment

    (first, firsts), (second, seconds) = sizes.items()
    cells = [{first: a, second: b} for a in firsts for b in seconds]
    places = [cells[place % len(cells)] for place in range(-(-len(builds) // len(cells)) * len(cells))]
    rough = [{slug: float(size) for slug, size in cell.items()} for cell in places]
    cost = [[_trouble(build.sizes, cell, within) for cell in rough] for build in builds]
    # A place more than teams stays empty; each cell has one at most, so that the shares stay even.
    chosen = dict(zip(*linear_sum_assignment(cost), strict=True))
    return tuple(
        Share(
            build.team_id,
            build.team,
            places[chosen[row]],
            tuple(slug for slug in sizes if slug not in differing(build.sizes, rough[chosen[row]], within)),
        )
        for row, build in enumerate(builds)
    )


def _trouble(own: Sizes, cell: Sizes, within: Tolerances) -> float:
    """One for each variable that is made anew, and a little for how far it goes."""
    far = sum(abs(own[slug] / cell[slug] - 1) for slug in cell)
    return len(differing(own, cell, within)) + far / 100

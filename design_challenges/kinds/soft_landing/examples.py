"""Other numbers for the soft landing's sums: what one child works alone, made from a seed."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from random import Random
from typing import Any

from design_challenges.services.rounding import round_half_up
from design_challenges.services.working import SumContext

from .plan_sums import LINE, RADIUS, system

# Shortest and longest, in the class's length unit, of what a class builds.
RADII = {"us": (4, 12), "metric": (10, 30)}
LINES = {"us": (6, 20), "metric": (15, 50)}
TIMES_HUNDREDTHS = (220, 560)
SPREAD_PER_CENT = 12


def example(values: Mapping[str, Any], seed: str) -> SumContext:
    """Numbers as a team might have them, the same for the same seed; sizes are marks of the class's tape."""
    random = Random(seed)  # noqa: S311 (numbers to practise with, no secret)
    slug, division = system(values).slug, Fraction(values.get("tape_division", 1))

    def size(least: int, most: int) -> Fraction:
        return division * random.randint(int(least / division), int(most / division))

    middle = random.randint(*TIMES_HUNDREDTHS)
    off = middle * SPREAD_PER_CENT // 200
    times = [middle + random.randint(-off, off) for _drop in range(int(values["trials_per_round"]))]
    figures = _figures(values, random)
    return SumContext(
        settings=values,
        sizes={RADIUS: size(*RADII[slug]), LINE: size(*LINES[slug])},
        readings=tuple(Decimal(time).scaleb(-2) for time in times),
        before={"performance": figures[0]},
        now={"performance": figures[1]},
    )


def _figures(values: Mapping[str, Any], random: Random) -> tuple[Decimal, Decimal]:
    """Two figures of two rounds, the second one different."""
    by_time = values.get("compare", "speed") == "time"
    places = int(values["places_time" if by_time else "places_speed"])
    first, second = random.sample(range(*TIMES_HUNDREDTHS), 2)
    if by_time:
        one, other = (round_half_up(Fraction(time, 100), places) for time in (first, second))
    else:
        height = Fraction(values["drop_height"])
        one, other = (round_half_up(height * 100 / time, places) for time in (first, second))
    return one, other if other != one else one + Decimal(1).scaleb(-places)

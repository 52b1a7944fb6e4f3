"""Numbers of a soft landing that cannot all be right: the drag they imply, and which one would mend it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from design_challenges.kinds.base import Doubt, Values
from design_challenges.services import physics
from design_challenges.services.lengths import format_with_unit
from design_challenges.services.rounding import format_figure
from design_challenges.services.statistics import mean
from design_challenges.services.units import SYSTEMS
from design_challenges.words import Words

from .expected import DIAMETER, DRAG_COEFFICIENT, height_m, masses_kg
from .plan_sums import LINE

LEAST_DRAG, MOST_DRAG = 0.2, 2.5
"""What a canopy's drag coefficient on its flat area can be, with room for small ones, folds and thumbs.

Knacke (1991) has about 0.75 to 0.80 for flat circular canopies; lines too short leave about half of it.
"""
INCH_IN_CM = Fraction("2.54")
ALIKE = Fraction(4, 3)
"""How much two readings of one size, or of one team's times, may differ in ratio after a mend."""
PER_NUMBER = 0.1
"""How much nearer to the usual drag a mend must come for each further number that it changes."""

Sizes = Mapping[tuple[str, int], Fraction]
Times = Sequence[tuple[int, Decimal]]


@dataclass(frozen=True)
class _Mend:
    """What the numbers would be if one slip had been made, and the words that ask about it."""

    sizes: Sizes
    times: Times
    changed: int
    ask: Words


def implied_drag(values: Values, sizes: Sizes, times_s: Sequence[Decimal]) -> float | None:
    """C_D that the measured device and the mean of these times imply; None at or under free fall.

    `sizes` are the measured lengths in the class's unit, `times_s` at least one time in s. Everything
    that falls is weighed: the load, the film of the canopy by its area, and all lines by their length.
    """
    metres = float(SYSTEMS[values["unit_system"]].length.metres)
    across = float(mean([size for (slug, _spot), size in sizes.items() if slug == DIAMETER])) * metres
    line = float(mean([size for (slug, _spot), size in sizes.items() if slug == LINE])) * metres
    area = math.pi * across**2 / 4
    try:
        speed = physics.terminal_speed_m_s(height_m(values), float(mean(times_s)))
    except ValueError:
        return None
    return physics.drag_coefficient(
        sum(masses_kg(values, area, line)), physics.air_density_kg_m3(0), area, speed
    )


def find_doubt(values: Values, sizes: Sizes, times: Times) -> Doubt | None:
    """What to ask a teacher about these numbers, or None where they can be.

    `times` are (trial, time in s) of the drops that count and opened. The number that is named is the one
    whose change brings the drag into the possible and nearest to the usual, with fewest numbers changed.
    """
    if not times:
        return None
    drag = implied_drag(values, sizes, [time for _trial, time in times])
    if drag is not None and LEAST_DRAG <= drag <= MOST_DRAG:
        return None
    if drag is None:
        what: Words = _("It fell as fast as a dropped stone, or faster.")
    else:
        said = {"drag": format_figure(Decimal(repr(drag)), 2 if drag < 1 else 1)}
        what = (
            format_lazy(_("It fell too slowly for its size: a drag coefficient of {drag}."), **said)
            if drag > MOST_DRAG
            else format_lazy(_("It fell too fast for its size: a drag coefficient of {drag}."), **said)
        )
    best = min(_mended(values, sizes, times), key=lambda pair: pair[0], default=None)
    ask = best[1].ask if best else _("No single number explains it. Look at the sizes and the times.")
    return Doubt(what, ask)


def _mended(values: Values, sizes: Sizes, times: Times) -> Iterator[tuple[float, _Mend]]:
    """Yield the mends that bring the drag into the possible, each with how unlikely it is."""
    for mend in _mends(values, sizes, times):
        seconds = [time for _trial, time in mend.times]
        across = [size for (slug, _spot), size in mend.sizes.items() if slug == DIAMETER]
        if max(seconds) > ALIKE.numerator * min(seconds) / ALIKE.denominator or max(across) > ALIKE * min(
            across
        ):
            continue
        drag = implied_drag(values, mend.sizes, seconds)
        if drag is not None and LEAST_DRAG <= drag <= MOST_DRAG:
            yield abs(math.log(drag / DRAG_COEFFICIENT)) + PER_NUMBER * mend.changed, mend


def _mends(values: Values, sizes: Sizes, times: Times) -> Iterator[_Mend]:
    yield from _size_mends(values, sizes, times)
    for factor, ask_one, ask_all in (
        (
            Decimal("0.1"),
            _("Drop {trial} has {time} s: was the point lost? {guess} s would fit."),
            _("The times: was the point lost in all of them?"),
        ),
        (
            Decimal(10),
            _("Drop {trial} has {time} s: was the point put one place too early? {guess} s would fit."),
            _("The times: was the point put one place too early in all of them?"),
        ),
    ):
        for place, (trial, time) in enumerate(times):
            own = [*times[:place], (trial, time * factor), *times[place + 1 :]]
            guess = f"{(time * factor).normalize():f}"
            yield _Mend(sizes, own, 1, format_lazy(ask_one, trial=trial, time=f"{time:f}", guess=guess))
        if len(times) > 1:
            every = [(trial, time * factor) for trial, time in times]
            yield _Mend(sizes, every, len(times), ask_all)


def _size_mends(values: Values, sizes: Sizes, times: Times) -> Iterator[_Mend]:
    unit = SYSTEMS[values["unit_system"]].length
    division = Fraction(values.get("tape_division", 1))
    spots = [key for key in sizes if key[0] == DIAMETER]
    inches = unit.slug == "in"
    slips = (
        (Fraction(2), _("was the radius measured?")),
        (Fraction(1, 2), _("was it doubled once too often?")),
        (
            1 / INCH_IN_CM if inches else INCH_IN_CM,
            _("is it in centimetres?") if inches else _("is it in inches?"),
        ),
    )
    for factor, question in slips:
        for changed in (spots, *([spot] for spot in spots)):
            mended = {key: size * factor if key in changed else size for key, size in sizes.items()}
            now = format_with_unit(sizes[changed[0]], unit, division)
            then = format_with_unit(Fraction(round(mended[changed[0]] / division)) * division, unit, division)
            yield _Mend(
                mended,
                times,
                len(changed),
                format_lazy(
                    _("The canopy measures {now} across: {question} About {then} would fit."),
                    now=now,
                    question=question,
                    then=then,
                ),
            )

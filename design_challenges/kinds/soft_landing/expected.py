"""What physics says of a soft landing: fall times, and how speed goes with canopy area and line length."""

from __future__ import annotations

import math
from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction

from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from design_challenges.kinds.base import EffectModel, Values
from design_challenges.services import physics
from design_challenges.services.rounding import shortest
from design_challenges.services.units import SYSTEMS

from .advice import longest_line
from .plan_sums import LINE

DIAMETER = "canopy_diameter"

DRAG_COEFFICIENT = 0.75
"""Flat circular canopy with lines long enough (Knacke, NWC TP 6575, about 0.75 to 0.80)."""
FILM_KG_M2 = 0.020
"""A thin plastic bag: 22 µm of polyethylene at about 920 kg/m³."""
LINE_KG_M = 0.0005
"""Sewing thread or thin string, doubled: about half a gram a metre."""
PULLED_IN = 0.55
"""How much of the drag very short lines cost, because they pull the edge in (assumed, of a likely size)."""
PULLED_IN_RATE = 2.2
"""How fast that loss fades with line length over diameter (assumed: at twice the diameter little is left)."""
STEP = 1e-4


def open_share(line_over_diameter: float) -> float:
    """The share of the drag that lines of this length leave: rising with L/d, and saturating at 1."""
    return 1 - PULLED_IN * math.exp(-PULLED_IN_RATE * line_over_diameter)


def masses_kg(values: Values, area_m2: float, line_m: float) -> tuple[float, float, float]:
    """The load, the canopy's film and all lines together, in kg."""
    load = float(values["load_mass"]) / 1000
    film, line = _weights(values)
    return load, film * area_m2, line * line_m * int(values["line_count"])


def _weights(values: Values) -> tuple[float, float]:
    """What the film weighs in kg a square metre and the line in kg a metre, as the class has set them."""
    film, line = values.get("film_mass"), values.get("line_mass")
    return (
        FILM_KG_M2 if film is None else float(film) / 1000,
        LINE_KG_M if line is None else float(line) / 1000,
    )


def height_m(values: Values) -> float:
    """The class's drop height in metres."""
    return float(Fraction(values["drop_height"]) * SYSTEMS[values["unit_system"]].height.metres)


def device_time_s(
    values: Values, area_m2: float, line_over_diameter: float, drag_share: float = 1.0
) -> float:
    """The time in s that a device takes for the class's drop from rest, with no scatter.

    `drag_share` (above 0) is what is left of the open canopy's drag. Everything that falls is weighed.
    """
    line_m = line_over_diameter * math.sqrt(4 * area_m2 / math.pi)
    drag = DRAG_COEFFICIENT * open_share(line_over_diameter) * drag_share
    speed = physics.terminal_speed_from_drag(
        sum(masses_kg(values, area_m2, line_m)), drag, physics.air_density_kg_m3(0), area_m2
    )
    return physics.fall_time_s(height_m(values), speed)


class FallEffects(EffectModel):
    """Log fall speed (or fall time) on log canopy area and on line length over diameter."""

    variables = (DIAMETER, LINE)
    terms = (_("canopy area"), _("line length over canopy diameter"))
    tied_same = _("Bigger canopies also had longer lines here, so these numbers can’t say which one did it.")
    tied_opposite = _(
        "Bigger canopies also had shorter lines here, so these numbers can’t say which one did it."
    )

    def __init__(self, values: Values) -> None:
        self.values = values
        self.metres = float(SYSTEMS[values["unit_system"]].length.metres)
        self.by_time = values["compare"] == "time"
        film, line = (shortest(Decimal(str(weight)) * 1000, 2) for weight in _weights(values))
        self.assumptions = format_lazy(
            _("with film of {film} g a square metre and line of {line} g a metre"),
            film=f"{film:f}",
            line=f"{line:f}",
        )
        self._longest: dict[Fraction, Fraction] = {}

    def terms_of(self, design: Mapping[str, Fraction]) -> tuple[float, float]:
        diameter, line = design[DIAMETER], design[LINE]
        area_m2 = math.pi * (float(diameter) * self.metres) ** 2 / 4
        return math.log(area_m2), float(line / diameter)

    def log_figure(self, terms: tuple[float, float]) -> float:
        time = device_time_s(self.values, math.exp(terms[0]), terms[1])
        if self.by_time:
            return math.log(time)
        return math.log(height_m(self.values) / self.metres_of_height / time)

    @property
    def metres_of_height(self) -> float:
        return float(SYSTEMS[self.values["unit_system"]].height.metres)

    def slopes(self, terms: tuple[float, float]) -> tuple[float, float]:
        area, lines = terms
        by_area = self.log_figure((area + STEP, lines)) - self.log_figure((area - STEP, lines))
        by_lines = self.log_figure((area, lines + STEP)) - self.log_figure((area, lines - STEP))
        return by_area / (2 * STEP), by_lines / (2 * STEP)

    def inside_limit(self, design: Mapping[str, Fraction]) -> bool:
        radius = design[DIAMETER] / 2
        if radius not in self._longest:
            self._longest[radius] = longest_line(self.values, radius)
        return design[LINE] <= self._longest[radius]

    def marks(self, variable: str, low: Fraction, high: Fraction, most: int) -> list[Fraction]:
        step = Fraction(self.values["tape_division"])
        while (high - low) / step >= most:
            step *= 2
        first = -(-low // step)
        return [place * step for place in range(int(first), int(high // step) + 1)]

"""The soft landing declared: what is planned, measured and worked out, and what teams are compared by."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from design_challenges.kinds.base import (
    Allowance,
    BuiltFigures,
    Carried,
    Doubt,
    EffectModel,
    Kind,
    Needs,
    Performance,
    PlanFigures,
    Quantity,
    ResultFigures,
    Sizes,
    Spot,
    Values,
    Variable,
    declared_once,
)
from design_challenges.kinds.soft_landing import (
    advice,
    doubts,
    examples,
    expected,
    given,
    materials,
    options,
    plan_sums,
    result_sums,
    sums,
)
from design_challenges.kinds.soft_landing.wording import (
    FAMILY_WORDS,
    PLAN_WORDS,
    RADIUS_OR_DIAMETER,
    READING_WORDS,
)
from design_challenges.services import physics, statistics
from design_challenges.services.analysis.uncertainty import speed_uncertainty
from design_challenges.services.rounding import round_half_up
from design_challenges.services.working import Step, SumContext
from design_challenges.words import Words

RADIUS, LINE = plan_sums.RADIUS, plan_sums.LINE
DIAMETER = expected.DIAMETER
WAYS_ACROSS = 2
LENGTH_PLACES = 2
SHORTEST = Fraction(1)
TIMING_S = 0.10
"""Standard uncertainty of one drop timed by hand, in s (common practice: start and stop partly cancel)."""
HEIGHT_OFF_M = 0.02
"""Standard uncertainty of a drop height measured once with a tape, in m (common practice)."""
MEASURED = {DIAMETER: "measure_canopy", LINE: "measure_lines"}
ALIKE = {DIAMETER: "agree_canopy", LINE: "agree_line"}
"""The settings of each size: measured once or twice, and how far two readings may differ and still agree."""


class SoftLanding(Kind):
    """A round canopy of radius r on n lines of length L; the slower the fall, the better."""

    slug = "soft-landing"
    version = 1
    name = _("The soft landing")
    summary = _("A round canopy on lines lowers a small load. The slower it falls, the better.")
    setting_fields = options.FIELDS
    presets = options.PRESETS
    plan_words = PLAN_WORDS
    reading_words = READING_WORDS
    family_words = FAMILY_WORDS

    @declared_once
    def quantities(self, values: Values) -> Sequence[Quantity]:
        most = self._longest(values)
        return [
            Quantity(
                RADIUS, _("Canopy radius"), _("From the middle of the circle to its edge."), SHORTEST, most
            ),
            Quantity(LINE, _("Line length"), _("One line, as long as you will cut it."), SHORTEST, most),
        ]

    @declared_once
    def spots(self, values: Values) -> Sequence[Spot]:
        most = self._longest(values)
        across = [
            (_("Canopy, straight across"), _("Through the middle, from edge to edge.")),
            (
                _("Canopy, across the other way"),
                _("A quarter turn on, through the middle."),
            ),
        ]
        canopy = [
            Spot(DIAMETER, way, label, hint, SHORTEST, 2 * most, half=RADIUS_OR_DIAMETER)
            for way, (label, hint) in enumerate(across, start=1)
        ]
        lines = [
            Spot(
                LINE,
                number,
                format_lazy(_("Line {number}"), number=number),
                _("From the edge of the canopy to the load, pulled straight."),
                SHORTEST,
                most,
            )
            for number in range(1, values["line_count"] + 1)
        ]
        return canopy + lines

    def _longest(self, values: Values) -> Fraction:
        """The longest radius or line that can be meant, in the class's length unit."""
        return Fraction(40) if self.length_unit(values).slug == "in" else Fraction(100)

    def is_measured_twice(self, values: Values, quantity: str) -> bool:
        return bool(values[MEASURED[quantity]] == options.TWICE)

    @declared_once
    def variables(self, values: Values) -> Sequence[Variable]:
        return [
            Variable(DIAMETER, _("Canopy diameter"), lambda system: system.length.symbol, LENGTH_PLACES),
            Variable(LINE, _("Line length"), lambda system: system.length.symbol, LENGTH_PLACES),
        ]

    @declared_once
    def performance(self, values: Values) -> Performance:
        if values["compare"] == "time":
            return Performance(
                "average_time",
                _("Fall time"),
                _("s"),
                values["places_time"],
                lower_is_better=False,
                more=_("longer"),
                less=_("shorter"),
            )
        system = self.system(values)
        return Performance(
            "fall_speed",
            _("Fall speed"),
            system.speed_label,
            values["places_speed"],
            lower_is_better=True,
            more=_("faster"),
            less=_("slower"),
        )

    @declared_once
    def plan_steps(self, values: Values) -> Sequence[Step]:
        return sums.plan_steps(values)

    @declared_once
    def rounding_step(self, values: Values, trial: int) -> Step:
        return sums.rounding_step(trial, values)

    @declared_once
    def result_steps(self, values: Values, round_number: int) -> Sequence[Step]:
        return sums.result_steps(values, round_number)

    @declared_once
    def worked_steps(self, values: Values) -> Sequence[Step]:
        return sums.worked_steps(values)

    def example(self, values: Values, seed: str) -> SumContext:
        return examples.example(values, seed)

    def sum_standards(self, values: Values, slug: str) -> Sequence[str]:
        return sums.sum_standards(values, slug)

    def rules(self, values: Values) -> Sequence[tuple[Words, Words]]:
        return given.rules(values)

    def given(self, slug: str, context: SumContext) -> Sequence[tuple[Words, Words]]:
        return given.given(slug, context)

    def table(self, slug: str, context: SumContext) -> Sequence[tuple[str, str]]:
        return given.table(slug, context)

    def facts(self, values: Values) -> Sequence[tuple[Words, Words]]:
        return given.facts(values)

    def reference_table(self, values: Values) -> Sequence[tuple[str, str]]:
        return given.reference_table(values)

    def advice(self, values: Values) -> Sequence[Words]:
        return advice.advice(values, self._longest(values))

    def allowance(self, values: Values) -> Allowance:
        return advice.allowance(values, self._longest(values))

    def needs(self, values: Values) -> Needs | None:
        return materials.needs(values, self._longest(values))

    def plan_figures(self, values: Values, sizes: Sizes, accepted: Mapping[str, Decimal]) -> PlanFigures:
        context = SumContext(settings=values, sizes=sizes)
        return PlanFigures(
            variables={DIAMETER: 2 * sizes[RADIUS], LINE: sizes[LINE]},
            area_class=plan_sums.class_area(context),
            material_class=_points(plan_sums.material_used(context)),
            material_team=accepted.get("material"),
            limit=values["limit"],
        )

    def built_figures(self, values: Values, built: Mapping[tuple[str, int], Fraction]) -> BuiltFigures:
        count = values["line_count"]
        ways = [built[DIAMETER, way] for way in range(1, WAYS_ACROSS + 1)]
        lines = [built[LINE, number] for number in range(1, count + 1)]
        diameter, line = statistics.mean(ways), statistics.mean(lines)
        # The mean line times the count is their sum: the plan's own sum, over what was really made.
        context = SumContext(settings=values, sizes={RADIUS: diameter / 2, LINE: line})
        material, limit = _points(plan_sums.material_used(context)), values["limit"]
        over = max(Decimal(0), (material - limit) * 100 / limit)
        return BuiltFigures(
            variables={DIAMETER: diameter, LINE: line},
            material=material,
            over_per_cent=round_half_up(over, 1),
            too_much=over > values["built_over"],
        )

    def result_figures(self, values: Values, readings_s: Sequence[Decimal]) -> ResultFigures:
        context = SumContext(settings=values, readings=tuple(readings_s))
        middle = statistics.median if values["average"] == "median" else statistics.mean
        exact_time = middle(readings_s)
        return ResultFigures(
            rounded_s=result_sums.rounded_times(context),
            average_time_s=round_half_up(result_sums.exact_average(context), values["places_time"]),
            fall_speed=round_half_up(result_sums.exact_speed(context), values["places_speed"]),
            exact_time_s=float(exact_time),
            exact_speed=float(Fraction(values["drop_height"]) / exact_time),
        )

    def fastest_possible_s(self, values: Values) -> float:
        height_m = Fraction(values["drop_height"]) * self.system(values).height.metres
        return physics.free_fall_time_s(float(height_m))

    def find_doubt(
        self, values: Values, built: Mapping[tuple[str, int], Fraction], times: Sequence[tuple[int, Decimal]]
    ) -> Doubt | None:
        return doubts.find_doubt(values, built, times)

    def conditions(self, values: Values) -> tuple[Any, ...]:
        return values["drop_height"], values["load_mass"], values["line_count"]

    def drop_figure(self, values: Values, reading_s: float) -> float:
        return reading_s if values["compare"] == "time" else float(values["drop_height"]) / reading_s

    def alike_within(self, values: Values, variable: str) -> Fraction:
        within: Fraction = values[ALIKE[variable]]
        return within

    def carried(self, values: Values, reading_s: float, readings: int) -> Carried | None:
        if values["compare"] == "time":
            return Carried(TIMING_S / math.sqrt(readings), 0.0)
        height_off = HEIGHT_OFF_M / float(self.system(values).height.metres)
        return speed_uncertainty(
            float(values["drop_height"]), reading_s, timing_s=TIMING_S, height_off=height_off, drops=readings
        )

    def effects(self, values: Values) -> EffectModel:
        return expected.FallEffects(values)


def _points(used: Fraction) -> Decimal:
    """Material used as it is shown and judged: to hundredths of a point, without idle zeros."""
    return Decimal(plan_sums.points(used))


SOFT_LANDING = SoftLanding()

"""The canopy's area as a class finds it: by the formula, from a table, or by counting squares."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Any

from django.utils.text import format_lazy
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from design_challenges.services.common_slips import rounding_slips, writing_slips
from design_challenges.services.geometry import PI, PI_CHOICES, area_range, circle_area
from design_challenges.services.rounding import format_display, format_figure, round_half_up
from design_challenges.services.working import Hints, Number, Right, Slip, Step, SumContext, Wrong

from .plan_sums import RADIUS, area_places, class_area, points, rounded_to, system, table_area, written


def area_step(values: Mapping[str, Any]) -> Step:
    """The canopy's area as the class finds it: formula, table or squares."""
    return {"formula": _area_by_formula, "table": _area_by_table, "squares": _area_by_squares}[
        values["area_method"]
    ](values)


def exact_areas(context: SumContext) -> list[Fraction]:
    """The area with every π a child may use, before it is rounded."""
    return [circle_area(context.sizes[RADIUS], pi) for pi in PI_CHOICES]


def _area_by_formula(values: Mapping[str, Any]) -> Step:
    places = area_places(values)

    def right(context: SumContext) -> Right:
        lowest, highest = area_range(context.sizes[RADIUS], places)
        return Right(lowest, highest, places)

    def times_pi(of_radius: int, power: int) -> Wrong:
        def wrong(context: SumContext) -> Iterator[Fraction]:
            for pi in PI_CHOICES:
                yield pi * of_radius * context.sizes[RADIUS] ** power

        return wrong

    def pi_squared(context: SumContext) -> Iterator[Fraction]:
        for pi in PI_CHOICES:
            yield (pi * context.sizes[RADIUS]) ** 2

    around = _("That is the way around the edge. For area, which number is multiplied by itself?")
    slips = (
        Slip(
            "diameter_squared",
            times_pi(4, 2),
            _("Did you use the way across? The formula needs the radius."),
            _("π × way across × way across"),
            _("using the diameter for the radius"),
        ),
        Slip(
            "two_pi_r",
            times_pi(2, 1),
            around,
            _("2 × π × radius"),
            _("working out the way around instead of the area"),
            family="around",
        ),
        Slip(
            "pi_d",
            times_pi(2, 1),
            around,
            _("π × way across"),
            _("working out the way around instead of the area"),
            family="around",
        ),
        Slip(
            "pi_r",
            times_pi(1, 1),
            _("The radius comes in twice. Multiply it by itself first."),
            _("π × radius"),
            _("using the radius once instead of twice"),
        ),
        Slip(
            "radius_squared",
            lambda context: [context.sizes[RADIUS] ** 2],
            _("That is radius times radius. What is still missing?"),
            _("the radius times itself"),
            _("leaving π out"),
        ),
        Slip(
            "pi_r_all_squared",
            pi_squared,
            _("Only the radius is squared. Do radius times radius first, then times π."),
            _("π × radius, then that times itself"),
            _("squaring π along with the radius"),
        ),
        Slip(
            "square_round_it",
            lambda context: [4 * context.sizes[RADIUS] ** 2],
            _("That is a square around the circle. The circle is smaller. Use π."),
            _("way across × way across"),
            _("working out the square around the circle"),
        ),
        *rounding_slips(exact_areas, places),
        *writing_slips(exact_areas, places),
    )
    return Step(
        slug="area",
        label=_("Canopy area"),
        ask=format_lazy(_("Area = π × radius × radius. Round it to {places}."), places=rounded_to(places)),
        unit=system(values).area_label,
        right=right,
        slips=slips,
        hints=Hints(
            _("Think of squared paper. About how many squares fit in your circle?"),
            _("First radius times radius. Then times π (3.14)."),
            (
                _("With radius 5: 5 × 5 is 25. Then 3.14 × 25 is 78.5."),
                _("With radius 20: 20 × 20 is 400. Then 3.14 × 400 is 1256."),
            ),
        ),
        worked=_area_worked,
        uses=lambda context: [context.sizes[RADIUS]],
    )


def _area_worked(context: SumContext) -> list[str]:
    radius, label = context.sizes[RADIUS], system(context.settings).area_label
    places, square = area_places(context.settings), points(radius * radius)
    return [
        gettext("Area = π × radius × radius"),
        f"{written(radius, context)} × {written(radius, context)} = {square}",
        f"π × {square} = {format_display(circle_area(radius), places + 2)}",
        gettext("Rounded: {area} {unit}").format(area=format_figure(class_area(context), places), unit=label),
    ]


def _area_by_table(values: Mapping[str, Any]) -> Step:
    def right(context: SumContext) -> Right:
        value = table_area(context.sizes[RADIUS])
        return Right(value, value, 0)

    def other_row(context: SumContext) -> Iterator[Number]:
        radius, step = context.sizes[RADIUS], Fraction(context.settings.get("tape_division", 1))
        yield table_area(radius + step)
        if radius > step:
            yield table_area(radius - step)

    def across(context: SumContext) -> Iterator[Number]:
        yield table_area(2 * context.sizes[RADIUS])
        yield table_area(context.sizes[RADIUS] / 2)

    return Step(
        slug="area",
        label=_("Canopy area"),
        ask=_("Find your radius in the table. Read the area beside it."),
        unit=system(values).area_label,
        right=right,
        slips=(
            Slip(
                "row_beside",
                other_row,
                _("That is the row beside yours. Lay a ruler under your row."),
                _("I read the row above or below"),
                _("reading the row beside theirs"),
            ),
            Slip(
                "row_of_diameter",
                across,
                _("Look at the top of the table. Does it ask for the radius?"),
                _("I looked for the way across"),
                _("looking up the diameter, or half the radius"),
            ),
            *writing_slips(lambda context: [Fraction(table_area(context.sizes[RADIUS]))], 0),
        ),
        hints=Hints(
            _("Look again. Which row of the table is yours?"),
            _("Find your radius in the first column. Slide your finger straight across."),
            (
                _("With radius 5, go down to 5. Slide across. It says 79."),
                _("With radius 20, go down to 20. Slide across. It says 1257."),
            ),
        ),
        worked=lambda context: [
            gettext("Radius in the table: {radius}").format(radius=written(context.sizes[RADIUS], context)),
            gettext("Area beside it: {area} {unit}").format(
                area=table_area(context.sizes[RADIUS]), unit=system(context.settings).area_label
            ),
        ],
        uses=lambda context: [context.sizes[RADIUS]],
    )


def _area_by_squares(values: Mapping[str, Any]) -> Step:
    places = area_places(values)

    def right(context: SumContext) -> Right:
        exact = circle_area(context.sizes[RADIUS])
        share = Fraction(context.settings["squares_tolerance"]) / 100
        # The edges are cut inwards to a place nobody counts to, so that they are decimals.
        lowest = round_half_up(exact * (1 - share) + Fraction(1, 2 * 10**6), 6)
        highest = round_half_up(exact * (1 + share) - Fraction(1, 2 * 10**6), 6)
        return Right(lowest, highest, None)

    def about(share: Fraction) -> Wrong:
        def wrong(context: SumContext) -> Iterator[Right]:
            area = circle_area(context.sizes[RADIUS]) * share
            yield Right(
                round_half_up(area * Fraction(96, 100), 6), round_half_up(area * Fraction(104, 100), 6), None
            )

        return wrong

    return Step(
        slug="area",
        label=_("Canopy area"),
        ask=_("Count the squares in your circle. Two halves make one whole."),
        unit=system(values).area_label,
        right=right,
        slips=(
            Slip(
                "square_round_it",
                about(4 / PI),
                _("That is a square around the circle. Leave out the squares outside your line."),
                _("I counted a whole big square"),
                _("working out the square around the circle"),
            ),
            Slip(
                "quarter_only",
                about(Fraction(1, 4)),
                _("That is about one quarter of the circle. How many quarters are there?"),
                _("I counted one quarter of it"),
                _("counting one quarter of the circle"),
            ),
        ),
        hints=Hints(
            _("Count again, row by row. Mark each square you have counted."),
            _("Count the whole squares first. Then put the cut ones together in pairs."),
            (
                _("With 60 whole squares and 36 half ones: 60 + 18 is 78."),
                _("With 1000 whole squares and 500 half ones: 1000 + 250 is 1250."),
            ),
        ),
        worked=lambda context: [
            gettext("The circle holds about {area} squares.").format(
                area=format_figure(class_area(context), places)
            )
        ],
        uses=lambda context: [context.sizes[RADIUS]],
    )

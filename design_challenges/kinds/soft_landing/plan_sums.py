"""The sums of a plan: the canopy's area by formula, table or squares, and the material used."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.utils.text import format_lazy
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from design_challenges.services.common_slips import rounding_slips, writing_slips
from design_challenges.services.geometry import PI, PI_CHOICES, area_range, circle_area
from design_challenges.services.lengths import format_length
from design_challenges.services.rounding import format_display, format_figure, round_half_up, shortest
from design_challenges.services.units import SYSTEMS, UnitSystem
from design_challenges.services.working import Hints, Number, Right, Slip, Step, SumContext, Wrong
from design_challenges.words import Words

RADIUS, LINE = "canopy_radius", "line_length"
POINT_PLACES = 2
"""Points are counted to hundredths at the finest."""


def system(values: Mapping[str, Any]) -> UnitSystem:
    return SYSTEMS[values["unit_system"]]


def area_places(values: Mapping[str, Any]) -> int:
    """Places of an area: a table holds whole squares whatever the class rounds to."""
    return 0 if values["area_method"] == "table" else int(values["places_area"])


def table_area(radius: Fraction) -> Decimal:
    """What the printed table says for a radius, in whole squares of its unit (whole points at 1 a square)."""
    return round_half_up(circle_area(radius), 0)


def class_area(context: SumContext) -> Decimal:
    """The class figure of the plan's area."""
    return round_half_up(circle_area(context.sizes[RADIUS]), area_places(context.settings))


def area_used(context: SumContext) -> Fraction:
    """The area everything goes on from: the team's own accepted one, else the class figure."""
    return Fraction(context.accepted.get("area", class_area(context)))


def written(value: Fraction, context: SumContext) -> str:
    """A length as the class writes it, without its unit."""
    unit = system(context.settings).length
    return format_length(value, unit, Fraction(context.settings.get("tape_division", 1)))


def points(value: Fraction) -> str:
    """A number as short as it can be written, to hundredths at most."""
    return f"{shortest(value, POINT_PLACES):f}"


def rounded_to(places: int) -> Words:
    """How a class says its rounding place."""
    return {
        0: _("a whole number"),
        1: _("one digit after the point"),
        2: _("two digits after the point"),
        3: _("three digits after the point"),
    }[places]


# --- area ------------------------------------------------------------------------------------


def area_step(values: Mapping[str, Any]) -> Step:
    """The canopy's area as the class finds it: formula, table or squares."""
    return {"formula": _area_by_formula, "table": _area_by_table, "squares": _area_by_squares}[
        values["area_method"]
    ](values)


def _areas(context: SumContext) -> list[Fraction]:
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
            "diameter_squared", times_pi(4, 2), _("Did you use the way across? The formula needs the radius.")
        ),
        Slip("two_pi_r", times_pi(2, 1), around, family="around"),
        Slip("pi_d", times_pi(2, 1), around, family="around"),
        Slip("pi_r", times_pi(1, 1), _("The radius comes in twice. Multiply it by itself first.")),
        Slip(
            "radius_squared",
            lambda context: [context.sizes[RADIUS] ** 2],
            _("That is radius times radius. What is still missing?"),
        ),
        Slip(
            "pi_r_all_squared",
            pi_squared,
            _("Only the radius is squared. Do radius times radius first, then times π."),
        ),
        Slip(
            "square_round_it",
            lambda context: [4 * context.sizes[RADIUS] ** 2],
            _("That is a square around the circle. The circle is smaller. Use π."),
        ),
        *rounding_slips(_areas, places),
        *writing_slips(_areas, places),
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
            Slip("row_beside", other_row, _("That is the row beside yours. Lay a ruler under your row.")),
            Slip("row_of_diameter", across, _("Look at the top of the table. Does it ask for the radius?")),
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
            ),
            Slip(
                "quarter_only",
                about(Fraction(1, 4)),
                _("That is about one quarter of the circle. How many quarters are there?"),
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


# --- material --------------------------------------------------------------------------------


def _prices(context: SumContext) -> tuple[Fraction, Fraction, int, Fraction]:
    settings = context.settings
    return (
        Fraction(settings["price_area"]),
        Fraction(settings["price_line"]),
        int(settings["line_count"]),
        context.sizes[LINE],
    )


def material_used(context: SumContext) -> Fraction:
    """U = a·A + b·n·L in points, exactly, with the team's own accepted area."""
    price_area, price_line, count, line = _prices(context)
    return price_area * area_used(context) + price_line * count * line


def material_step(values: Mapping[str, Any]) -> Step:
    """The points a plan uses: canopy and all its lines."""

    def right(context: SumContext) -> Right:
        exact = material_used(context)
        rounded = shortest(exact, POINT_PLACES)
        if Fraction(rounded) == exact:
            return Right(rounded, rounded, None)
        finer = round_half_up(exact, 8)
        return Right(min(rounded, finer), max(rounded, finer), None)

    def no_lines(context: SumContext) -> Iterator[Fraction]:
        price_area, _price_line, _count, _line = _prices(context)
        yield price_area * area_used(context)

    def one_line(context: SumContext) -> Iterator[Fraction]:
        price_area, price_line, _count, line = _prices(context)
        yield price_area * area_used(context) + price_line * line

    def lines_only(context: SumContext) -> Iterator[Fraction]:
        _price_area, price_line, count, line = _prices(context)
        yield price_line * count * line

    def lines_unpriced(context: SumContext) -> Iterator[Fraction]:
        price_area, price_line, count, line = _prices(context)
        if price_line != 1:
            yield price_area * area_used(context) + count * line

    def with_exact_area(context: SumContext) -> Iterator[Fraction]:
        price_area, price_line, count, line = _prices(context)
        if context.settings["area_method"] == "formula":
            for area in _areas(context):
                yield price_area * area + price_line * count * line

    def swapped(context: SumContext) -> Iterator[Fraction]:
        price_area, price_line, count, line = _prices(context)
        if price_area != price_line:
            yield price_line * area_used(context) + price_area * count * line

    return Step(
        slug="material",
        label=_("Material used"),
        ask=_("Points for the canopy plus points for all the lines."),
        unit=_("points"),
        right=right,
        slips=(
            Slip("no_lines", no_lines, _("That is the canopy alone. What else does your plan need?")),
            Slip("one_line", one_line, _("That counts one line. How many lines hold your load?")),
            Slip("lines_only", lines_only, _("Those are the lines alone. What else does your plan need?")),
            Slip(
                "lines_unpriced",
                lines_unpriced,
                _("You added the length of the lines. What does each bit of line cost?"),
            ),
            Slip("area_not_rounded", with_exact_area, _("Go on from your own rounded area.")),
            Slip(
                "prices_swapped", swapped, _("Look at the two prices. Which is for canopy, which for line?")
            ),
            *writing_slips(lambda context: [material_used(context)], None),
        ),
        hints=Hints(
            _("What does your plan use? Find the points for each part."),
            _("Canopy: area times its price. Lines: how many, times length, times price. Then add."),
            (
                _("At 2 and 5 points: area 50 is 100. Three lines of 10 are 150. Together 250."),
                _("At 2 and 5 points: area 60 is 120. Three lines of 8 are 120. Together 240."),
            ),
        ),
        worked=_material_worked,
        uses=lambda context: [area_used(context), context.sizes[LINE]],
    )


def _material_worked(context: SumContext) -> list[str]:
    price_area, price_line, count, line = _prices(context)
    area = area_used(context)
    canopy, lines = price_area * area, price_line * count * line
    return [
        gettext("Canopy: {area} × {price} = {points} points").format(
            area=points(area), price=points(price_area), points=points(canopy)
        ),
        gettext("Lines: {count} × {length} × {price} = {points} points").format(
            count=count, length=written(line, context), price=points(price_line), points=points(lines)
        ),
        gettext("Together: {canopy} + {lines} = {points} points").format(
            canopy=points(canopy), lines=points(lines), points=points(canopy + lines)
        ),
    ]

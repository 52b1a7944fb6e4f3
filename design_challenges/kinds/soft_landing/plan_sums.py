"""The sums of a plan beside its area (way across, all the line, material), and what plan sums share."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from design_challenges.services.common_slips import writing_slips
from design_challenges.services.geometry import PI_CHOICES, circle_area
from design_challenges.services.lengths import format_length, format_with_unit, parse_length
from design_challenges.services.rounding import round_half_up, shortest
from design_challenges.services.units import SYSTEMS, UnitSystem, convert
from design_challenges.services.working import Hints, Number, Right, Slip, Step, SumContext
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


def _length(value: Fraction, context: SumContext) -> str:
    unit = system(context.settings).length
    return format_with_unit(value, unit, Fraction(context.settings.get("tape_division", 1)))


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


def every_step(values: Mapping[str, Any]) -> bool:
    """Whether the class works each step on its own, the small ones too."""
    return bool(values.get("sums_asked", "fewer") == "every")


def exactly(value: Fraction) -> Right:
    """Right is this length or number of points alone, as a decimal; a mark of a tape always has one."""
    answer = shortest(value, 8)
    return Right(answer, answer, None)


def length_reader(values: Mapping[str, Any]) -> Callable[[str], Decimal]:
    """Reads an answer that is a length, with its fraction and unit, in the class's length unit."""
    unit = system(values).length

    def read(typed: str) -> Decimal:
        length = parse_length(typed, unit)
        return shortest(convert(length.value, length.unit, unit), 8)

    return read


# --- the way across --------------------------------------------------------------------------


def diameter_step(values: Mapping[str, Any]) -> Step:
    """The canopy's diameter from its radius."""

    def radius(context: SumContext) -> Fraction:
        return context.sizes[RADIUS]

    def exact(context: SumContext) -> list[Fraction]:
        return [2 * radius(context)]

    def around(context: SumContext) -> Iterator[Number]:
        for pi in PI_CHOICES:
            yield round_half_up(2 * pi * radius(context), POINT_PLACES)
            yield round_half_up(2 * pi * radius(context), 1)

    return Step(
        slug="diameter",
        label=_("Way across"),
        ask=_("Your canopy is a circle. How far is it from edge to edge?"),
        unit=system(values).length.symbol,
        right=lambda context: exactly(exact(context)[0]),
        slips=(
            Slip(
                "not_doubled",
                lambda context: [radius(context)],
                _("That is from the middle to the edge. How far is it from edge to edge?"),
                _("I typed the radius"),
                _("giving the radius for the way across"),
            ),
            Slip(
                "halved",
                lambda context: [radius(context) / 2],
                _("You cut it in half. Is the way across more than the radius, or less?"),
                _("radius ÷ 2"),
                _("halving the radius"),
            ),
            Slip(
                "squared",
                lambda context: [radius(context) ** 2],
                _("You used the radius times itself. How many times does it fit across?"),
                _("the radius times itself"),
                _("squaring the radius"),
            ),
            Slip(
                "around",
                around,
                _("That is the way around. Go straight across the middle."),
                _("π × way across"),
                _("giving the way around for the way across"),
            ),
            Slip(
                "quadrupled",
                lambda context: [4 * radius(context)],
                _("That is double the way across. How many times does the radius fit?"),
                _("way across + way across"),
                _("doubling twice"),
            ),
            *writing_slips(exact, None),
        ),
        hints=Hints(
            _("Draw a circle. Draw a line from edge to edge, through the middle."),
            _("The way across is the radius and the radius again."),
            (
                _("With radius 5: 5 + 5 is 10."),
                _("With radius 30: 30 + 30 is 60."),
            ),
        ),
        worked=lambda context: [
            f"{written(radius(context), context)} + {written(radius(context), context)} = "
            + _length(exact(context)[0], context)
        ],
        uses=lambda context: [radius(context)],
        read=length_reader(values),
    )


# --- all the line ----------------------------------------------------------------------------


def total_line_step(values: Mapping[str, Any]) -> Step:
    """The length of all lines together."""

    def line(context: SumContext) -> Fraction:
        return context.sizes[LINE]

    def count(context: SumContext) -> int:
        return int(context.settings["line_count"])

    def exact(context: SumContext) -> list[Fraction]:
        return [count(context) * line(context)]

    def miscounted(context: SumContext) -> Iterator[Number]:
        yield (count(context) + 1) * line(context)
        if count(context) > 2:
            yield (count(context) - 1) * line(context)

    def priced(context: SumContext) -> Iterator[Number]:
        if Fraction(context.settings["price_line"]) != 1:
            yield Fraction(context.settings["price_line"]) * exact(context)[0]

    return Step(
        slug="total_line",
        label=_("All the line"),
        ask=_("How much line do you need for all the lines together?"),
        unit=system(values).length.symbol,
        right=lambda context: exactly(exact(context)[0]),
        slips=(
            Slip(
                "one_line",
                lambda context: [line(context)],
                _("That is one line. How many lines hold your load?"),
                _("I typed the length of one line"),
                _("counting one line only"),
            ),
            Slip(
                "added",
                lambda context: [count(context) + line(context)],
                _("You added. Each line is as long as the first. Lay them end to end."),
                _("lines + length"),
                _("adding lines and length"),
            ),
            Slip(
                "divided",
                lambda context: [line(context) / count(context)],
                _("You shared one line out. Lay all the lines end to end."),
                _("length ÷ lines"),
                _("sharing one line out"),
            ),
            Slip(
                "miscounted",
                miscounted,
                _("Count the lines again. How many are there?"),
                _("I took more lines, or fewer"),
                _("miscounting the lines"),
            ),
            Slip(
                "priced_too_soon",
                priced,
                _("Those are the points. How long are the lines?"),
                _("lines × length × price"),
                _("giving points instead of a length"),
            ),
            *writing_slips(exact, None),
        ),
        hints=Hints(
            _("Think of all your lines, end to end on the floor. How long is that?"),
            _("Take the length of one line. Multiply it by how many lines there are."),
            (
                _("With 3 lines of 7: 7 + 7 + 7 is 21."),
                _("With 2 lines of 16: 16 + 16 is 32."),
            ),
        ),
        worked=lambda context: [
            f"{count(context)} × {written(line(context), context)} = " + _length(exact(context)[0], context)
        ],
        uses=lambda context: [line(context)],
        read=length_reader(values),
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
            for pi in PI_CHOICES:
                area = circle_area(context.sizes[RADIUS], pi)
                yield price_area * area + price_line * count * line

    def across_for_radius(context: SumContext) -> Iterator[Fraction]:
        price_area, price_line, count, line = _prices(context)
        for times in (Fraction(4), Fraction(1, 4)):
            yield times * price_area * area_used(context) + price_line * count * line

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
            Slip(
                "no_lines",
                no_lines,
                _("That is the canopy alone. What else does your plan need?"),
                _("the canopy, no lines"),
                _("forgetting the lines"),
            ),
            Slip(
                "one_line",
                one_line,
                _("That counts one line. How many lines hold your load?"),
                _("the canopy + one line"),
                _("counting one line only"),
            ),
            Slip(
                "lines_only",
                lines_only,
                _("Those are the lines alone. What else does your plan need?"),
                _("all the lines, no canopy"),
                _("forgetting the canopy"),
            ),
            Slip(
                "lines_unpriced",
                lines_unpriced,
                _("You added the length of the lines. What does each bit of line cost?"),
                _("the canopy + the length of the lines"),
                _("leaving the price of line out"),
            ),
            Slip(
                "area_not_rounded",
                with_exact_area,
                _("Go on from your own rounded area."),
                _("I used the area with all its digits"),
                _("going on from an area that is not rounded"),
            ),
            Slip(
                "prices_swapped",
                swapped,
                _("Look at the two prices. Which is for canopy, which for line?"),
                _("area × price of line + line × price of canopy"),
                _("swapping the two prices"),
            ),
            Slip(
                "across_for_radius",
                across_for_radius,
                _("Did the way across slip in? Use the area you worked out before."),
                _("I worked out the area again"),
                _("mixing up radius and diameter in the area"),
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

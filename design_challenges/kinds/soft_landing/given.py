"""What a sum of the soft landing is worked from, as pages show it: named numbers, and the area table."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from design_challenges.services.lengths import format_length, format_with_unit
from design_challenges.services.rounding import format_figure
from design_challenges.services.units import SYSTEMS
from design_challenges.services.working import SumContext
from design_challenges.words import Words

from . import plan_sums, result_sums

Given = Sequence[tuple[Words, Words]]

# Rows of the area table above and below the whole unit that the radius lies in.
ROWS_AROUND = 2


def rules(values: Mapping[str, Any]) -> Given:
    """The limit and what counts towards it."""
    system = SYSTEMS[values["unit_system"]]
    return [
        (_("Limit"), format_lazy(_("{limit} points"), limit=plan_sums.points(Fraction(values["limit"])))),
        (
            _("Canopy"),
            _price(values["price_area"], system.area_label),
        ),
        (
            format_lazy(_("{count} lines"), count=values["line_count"]),
            _price(values["price_line"], system.length.symbol),
        ),
    ]


def given(slug: str, context: SumContext) -> Given:
    """The numbers a sum is worked from, each with its name; () for a sum that has none to show."""
    if slug.startswith("rounded_"):
        trial = int(slug.removeprefix("rounded_"))
        return [
            (format_lazy(_("Stopwatch, drop {trial}"), trial=trial), _seconds(f"{context.reading(trial):f}"))
        ]
    found = {
        "diameter": _for_radius,
        "area": _for_area,
        "total_line": _for_lines,
        "time_sum": _for_times,
        "material": _for_material,
        "mean": _for_average,
        "speed": _for_speed,
        "change": _for_change,
    }.get(slug)
    return found(context) if found else ()


def _price(price: Decimal, unit: str) -> Words:
    if price == 1:
        return format_lazy(_("1 point for each {unit}"), unit=unit)
    return format_lazy(
        _("{price} points for each {unit}"), price=plan_sums.points(Fraction(price)), unit=unit
    )


def _length(value: Fraction, context: SumContext) -> str:
    unit = SYSTEMS[context.settings["unit_system"]].length
    return format_with_unit(value, unit, Fraction(context.settings.get("tape_division", 1)))


def _seconds(text: str) -> str:
    return f"{text}\N{NO-BREAK SPACE}s"


def _for_radius(context: SumContext) -> Given:
    return [(_("Canopy radius"), _length(context.sizes[plan_sums.RADIUS], context))]


def _for_area(context: SumContext) -> Given:
    if "diameter" not in context.accepted:
        return _for_radius(context)
    across = _length(Fraction(context.accepted["diameter"]), context)
    return [*_for_radius(context), (_("Way across"), across)]


def _for_lines(context: SumContext) -> Given:
    return [
        (
            _("Lines"),
            format_lazy(
                _("{count}, each {length} long"),
                count=context.settings["line_count"],
                length=_length(context.sizes[plan_sums.LINE], context),
            ),
        )
    ]


def _for_material(context: SumContext) -> Given:
    settings = context.settings
    system = SYSTEMS[settings["unit_system"]]
    area = plan_sums.points(plan_sums.area_used(context))
    if "total_line" in context.accepted:
        lines: Given = [(_("All the line"), _length(Fraction(context.accepted["total_line"]), context))]
    else:
        lines = _for_lines(context)
    return [
        (
            _("Canopy area"),
            format_lazy(
                _("{area} {unit}, at {price}"),
                area=area,
                unit=system.area_label,
                price=_price(settings["price_area"], system.area_label),
            ),
        ),
        *lines,
        (
            _("Price of line"),
            _price(settings["price_line"], system.length.symbol),
        ),
    ]


def _for_times(context: SumContext) -> Given:
    places = int(context.settings["places_time"])
    times = ", ".join(_seconds(format_figure(time, places)) for time in result_sums.rounded_times(context))
    return [(_("Your rounded times"), times)]


def _for_average(context: SumContext) -> Given:
    if "time_sum" not in context.accepted:
        return _for_times(context)
    together = _seconds(plan_sums.points(Fraction(context.accepted["time_sum"])))
    return [*_for_times(context), (_("Times together"), together)]


def _for_speed(context: SumContext) -> Given:
    settings = context.settings
    system = SYSTEMS[settings["unit_system"]]
    height = plan_sums.points(Fraction(settings["drop_height"]))
    average = plan_sums.points(result_sums.average_used(context))
    name = _("Middle fall time") if settings["average"] == "median" else _("Mean fall time")
    return [
        (_("Drop height"), f"{height}\N{NO-BREAK SPACE}{system.height.symbol}"),
        (name, _seconds(average)),
    ]


def _for_change(context: SumContext) -> Given:
    settings = context.settings
    by_time = settings.get("compare", "speed") == "time"
    places = int(settings["places_time" if by_time else "places_speed"])
    unit = "s" if by_time else SYSTEMS[settings["unit_system"]].speed_label
    return [
        (label, f"{format_figure(figures['performance'], places)}\N{NO-BREAK SPACE}{unit}")
        for label, figures in ((_("Round before"), context.before), (_("This round"), context.now))
    ]


def table(slug: str, context: SumContext) -> list[tuple[str, str]]:
    """The rows of the area table (radius, area) round the team's radius, where the class reads a table.

    Every mark of the tape from two whole units below to two above; the team finds its own row.
    """
    if slug != "area" or context.settings["area_method"] != "table":
        return []
    radius = context.sizes[plan_sums.RADIUS]
    division = Fraction(context.settings.get("tape_division", 1))
    return list(_rows(radius, division, context))


def _rows(radius: Fraction, division: Fraction, context: SumContext) -> Iterator[tuple[str, str]]:
    unit = SYSTEMS[context.settings["unit_system"]].length
    below, above = Fraction(radius // 1 - ROWS_AROUND), Fraction(radius // 1 + 1 + ROWS_AROUND)
    marks = {below + division * step for step in range(int((above - below) / division) + 1)} | {radius}
    for mark in sorted(mark for mark in marks if mark > 0):
        yield format_length(mark, unit, division), format_figure(plan_sums.table_area(mark), 0)


def facts(values: Mapping[str, Any]) -> Given:
    """The rules every team works under, the drop among them."""
    system = SYSTEMS[values["unit_system"]]
    return [
        (_("Drop height"), f"{values['drop_height']:f} {system.height.symbol}"),
        (_("Load"), format_lazy(_("{grams} g"), grams=f"{values['load_mass']:f}")),
        *rules(values),
    ]


def reference_table(values: Mapping[str, Any]) -> list[tuple[str, str]]:
    """The printed area table, head first, by half inches or whole centimetres; [] where no table is read."""
    if values["area_method"] != "table":
        return []
    system = SYSTEMS[values["unit_system"]]
    unit = system.length
    radii = (
        [Fraction(n, 2) for n in range(4, 31)] if unit.slug == "in" else [Fraction(n) for n in range(5, 41)]
    )
    head = (
        str(format_lazy(_("Radius, {unit}"), unit=unit.symbol)),
        str(format_lazy(_("Area, {unit}"), unit=system.area_label)),
    )
    rows = [
        (format_length(radius, unit, Fraction(1, 2)), format_figure(plan_sums.table_area(radius), 0))
        for radius in radii
    ]
    return [head, *rows]

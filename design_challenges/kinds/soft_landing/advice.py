"""What the set-up tells a teacher about the soft landing: what to beware of, what a limit allows."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from design_challenges.kinds.base import Allowance, Values
from design_challenges.services.geometry import circle_area
from design_challenges.services.lengths import format_length
from design_challenges.services.rounding import format_figure, round_half_up
from design_challenges.services.units import SYSTEMS
from design_challenges.words import Words

from .plan_sums import area_places, points

LOWEST = {"us": Decimal(10), "metric": Decimal(3)}
HEAVIEST_G = Decimal(10)
DROPS_THEN = 5
ROWS = 12
SHORTEST = Fraction(1)


def advice(values: Values, longest: Fraction) -> Sequence[Words]:
    """Return what a teacher should know before saving; nothing of it is forbidden."""
    found: list[Words] = []
    lowest = LOWEST[values["unit_system"]]
    low, heavy = values["drop_height"] < lowest, values["load_mass"] > HEAVIEST_G
    if low or heavy:
        why = _under(values) if low else _over(values)
        found.append(format_lazy("{why} {so}", why=why, so=_small_range(values)))
        if low and heavy:
            found.append(_over(values))
    if not allowance(values, longest).rows:
        found.append(_("No plan fits inside this limit. Raise the limit or lower the prices."))
    return found


def _under(values: Values) -> Words:
    unit = SYSTEMS[values["unit_system"]].height.symbol
    return format_lazy(
        _("The drop is under {least} {unit}."), least=f"{LOWEST[values['unit_system']]:f}", unit=unit
    )


def _over(values: Values) -> Words:
    return format_lazy(_("The load is over {most} g, so it falls fast."), most=f"{HEAVIEST_G:f}")


def _small_range(values: Values) -> Words:
    if values["trials_per_round"] < DROPS_THEN:
        return _("The range of times is too small for thumbs: try five drops a round.")
    return _("The range of times is small for thumbs; your drops a round help.")


def longest_line(values: Values, radius: Fraction) -> Fraction:
    """Return the longest line, on a mark of the tape, that a canopy of this radius leaves inside the limit.

    The area is rounded as the class rounds it. At or under 0 where the canopy alone passes the limit.
    """
    area = round_half_up(circle_area(radius), area_places(values))
    left = Fraction(values["limit"]) - Fraction(values["price_area"]) * Fraction(area)
    division = Fraction(values["tape_division"])
    line = left / (Fraction(values["price_line"]) * values["line_count"])
    return line // division * division


def allowance(values: Values, longest: Fraction) -> Allowance:
    """Return for a few whole radii the area and the longest line inside the limit, smallest first."""
    fits: list[Fraction] = []
    radius = SHORTEST
    while radius <= longest and longest_line(values, radius) >= SHORTEST:
        fits.append(radius)
        radius += 1
    # Large canopies are what teams ask for, so the few that are shown count down from the largest.
    step = max(1, -(-len(fits) // ROWS))
    shown = sorted(fits[::-1][::step])
    unit = SYSTEMS[values["unit_system"]]
    places = area_places(values)
    return Allowance(
        sentence=_("The longest lines that some canopies leave inside the limit."),
        head=(
            format_lazy(_("Canopy radius, {unit}"), unit=unit.length.symbol),
            format_lazy(_("Area, {unit}"), unit=unit.area_label),
            _("Points for it"),
            format_lazy(_("Longest line, {unit}"), unit=unit.length.symbol),
        ),
        rows=tuple(_row(values, fit, places) for fit in shown),
    )


def _row(values: Values, radius: Fraction, places: int) -> tuple[str, ...]:
    area = round_half_up(circle_area(radius), places)
    unit = SYSTEMS[values["unit_system"]].length
    return (
        format_length(radius, unit, Fraction(1)),
        format_figure(area, places),
        points(Fraction(values["price_area"]) * Fraction(area)),
        format_length(longest_line(values, radius), unit, Fraction(values["tape_division"])),
    )

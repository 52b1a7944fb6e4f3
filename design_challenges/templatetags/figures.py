"""Numbers in templates: half-up figures and lengths as they stand on a tape."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from django import template

from design_challenges.services import lengths, rounding
from design_challenges.services.units import UNITS, Unit

if TYPE_CHECKING:
    from decimal import Decimal

register = template.Library()


@register.filter
def figure(value: Decimal | Fraction | int | str | None, places: int) -> str:
    """`{{ speed|figure:1 }}`: rounded half-up, with exactly that many decimals; nothing for nothing."""
    if value is None or isinstance(value, str):
        # An undefined variable arrives as an empty text and must stay one.
        return value or ""
    return rounding.format_figure(value, int(places))


@register.filter
def tape(length: lengths.Length | None) -> str:
    """`{{ length|tape }}`: a length in its own unit and division, '13 1/2 in'; nothing for nothing."""
    if not isinstance(length, lengths.Length):
        return ""
    return lengths.format_with_unit(length.value, length.unit, length.division)


@register.simple_tag
def mark(value: Fraction | None, unit: Unit | str, division: Fraction | str) -> str:
    """`{% mark value unit division %}`: an exact value as it stands on the class's tape, with its unit."""
    if value is None:
        return ""
    unit = UNITS[unit] if isinstance(unit, str) else unit
    return lengths.format_with_unit(value, unit, Fraction(division))

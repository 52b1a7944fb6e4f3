"""The made thing beside its plan: what each size became, by how much it differs, and the material it took."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from design_challenges.kinds.base import Spot, Variable
from design_challenges.services.lengths import format_length
from design_challenges.services.pairs import read_pair
from design_challenges.services.record_types import RoundRecord
from design_challenges.services.rounding import format_figure, round_half_up
from design_challenges.services.units import IMPERIAL, Unit
from design_challenges.words import Words

SPOTS_ON_A_SCREEN = 4
FINEST_WRITTEN_FRACTION = 16


@dataclass(frozen=True)
class Part:
    """What is measured on one screen: up to four spots of one quantity, and whether all of them are in.

    Where `twice` is set, two children measure them apart and then agree on each.
    """

    number: int
    spots: Sequence[Spot]
    done: bool
    twice: bool = False


@dataclass(frozen=True)
class MadeRow:
    """One design variable: as planned, as measured (the mean of its spots), and the difference in words."""

    label: Words
    unit: Words
    planned: str
    made: str
    readings: Sequence[str]
    difference: Words


@dataclass(frozen=True)
class MaterialRow:
    """The material the made thing took, in points; `allowed_per_cent` may be passed, no more."""

    used: Decimal
    limit: Decimal
    over_per_cent: Decimal
    allowed_per_cent: Decimal
    too_much: bool
    allowed: bool

    @property
    def left(self) -> Decimal:
        """Points to spare (0 where there are none)."""
        return max(Decimal(0), self.limit - self.used)


def parts(record: RoundRecord) -> list[Part]:
    """Return everything to be measured, in screens."""
    groups: list[list[Spot]] = []
    for spot in record.kind.spots(record.values):
        fits = groups and groups[-1][0].quantity == spot.quantity and len(groups[-1]) < SPOTS_ON_A_SCREEN
        if fits:
            groups[-1].append(spot)
        else:
            groups.append([spot])
    found = []
    for number, spots in enumerate(groups, start=1):
        twice = record.kind.is_measured_twice(record.values, spots[0].quantity)
        found.append(Part(number, spots, all(_is_in(record, spot, twice) for spot in spots), twice))
    return found


def _is_in(record: RoundRecord, spot: Spot, twice: bool) -> bool:
    key = spot.quantity, spot.spot
    return read_pair(record.turns.get(key, ())).done if twice else key in record.built


def is_measuring(record: RoundRecord) -> bool:
    """Return whether the team is in the middle of measuring: begun, and something still to come."""
    return bool(record.turns) and not all(part.done for part in parts(record))


def compare_with_plan(record: RoundRecord) -> list[MadeRow]:
    """Return the made thing beside its plan, a row a variable; empty until all is measured."""
    planned, built = record.plan_figures, record.built_figures
    if planned is None or built is None:
        return []
    unit = record.kind.length_unit(record.values)
    system = record.kind.system(record.values)
    rows = []
    for variable in record.kind.variables(record.values):
        before, after = planned.variables[variable.slug], built.variables[variable.slug]
        readings = [
            size.typed for (slug, _spot), size in sorted(record.built.items()) if slug == variable.slug
        ]
        rows.append(
            MadeRow(
                label=variable.label,
                unit=variable.unit(system),
                planned=write_size(before, variable, unit),
                made=write_size(after, variable, unit),
                readings=readings,
                difference=_difference(before, after, variable, unit),
            )
        )
    return rows


def material(record: RoundRecord) -> MaterialRow | None:
    """Return the material the made thing took, or None until all is measured."""
    planned, built = record.plan_figures, record.built_figures
    if planned is None or built is None:
        return None
    return MaterialRow(
        used=built.material,
        limit=planned.limit,
        over_per_cent=built.over_per_cent,
        allowed_per_cent=Decimal(record.values.get("built_over", 0)),
        too_much=built.too_much,
        allowed=record.build_allowed,
    )


def write_size(value: Fraction, variable: Variable, unit: Unit) -> str:
    """Return a size as a tape shows it where a tape can, else rounded half-up to the variable's places."""
    shown = _shown(value, variable, unit)
    if shown != value:
        return format_figure(value, variable.places)
    return format_length(value, unit, Fraction(1, value.denominator))


def _shown(value: Fraction, variable: Variable, unit: Unit) -> Fraction:
    """The size as the page shows it: inches to sixteenths, decimals to one place more than the variable."""
    on_tape = unit in IMPERIAL and FINEST_WRITTEN_FRACTION % value.denominator == 0
    if on_tape or (value * 10 ** (variable.places + 1)).denominator == 1:
        return value
    return Fraction(round_half_up(value, variable.places))


def write_nearest_mark(value: Fraction, unit: Unit, division: Fraction) -> str:
    """Return a length at the nearest mark of the class's tape, half a division going up.

    A mean of several readings falls between the marks; side by side, children compare
    what they could have read.
    """
    marks = value / division + Fraction(1, 2)
    return format_length(marks.__floor__() * division, unit, division)


def _difference(planned: Fraction, built: Fraction, variable: Variable, unit: Unit) -> Words:
    # From the sizes as they are shown, so that a child who subtracts them finds the same.
    change = _shown(built, variable, unit) - _shown(planned, variable, unit)
    if change == 0:
        return _("just as planned")
    size = write_size(abs(change), variable, unit)
    if change > 0:
        return format_lazy(_("{size} {unit} more"), size=size, unit=unit.symbol)
    return format_lazy(_("{size} {unit} less"), size=size, unit=unit.symbol)

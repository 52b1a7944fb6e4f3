"""How well a class measures: how close two readings of one size are, and how evenly devices are made."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from design_challenges.kinds.base import Variable
from design_challenges.services.made import write_size
from design_challenges.services.pairs import first_pair
from design_challenges.services.record_types import ClassRecord, RoundRecord
from design_challenges.services.statistics import median
from design_challenges.services.turns import Disagreement, disagreements
from design_challenges.services.units import Unit, convert
from design_challenges.words import Words

if TYPE_CHECKING:
    from classroom.models import Team

AGAIN = "again"


@dataclass(frozen=True)
class PairGap:
    """How far two readings of one spot are apart, in the class's unit, and whether that is close enough."""

    team_id: int
    apart: Fraction
    agrees: bool


@dataclass(frozen=True)
class Closeness:
    """The pairs of one size in one round: how many, how many agree, the middle difference as written.

    `same_child` pairs were read twice by one child; they are told and left out of everything else.
    """

    number: int
    pairs: int
    agreeing: int
    middle: str
    same_child: int


@dataclass(frozen=True)
class ClosenessRow:
    """One size: its pairs by round, and what that says in a sentence."""

    label: Words
    rounds: Sequence[Closeness]
    sentence: str


@dataclass(frozen=True)
class SpreadCell:
    """Largest minus smallest of one size over its spots; "" where not all of them are measured."""

    number: int
    label: Words
    text: str


@dataclass(frozen=True)
class SpreadRow:
    """A team's spreads, size by size and round by round; the class's row has no team."""

    team_id: int | None
    name: str
    cells: Sequence[SpreadCell]


@dataclass(frozen=True)
class WaitingPair:
    """A team's two readings that wait for a mark which somebody has to choose."""

    team: Team
    number: int
    pair: Disagreement


@dataclass(frozen=True)
class Measuring:
    """What the page shows; `waiting` are pairs of the teams' present rounds, those that are stuck first."""

    unit: Unit
    twice: bool
    rounds: Sequence[int]
    sizes: Sequence[Words]
    closeness: Sequence[ClosenessRow]
    spreads: Sequence[SpreadRow]
    middle: SpreadRow
    waiting: Sequence[WaitingPair]


def build_measuring(klass: ClassRecord) -> Measuring:
    """Return how close pairs are and how far spots spread, exactly, in the class's unit of length."""
    unit = klass.kind.length_unit(klass.values)
    variables = [variable for variable in klass.kind.variables(klass.values) if _spots(klass, variable) > 1]
    rounds = sorted({number for team in klass.teams for number in team.rounds}) or [1]
    spreads = [
        SpreadRow(
            team.team.pk, team.team.name, _cells(variables, rounds, unit, _team_spreads(team.rounds, unit))
        )
        for team in klass.teams
    ]
    middles = {
        (slug, number): median(found)
        for slug in (variable.slug for variable in variables)
        for number in rounds
        if (found := _all_spreads(klass, slug, number, unit))
    }
    return Measuring(
        unit=unit,
        twice=any(klass.kind.is_measured_twice(klass.values, variable.slug) for variable in variables),
        rounds=rounds,
        sizes=[variable.label for variable in variables],
        closeness=[_closeness_row(klass, variable, rounds, unit) for variable in variables],
        spreads=spreads,
        middle=SpreadRow(None, _("Middle of the class"), _cells(variables, rounds, unit, middles)),
        waiting=sorted(_waiting(klass), key=lambda waiting: not waiting.pair.stuck),
    )


def _waiting(klass: ClassRecord) -> Iterable[WaitingPair]:
    for team in klass.teams:
        if team.current is not None:
            for pair in disagreements(team.current):
                yield WaitingPair(team.team, team.current.number, pair)


def _spots(klass: ClassRecord, variable: Variable) -> int:
    return sum(1 for spot in klass.kind.spots(klass.values) if spot.quantity == variable.slug)


# --- pairs ------------------------------------------------------------------------------------------------


def _closeness_row(klass: ClassRecord, variable: Variable, rounds: Sequence[int], unit: Unit) -> ClosenessRow:
    gaps: dict[int, list[PairGap]] = {number: [] for number in rounds}
    same_child = dict.fromkeys(rounds, 0)
    for team in klass.teams:
        for number, record in team.rounds.items():
            for gap, again in _gaps(team.team.pk, record, variable, unit):
                if again:
                    same_child[number] += 1
                else:
                    gaps[number].append(gap)
    return ClosenessRow(
        label=variable.label,
        rounds=[
            Closeness(
                number=number,
                pairs=len(gaps[number]),
                agreeing=sum(gap.agrees for gap in gaps[number]),
                middle=_middle(gaps[number], variable, unit),
                same_child=same_child[number],
            )
            for number in rounds
        ],
        sentence=_sentence(gaps, variable, unit),
    )


def _gaps(
    team_id: int, record: RoundRecord, variable: Variable, unit: Unit
) -> Iterable[tuple[PairGap, bool]]:
    """Yield the first two readings of each spot, before anybody was asked about them."""
    own = record.kind.length_unit(record.values)
    within = record.kind.alike_within(record.values, variable.slug)
    for (quantity, _spot), rows in sorted(record.turns.items()):
        found = first_pair(rows) if quantity == variable.slug else None
        if found is not None:
            apart = abs(found[0].size.value - found[1].size.value)
            yield PairGap(team_id, convert(apart, own, unit), apart <= within), found[1].reader == AGAIN


def _middle(gaps: Sequence[PairGap], variable: Variable, unit: Unit) -> str:
    return write_size(median([gap.apart for gap in gaps]), variable, unit) if gaps else ""


def _sentence(gaps: Mapping[int, Sequence[PairGap]], variable: Variable, unit: Unit) -> str:
    """Say what the pairs show: rounds are compared only over teams that have pairs in both."""
    measured = [number for number, found in gaps.items() if found]
    if not measured:
        return _("No size of this kind was read by two children yet.")
    if len(measured) == 1:
        return _("Pairs in round {number} only: there is nothing to compare them with yet.").format(
            number=measured[0]
        )
    first, last = measured[0], measured[-1]
    both = {gap.team_id for gap in gaps[first]} & {gap.team_id for gap in gaps[last]}
    if not both:
        return _("No team has pairs in both rounds yet, so they cannot be compared.")
    then, now = ([gap for gap in gaps[number] if gap.team_id in both] for number in (first, last))
    before, after = median([gap.apart for gap in then]), median([gap.apart for gap in now])
    if after < before:
        change = _("The pairs came closer.")
    elif after > before:
        change = _("The pairs moved apart.")
    else:
        change = _("The pairs are as close as they were.")
    counted = ngettext(
        "{n} team has pairs in rounds {first} and {last}. The middle difference was {before} {unit}, "
        "then {after} {unit}. {change}",
        "{n} teams have pairs in rounds {first} and {last}. The middle difference was {before} {unit}, "
        "then {after} {unit}. {change}",
        len(both),
    )
    return counted.format(
        n=len(both),
        before=write_size(before, variable, unit),
        after=write_size(after, variable, unit),
        unit=unit.symbol,
        first=first,
        last=last,
        change=change,
    )


# --- spreads ----------------------------------------------------------------------------------------------


def spread(record: RoundRecord, slug: str) -> Fraction | None:
    """Return largest minus smallest of a size over its spots, None until all of them are measured."""
    keys = [(s.quantity, s.spot) for s in record.kind.spots(record.values) if s.quantity == slug]
    if len(keys) < 2 or any(key not in record.built for key in keys):
        return None
    values = [record.built[key].value for key in keys]
    return max(values) - min(values)


def _team_spreads(rounds: Mapping[int, RoundRecord], unit: Unit) -> dict[tuple[str, int], Fraction]:
    found = {}
    for number, record in rounds.items():
        own = record.kind.length_unit(record.values)
        for variable in record.kind.variables(record.values):
            value = spread(record, variable.slug)
            if value is not None:
                found[variable.slug, number] = convert(value, own, unit)
    return found


def _all_spreads(klass: ClassRecord, slug: str, number: int, unit: Unit) -> list[Fraction]:
    every = (_team_spreads(team.rounds, unit).get((slug, number)) for team in klass.teams)
    return [value for value in every if value is not None]


def _cells(
    variables: Sequence[Variable],
    rounds: Sequence[int],
    unit: Unit,
    found: Mapping[tuple[str, int], Fraction],
) -> list[SpreadCell]:
    return [
        SpreadCell(
            number,
            variable.label,
            write_size(found[variable.slug, number], variable, unit)
            if (variable.slug, number) in found
            else "",
        )
        for variable in variables
        for number in rounds
    ]

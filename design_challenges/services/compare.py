"""The class's numbers side by side for one round, in team order and never best first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from design_challenges.kinds.base import Performance, Variable
from design_challenges.services.boards import shown_figure
from design_challenges.services.covers import Covers, covers_of
from design_challenges.services.made import write_nearest_mark
from design_challenges.services.record_types import ClassRecord, RoundRecord, TeamRecord
from design_challenges.words import Words


@dataclass(frozen=True)
class Column:
    """A column of the table; `hidden` while the teacher lets the class guess first."""

    label: Words
    unit: Words
    hidden: bool


@dataclass(frozen=True)
class ClassRow:
    """One team: its sizes (as text, "" where there are none yet) and its figure of every round so far."""

    team: str
    own: bool
    sizes: Sequence[str]
    figures: Sequence[Decimal | None]
    opened: tuple[int, int] | None


@dataclass(frozen=True)
class ClassTable:
    """The class at one round: the columns of the sizes and of the figures, and a row a team."""

    sizes: Sequence[Column]
    rounds: Sequence[int]
    performance: Performance
    figure_hidden: bool
    rows: Sequence[ClassRow]
    team_hidden: bool = False

    @property
    def covered(self) -> bool:
        """Whether the teacher has covered a column of it for now."""
        return self.figure_hidden or self.team_hidden or any(column.hidden for column in self.sizes)


def class_table(klass: ClassRecord, own: TeamRecord, shown: RoundRecord) -> ClassTable:
    """Return every team's sizes of the round shown and its figures up to it; what is covered carries nothing.

    A team whose numbers are covered for the class still sees its own.
    """
    covers = covers_of(klass.challenge)
    variables = list(klass.kind.variables(shown.values))
    system = klass.kind.system(shown.values)
    rounds = range(1, shown.number + 1)
    rows = []
    for team in klass.teams:
        is_own = team.team.pk == own.team.pk
        # Covered, a team is as one that has no round to show.
        seen = {} if covers.team(team.team.pk) and not is_own else team.rounds
        now = _round(seen, shown.number, shown)
        figures = [None if covers.figure else _figure(_round(seen, number, shown)) for number in rounds]
        sizes = [_size(now, variable, covers) for variable in variables]
        rows.append(ClassRow(team.team.name, is_own, sizes, figures, _opened(now)))
    return ClassTable(
        sizes=[
            Column(variable.label, variable.unit(system), covers.column(variable.slug))
            for variable in variables
        ],
        rounds=list(rounds),
        performance=shown.performance,
        figure_hidden=covers.figure,
        rows=rows,
        team_hidden=covers.any_team,
    )


def _round(rounds: Mapping[int, RoundRecord], number: int, shown: RoundRecord) -> RoundRecord | None:
    """Return a team's round where its numbers mean the same as those shown: same units, same figure."""
    record = rounds.get(number)
    if record is None or record.values["unit_system"] != shown.values["unit_system"]:
        return None
    return record if record.performance.slug == shown.performance.slug else None


def _size(record: RoundRecord | None, variable: Variable, covers: Covers) -> str:
    if record is None or covers.column(variable.slug):
        return ""
    value = record.variable(variable.slug)
    if value is None:
        return ""
    return write_nearest_mark(value, record.kind.length_unit(record.values), record.tape_division)


def _figure(record: RoundRecord | None) -> Decimal | None:
    return None if record is None else shown_figure(record)


def _opened(record: RoundRecord | None) -> tuple[int, int] | None:
    """Return how many of the counting drops opened, where not all of them did."""
    if record is None or record.figure is None or record.opened_count == len(record.counting):
        return None
    return record.opened_count, len(record.counting)

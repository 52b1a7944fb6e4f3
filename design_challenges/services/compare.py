"""The class's numbers side by side for one round, in team order and never best first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from design_challenges.kinds.base import Performance, Variable
from design_challenges.services.boards import FIGURE, shown_figure
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

    @property
    def covered(self) -> bool:
        """Whether the teacher has covered a column of it for now."""
        return self.figure_hidden or any(column.hidden for column in self.sizes)


def class_table(klass: ClassRecord, own: TeamRecord, shown: RoundRecord) -> ClassTable:
    """Return every team's sizes of the round shown and its figures up to it; hidden columns carry nothing."""
    hidden = set(klass.challenge.board_hidden)
    variables = list(klass.kind.variables(shown.values))
    system = klass.kind.system(shown.values)
    rounds = range(1, shown.number + 1)
    figure_hidden = FIGURE in hidden
    rows = [
        ClassRow(
            team=team.team.name,
            own=team.team.pk == own.team.pk,
            sizes=[_size(_round(team, shown.number, shown), variable, hidden) for variable in variables],
            figures=[None if figure_hidden else _figure(_round(team, number, shown)) for number in rounds],
            opened=_opened(_round(team, shown.number, shown)),
        )
        for team in klass.teams
    ]
    return ClassTable(
        sizes=[
            Column(variable.label, variable.unit(system), variable.slug in hidden) for variable in variables
        ],
        rounds=list(rounds),
        performance=shown.performance,
        figure_hidden=figure_hidden,
        rows=rows,
    )


def _round(team: TeamRecord, number: int, shown: RoundRecord) -> RoundRecord | None:
    """Return a team's round where its numbers mean the same as those shown: same units, same figure."""
    record = team.rounds.get(number)
    if record is None or record.values["unit_system"] != shown.values["unit_system"]:
        return None
    return record if record.performance.slug == shown.performance.slug else None


def _size(record: RoundRecord | None, variable: Variable, hidden: set[str]) -> str:
    if record is None or variable.slug in hidden:
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

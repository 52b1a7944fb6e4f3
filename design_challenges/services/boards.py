"""What the class board shows: a row a team, columns that can be covered, and the charts beside them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from design_challenges.kinds.base import Variable
from design_challenges.models import ClassChallenge
from design_challenges.services import charts
from design_challenges.services.analysis.gather import letter
from design_challenges.services.made import write_nearest_mark
from design_challenges.services.record_types import ClassRecord, RoundRecord, TeamRecord
from design_challenges.services.rounding import format_figure
from design_challenges.words import Words

FIGURE = "figure"
TEAMS_A_VIEW = 16


@dataclass(frozen=True)
class Column:
    """A column of numbers: its heading, its unit, and whether it is covered for now."""

    slug: str
    label: Words
    unit: str
    covered: bool


@dataclass(frozen=True)
class Cell:
    """A number as it is written; "" where there is none, and never there where it is covered."""

    column: Column
    text: str
    note: str = ""


@dataclass(frozen=True)
class Row:
    """One team's row: the round it is about (0 where none has begun) and its numbers."""

    team_id: int
    place: int
    team: str
    round: int
    cells: tuple[Cell, ...]
    note: str


@dataclass(frozen=True)
class BoardChart:
    """The figure against one variable; `figure` is "" where a column of it is covered or no team is in."""

    slug: str
    title: str
    sentence: str
    figure: str
    covered: bool


@dataclass(frozen=True)
class _Entry:
    """One round of a team as the board may show it."""

    team: TeamRecord
    record: RoundRecord
    figure: Decimal | None
    same_units: bool


def columns_of(klass: ClassRecord) -> list[Column]:
    """Return the board's columns: the figure first, then the design variables."""
    hidden = klass.challenge.board_hidden
    performance = klass.kind.performance(klass.values)
    system = klass.kind.system(klass.values)
    return [
        Column(FIGURE, performance.label, str(performance.unit), FIGURE in hidden),
        *(
            Column(variable.slug, variable.label, str(variable.unit(system)), variable.slug in hidden)
            for variable in klass.kind.variables(klass.values)
        ),
    ]


def call_by_letter(klass: ClassRecord) -> None:
    """Call the teams of a loaded class A, B, C … in their order, so that a class guesses without names."""
    for record in klass.teams:
        record.team.name = letter(record.place)


def shown_figure(record: RoundRecord) -> Decimal | None:
    """Return a round's class figure once the team has worked it out itself.

    Before that the board would tell a team its answer. Where the software works the
    sums, the figure shows as soon as the drops are in.
    """
    if record.figure is None:
        return None
    if record.sums_by_children and not _figure_worked(record):
        return None
    return record.figure


def _figure_worked(record: RoundRecord) -> bool:
    # The change between rounds is worked from the figure, so the figure does not wait for it.
    steps = record.kind.result_steps(record.values, 1)
    return all(record.working(step).accepted is not None for step in steps)


def board_rows(klass: ClassRecord, number: int = 0) -> list[Row]:
    """Return a row a team: of a round, or (`number` 0) of each team's latest round that has a figure.

    In team order, or by the figure with the best first where the teacher sorted.
    """
    columns = columns_of(klass)
    entries = [(team, _entry(klass, team, number)) for team in klass.teams]
    if klass.challenge.board_order == ClassChallenge.BoardOrder.FIGURE and not columns[0].covered:
        entries.sort(key=lambda pair: _by_figure(klass, pair[1]))
    return [_row(klass, team, entry, columns) for team, entry in entries]


def _entry(klass: ClassRecord, team: TeamRecord, number: int) -> _Entry | None:
    rounds = [team.rounds[number]] if number in team.rounds else []
    if not number:
        rounds = sorted(team.rounds.values(), key=lambda record: -record.number)
    units = klass.values["unit_system"]
    entries = [
        _Entry(team, record, _comparable(klass, record), record.values["unit_system"] == units)
        for record in rounds
    ]
    return next((entry for entry in entries if entry.figure is not None), entries[0] if entries else None)


def _comparable(klass: ClassRecord, record: RoundRecord) -> Decimal | None:
    """Return the figure where it stands in the class's present units: feet and metres share no column."""
    performance = klass.kind.performance(klass.values)
    units = record.values["unit_system"] == klass.values["unit_system"]
    same = units and record.performance.slug == performance.slug
    return shown_figure(record) if same else None


def _variable(entry: _Entry | None, slug: str) -> Fraction | None:
    if entry is None or not entry.same_units or (entry.figure is None and not entry.record.build_complete):
        return None
    return entry.record.variable(slug)


def _by_figure(klass: ClassRecord, entry: _Entry | None) -> tuple[int, Decimal, int]:
    if entry is None or entry.figure is None:
        return (1, Decimal(0), 0 if entry is None else entry.team.place)
    sign = 1 if klass.kind.performance(klass.values).lower_is_better else -1
    return (0, sign * entry.figure, entry.team.place)


def _row(klass: ClassRecord, team: TeamRecord, entry: _Entry | None, columns: list[Column]) -> Row:
    cells = []
    for column in columns:
        text = ""
        if entry is not None and not column.covered:
            if column.slug == FIGURE and entry.figure is not None:
                text = format_figure(entry.figure, entry.record.performance.places)
            elif column.slug != FIGURE:
                value = _variable(entry, column.slug)
                text = "" if value is None else _on_tape(entry.record, value)
        cells.append(Cell(column, text))
    return Row(
        team_id=team.team.pk,
        place=team.place,
        team=team.team.name,
        round=entry.record.number if entry else 0,
        cells=tuple(cells),
        note=_note(entry, covered=columns[0].covered) if entry else "",
    )


def _note(entry: _Entry, *, covered: bool) -> str:
    record = entry.record
    counting = len(record.counting)
    if entry.figure is None:
        if record.trials_complete:
            return _("working it out")
        if counting:
            return _("{n} of {all} dropped").format(n=counting, all=record.trials_expected)
        return ""
    if record.opened_count < counting and not covered:
        return _("{n} of {all} opened").format(n=record.opened_count, all=counting)
    if counting < record.trials_wanted:
        return ngettext("{n} drop", "{n} drops", counting).format(n=counting)
    return ""


# --- charts ----------------------------------------------------------------------------------------------


def board_charts(
    klass: ClassRecord,
    size: charts.Size,
    *,
    number: int = 0,
    team_ids: Sequence[int] | None = None,
    by_number: bool = False,
) -> list[BoardChart]:
    """Return a scatter of the figure against each variable; `team_ids` are those of the page shown.

    `by_number` writes each team's number in team order at its mark where names would
    be a crowd. Every page has the same axes, so that a mark stands where it would stand on one page.
    """
    columns = {column.slug: column for column in columns_of(klass)}
    return [
        _chart(klass, variable, columns, size, number, team_ids, by_number)
        for variable in klass.kind.variables(klass.values)
    ]


def _chart(
    klass: ClassRecord,
    variable: Variable,
    columns: dict[str, Column],
    size: charts.Size,
    number: int,
    team_ids: Sequence[int] | None,
    by_number: bool,
) -> BoardChart:
    across, up = columns[variable.slug], columns[FIGURE]
    title = _("{figure} by {variable}").format(figure=up.label, variable=str(across.label).lower())
    if across.covered or up.covered:
        return BoardChart(variable.slug, title, _("Covered for now: guess first."), "", covered=True)
    points = _points(klass, variable, across, up, number, by_number)
    shown = tuple(point for point in points if team_ids is None or point[0] in team_ids)
    chart = charts.ScatterChart(
        points=tuple(point for _team, point in shown),
        x_title=f"{across.label}, {across.unit}",
        y_title=f"{up.label}, {up.unit}",
        size=size,
        places=klass.kind.performance(klass.values).places,
        x_span=_span([point.x for _team, point in points]),
        y_span=_span([Fraction(end) for _team, point in points for end in (point.y, *point.range)]),
    )
    sentence = _chart_sentence(chart.points, across, up)
    return BoardChart(variable.slug, title, sentence, charts.scatter_json(chart), covered=False)


def _on_tape(record: RoundRecord, size: Fraction) -> str:
    return write_nearest_mark(size, record.kind.length_unit(record.values), record.tape_division)


def _points(
    klass: ClassRecord, variable: Variable, across: Column, up: Column, number: int, by_number: bool
) -> list[tuple[int, charts.ScatterPoint]]:
    points = []
    for team in klass.teams:
        for record in team.rounds.values():
            figure, size = _comparable(klass, record), record.variable(variable.slug)
            if figure is None or size is None or (number and record.number != number):
                continue
            said = _("{team}, round {n}: {y} {y_unit}, {x} {x_unit}").format(
                team=team.team.name,
                n=record.number,
                y=format_figure(figure, record.performance.places),
                y_unit=up.unit,
                x=_on_tape(record, size),
                x_unit=across.unit,
            )
            label = str(team.place) if by_number else team.team.name
            ends = () if by_number else _own_range(record)
            point = charts.ScatterPoint(label, record.number, size, figure, said, ends)
            points.append((team.team.pk, point))
    return points


def _own_range(record: RoundRecord) -> tuple[Decimal, ...]:
    """Return the figures of the round's own least and greatest drop: how far its drops spread."""
    times = [drop.reading.hundredths / 100 for drop in record.counting if drop.reading is not None]
    ends = (record.kind.drop_figure(record.values, find(times)) for find in (min, max))
    return tuple(Decimal(repr(end)) for end in ends) if len(times) > 1 else ()


def _span(values: Sequence[Fraction]) -> tuple[Fraction, ...]:
    return (min(values), max(values)) if values else ()


def _chart_sentence(points: Sequence[charts.ScatterPoint], across: Column, up: Column) -> str:
    """Say what is drawn, for who cannot see it; what goes with what is for the class to find."""
    if not points:
        return _("No team has a figure yet.")
    counts = ", ".join(
        ngettext("{n} team in round {round}", "{n} teams in round {round}", count).format(
            n=count, round=number
        )
        for number in sorted({point.round for point in points})
        for count in [sum(1 for point in points if point.round == number)]
    )
    x = [point.x for point in points]
    y = [Fraction(point.y) for point in points]
    return _("{counts}. {up}: {low} to {high}. {across}: {narrow} to {wide}.").format(
        counts=counts,
        up=up.label,
        low=_written(min(y)),
        high=f"{_written(max(y))} {up.unit}",
        across=across.label,
        narrow=_written(min(x)),
        wide=f"{_written(max(x))} {across.unit}",
    )


def _written(value: Fraction) -> str:
    places = next((places for places in range(2) if (value * 10**places).denominator == 1), 2)
    return format_figure(value, places)

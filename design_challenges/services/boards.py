"""What the class board shows: a row a team, columns that can be covered, and the charts beside them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _lazy
from django.utils.translation import ngettext

from design_challenges.kinds.base import Variable
from design_challenges.models import ClassChallenge
from design_challenges.services import charts
from design_challenges.services.analysis.gather import letter
from design_challenges.services.analysis.regression import least_squares
from design_challenges.services.covers import FIGURE, covers_of
from design_challenges.services.made import write_nearest_mark
from design_challenges.services.record_types import ClassRecord, RoundRecord, TeamRecord
from design_challenges.services.rounding import format_figure
from design_challenges.words import Words

TEAMS_A_VIEW = 16
GUESS_FIRST = _lazy("Covered for now: guess first.")


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
    covered: bool = False


@dataclass(frozen=True)
class Row:
    """One team's row: the round it is about (0 where none has begun) and its numbers."""

    team_id: int
    place: int
    team: str
    round: int
    cells: tuple[Cell, ...]
    note: str
    covered: bool = False


@dataclass(frozen=True)
class BoardChart:
    """The figure against one variable; `figure` is "" where a column of it is covered or no team is in.

    `line` says whether its trend line is drawn, `marks` says each mark for who cannot see them.
    """

    slug: str
    title: str
    sentence: str
    figure: str
    covered: bool
    line: bool = False
    marks: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Entry:
    """One round of a team as the board may show it."""

    team: TeamRecord
    record: RoundRecord
    figure: Decimal | None
    same_units: bool


def columns_of(klass: ClassRecord) -> list[Column]:
    """Return the board's columns: the figure first, then the design variables."""
    covers = covers_of(klass.challenge)
    performance = klass.kind.performance(klass.values)
    system = klass.kind.system(klass.values)
    return [
        Column(FIGURE, performance.label, str(performance.unit), covers.figure),
        *(
            Column(variable.slug, variable.label, str(variable.unit(system)), covers.column(variable.slug))
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
        entries.sort(key=lambda pair: _by_figure(klass, pair[0], pair[1]))
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


def _by_figure(klass: ClassRecord, team: TeamRecord, entry: _Entry | None) -> tuple[int, Decimal, int]:
    # The place of a covered team would tell its figure: it stands with those that have none.
    if entry is None or entry.figure is None or covers_of(klass.challenge).team(team.team.pk):
        return (1, Decimal(0), team.place)
    sign = 1 if klass.kind.performance(klass.values).lower_is_better else -1
    return (0, sign * entry.figure, entry.team.place)


def _row(klass: ClassRecord, team: TeamRecord, entry: _Entry | None, columns: list[Column]) -> Row:
    cells = []
    team_covered = covers_of(klass.challenge).team(team.team.pk)
    for column in columns:
        text = ""
        covered = column.covered or team_covered
        if entry is not None and not covered:
            if column.slug == FIGURE and entry.figure is not None:
                text = format_figure(entry.figure, entry.record.performance.places)
            elif column.slug != FIGURE:
                value = _variable(entry, column.slug)
                text = "" if value is None else _on_tape(entry.record, value)
        cells.append(Cell(column, text, covered))
    return Row(
        team_id=team.team.pk,
        place=team.place,
        team=team.team.name,
        round=entry.record.number if entry else 0,
        cells=tuple(cells),
        note=_note(entry, covered=columns[0].covered) if entry and not team_covered else "",
        covered=team_covered,
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
    line: bool = False,
) -> list[BoardChart]:
    """Return a scatter of the figure against each variable; `team_ids` are those of the page shown.

    `line` draws the straight line nearest to all marks; `by_number` writes each team's number in team
    order at its mark where names would be a crowd. Every page has the same axes, so that a mark stands
    where it would stand on one page.
    """
    columns = {column.slug: column for column in columns_of(klass)}
    how = _How(size, number, team_ids, by_number, line)
    return [
        _chart(klass, variable, columns, how, place)
        for place, variable in enumerate(klass.kind.variables(klass.values), start=1)
    ]


@dataclass(frozen=True)
class _How:
    """How the board's charts are drawn."""

    size: charts.Size
    number: int
    team_ids: Sequence[int] | None
    by_number: bool
    line: bool


def _chart(
    klass: ClassRecord, variable: Variable, columns: dict[str, Column], how: _How, place: int
) -> BoardChart:
    across, up = columns[variable.slug], columns[FIGURE]
    bare = covers_of(klass.challenge).axes
    title = _("{figure} by {variable}").format(figure=up.label, variable=str(across.label).lower())
    if bare:
        title = _("Chart {n}: what could its axes be?").format(n=place)
    if across.covered or up.covered:
        return BoardChart(variable.slug, title, str(GUESS_FIRST), "", covered=True)
    points = _points(klass, variable, across, up, how.number, how.by_number, bare)
    shown = tuple(point for team_id, point in points if how.team_ids is None or team_id in how.team_ids)
    line = _line([point for _team, point in points]) if how.line and not bare else None
    chart = charts.ScatterChart(
        points=shown,
        x_title="?" if bare else f"{across.label}, {across.unit}",
        y_title="?" if bare else f"{up.label}, {up.unit}",
        size=how.size,
        places=klass.kind.performance(klass.values).places,
        x_span=_span([point.x for _team, point in points]),
        y_span=_span([Fraction(end) for _team, point in points for end in (point.y, *point.range)]),
        line=line,
        bare=bare,
    )
    sentence = _counts_sentence(shown) if bare else _chart_sentence(shown, across, up)
    if line is not None:
        sentence += " " + _("The line runs as near as it can to all the marks. It is no proof.")
    figure = charts.scatter_json(chart)
    marks = tuple(point.said for point in shown)
    return BoardChart(
        variable.slug, title, sentence, figure, covered=False, line=line is not None, marks=marks
    )


def _line(points: Sequence[charts.ScatterPoint]) -> tuple[float, float] | None:
    """Return the straight line nearest to all marks, at 0 and its slope; None for under three or one size."""
    x = [float(point.x) for point in points]
    fit = least_squares([x], [float(point.y) for point in points]) if len(set(x)) > 1 else None
    return (fit.coefficients[0], fit.coefficients[1]) if fit else None


def _on_tape(record: RoundRecord, size: Fraction) -> str:
    return write_nearest_mark(size, record.kind.length_unit(record.values), record.tape_division)


def _points(
    klass: ClassRecord,
    variable: Variable,
    across: Column,
    up: Column,
    number: int,
    by_number: bool,
    bare: bool,
) -> list[tuple[int, charts.ScatterPoint]]:
    points = []
    covers = covers_of(klass.challenge)
    for team in klass.teams:
        if covers.team(team.team.pk):
            continue
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
            if bare:
                said = _("{team}, round {n}").format(team=team.team.name, n=record.number)
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
        return _counts_sentence(points)
    x = [point.x for point in points]
    y = [Fraction(point.y) for point in points]
    return _("{counts} {up}: {low} to {high}. {across}: {narrow} to {wide}.").format(
        counts=_counts_sentence(points),
        up=up.label,
        low=_written(min(y)),
        high=f"{_written(max(y))} {up.unit}",
        across=across.label,
        narrow=_written(min(x)),
        wide=f"{_written(max(x))} {across.unit}",
    )


def _counts_sentence(points: Sequence[charts.ScatterPoint]) -> str:
    if not points:
        return _("No team has a figure yet.")
    counts = ", ".join(
        ngettext("{n} team in round {round}", "{n} teams in round {round}", count).format(
            n=count, round=number
        )
        for number in sorted({point.round for point in points})
        for count in [sum(1 for point in points if point.round == number)]
    )
    return f"{counts}."


def _written(value: Fraction) -> str:
    places = next((places for places in range(2) if (value * 10**places).denominator == 1), 2)
    return format_figure(value, places)

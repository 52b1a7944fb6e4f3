"""The class report for a teacher's file: settings, results, improvement, measuring and standards."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from design_challenges.services.change_words import ClassChange, class_change, exact_beside
from design_challenges.services.made import write_nearest_mark
from design_challenges.services.marking.rubrics import draft_of
from design_challenges.services.marking.standards import STANDARDS, Standard, known
from design_challenges.services.marking.usual import Draft, usual_rubric
from design_challenges.services.measuring import Measuring, build_measuring
from design_challenges.services.pair_drawing import PairDrawing, draw_pairs
from design_challenges.services.record_types import ClassRecord, RoundRecord, TeamRecord
from design_challenges.services.rounding import format_figure
from design_challenges.services.setup import Line, VersionNote, history, texts_of, told_by_group
from design_challenges.words import Words

USUAL_GRADE = 5
"""The grade whose usual rubric is shown where a class has none of its own yet."""


@dataclass(frozen=True)
class ResultRow:
    """One round of one team: its sizes, points, times, average and figure, as written."""

    team: str
    number: int
    first: bool
    rows: int
    sizes: Sequence[str]
    points: str
    times: str
    average: str
    figure: str
    exact: str
    opened: str


@dataclass(frozen=True)
class CoveredRow:
    """One criterion with the standards that it rests on, and whether it is graded or only shown."""

    title: Words
    graded: bool
    standards: Sequence[Standard]
    own_codes: Sequence[str]


@dataclass(frozen=True)
class Report:
    """Everything the report shows."""

    settings: Sequence[tuple[Words, Sequence[Line]]]
    versions: Sequence[VersionNote]
    size_heads: Sequence[tuple[Words, Words]]
    results: Sequence[ResultRow]
    change: ClassChange
    drawing: PairDrawing | None
    measuring: Measuring
    covered: Sequence[CoveredRow]
    grade: int
    own_rubric: bool


def build_report(klass: ClassRecord) -> Report:
    """Return the report of a class as it stands."""
    challenge, kind = klass.challenge, klass.kind
    change = class_change(klass, order="team")
    system = kind.system(klass.values)
    rubric = challenge.rubrics.order_by("-version").prefetch_related("criteria").first()
    grade = rubric.grade if rubric is not None else USUAL_GRADE
    drafts = [draft_of(one) for one in rubric.criteria.all()] if rubric is not None else usual_rubric(grade)
    pairs = [(team.team, team.first, team.second) for team in change.teams]
    return Report(
        settings=told_by_group(kind, texts_of(challenge, klass.settings)),
        versions=history(challenge),
        size_heads=[(variable.label, variable.unit(system)) for variable in kind.variables(klass.values)],
        results=[row for team in klass.teams for row in _rows(team)],
        change=change,
        drawing=draw_pairs(pairs, change.performance.places),
        measuring=build_measuring(klass),
        covered=[_covered(draft) for draft in drafts],
        grade=grade,
        own_rubric=rubric is not None,
    )


def _covered(draft: Draft) -> CoveredRow:
    return CoveredRow(
        draft.title,
        draft.weight > 0,
        known(draft.codes),
        [code for code in draft.codes if code not in STANDARDS],
    )


def _rows(team: TeamRecord) -> list[ResultRow]:
    numbers = sorted(team.rounds)
    return [
        _row(team, team.rounds[number], first=number == numbers[0], rows=len(numbers)) for number in numbers
    ]


def _row(team: TeamRecord, record: RoundRecord, *, first: bool, rows: int) -> ResultRow:
    unit = record.kind.length_unit(record.values)
    values = [record.variable(variable.slug) for variable in record.kind.variables(record.values)]
    used, results = record.material_used, record.results
    opened = record.opened_count < len(record.counting)
    return ResultRow(
        team=team.team.name,
        number=record.number,
        first=first,
        rows=rows,
        sizes=[
            "" if value is None else write_nearest_mark(value, unit, record.tape_division) for value in values
        ],
        points="" if used is None else f"{used.normalize():f}",
        times=", ".join(f"{drop.reading.seconds:f}" for drop in record.counting if drop.reading is not None),
        average=""
        if results is None
        else format_figure(results.average_time_s, record.values["places_time"]),
        figure="" if record.figure is None else format_figure(record.figure, record.performance.places),
        exact=exact_beside(record),
        opened=f"{record.opened_count}/{len(record.counting)}" if opened else "",
    )

"""Holds a colleague's second marking against the first: all together, and criterion by criterion."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from design_challenges.models import Criterion, Mark
from design_challenges.services.marking.agreement import Agreement, agreement
from design_challenges.services.marks import HIGHEST, ClassMarks, Place, load_marks, standing_marks
from design_challenges.services.record_types import ClassRecord
from design_challenges.services.rounding import format_figure

FEWEST = 10
"""Pairs below which kappa says more about chance than about two markers (common practice)."""


@dataclass(frozen=True)
class Compared:
    """The agreement on all criteria and on each; `table` counts first marks (rows) by second ones.

    `by_one` counts places that one person marked both times: they say nothing about two and are left out.
    """

    whole: Agreement
    by_criterion: Sequence[tuple[Criterion, Agreement]]
    table: Sequence[tuple[int, Sequence[int]]]
    by_one: int


def compare_markers(klass: ClassRecord) -> Compared | None:
    """Return how the two markings agree; None while the class has no rubric."""
    first = load_marks(klass)
    if first is None:
        return None
    rows = Mark.objects.filter(class_challenge=klass.challenge, second=True).order_by("pk")
    second = standing_marks(rows)
    places = [place for place in _graded_places(first) if place in second]
    both = [(place[2], first.given[place], second[place]) for place in places]
    by_two = [(key, one, other) for key, one, other in both if one.user_id != other.user_id]
    pairs = [(key, one.level, other.level) for key, one, other in by_two if one.level and other.level]
    levels = range(1, HIGHEST + 1)
    return Compared(
        whole=agreement([(one, other) for _key, one, other in pairs]),
        by_criterion=[
            (criterion, agreement([(one, other) for key, one, other in pairs if key == criterion.key]))
            for criterion in first.graded
        ],
        table=[
            (row, [sum(pair[1:] == (row, column) for pair in pairs) for column in levels]) for row in levels
        ],
        by_one=len(both) - len(by_two),
    )


def _graded_places(marks: ClassMarks) -> list[Place]:
    graded = {criterion.key for criterion in marks.graded}
    return [place for place in marks.given if place[2] in graded]


def shown_percent(found: Agreement) -> str:
    """Return the share of pairs alike in percent, whole, "" without a pair."""
    return "" if found.percent is None else format_figure(found.percent, 0)


def shown_kappa(found: Agreement) -> str:
    """Return weighted kappa to two places, "" where there is none or too few marks carry it."""
    return "" if found.kappa is None or found.pairs < FEWEST else format_figure(found.kappa, 2)

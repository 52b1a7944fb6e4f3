"""The tables of the teacher's page about the class's numbers, the same on the page and as CSV files."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from django.utils.translation import gettext as _

from design_challenges.kinds.base import Variable
from design_challenges.services.analysis import speech as write
from design_challenges.services.analysis.analyse import Analysis
from design_challenges.services.analysis.gather import Build
from design_challenges.services.analysis.intervals import Estimate
from design_challenges.services.analysis.speech import MINUS, SPACE
from design_challenges.services.analysis.teacher import TeamChange
from design_challenges.services.exports import written

Row = Sequence[str]


@dataclass(frozen=True)
class Table:
    """A table by the name of its file: what it shows, its headings, and its rows, the first cell their name.

    A heading is its words and its unit; cells are as they are written, "" where there is nothing. `words` are
    the columns that hold words and not numbers.
    """

    slug: str
    caption: str
    headings: tuple[tuple[str, str], ...]
    rows: tuple[Row, ...]
    words: frozenset[int] = frozenset()

    @property
    def lines(self) -> list[tuple[str, list[tuple[str, bool]]]]:
        """Each row as its name and its cells, with whether a cell is a number."""
        return [
            (row[0], [(cell, place not in self.words) for place, cell in enumerate(row) if place])
            for row in self.rows
        ]

    @property
    def columns(self) -> list[tuple[str, str, bool]]:
        """Each heading with its unit and whether the column is of numbers."""
        return [
            (label, unit, place > 0 and place not in self.words)
            for place, (label, unit) in enumerate(self.headings)
        ]


def csv_of(table: Table) -> str:
    """Return a table as CSV (RFC 4180): a plain minus and plain spaces, so that programs read the numbers."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow([f"{label} ({unit})" if unit else label for label, unit in table.headings])
    for row in table.rows:
        writer.writerow(
            [
                _plain(cell) if place and place not in table.words else written(cell)
                for place, cell in enumerate(row)
            ]
        )
    return out.getvalue()


def _plain(cell: str) -> str:
    return cell.replace(MINUS, "-").replace(SPACE, " ").removeprefix("+")


def all_tables(found: Analysis) -> dict[str, Table]:
    """Return every table that has a row, by its name."""
    tables = (
        builds(found),
        changes(found),
        rounds(found),
        wanders(found),
        correlations(found),
        effects(found),
        experiment(found),
    )
    return {table.slug: table for table in tables if table.rows}


def builds(found: Analysis) -> Table:
    """Every build: its sizes, its exact figure, its drops as they were timed."""
    variables = found.data.kind.variables(found.data.values)
    figure = _figure(found)
    return Table(
        "builds",
        _("Every build"),
        (
            (_("Team"), ""),
            (_("Round"), ""),
            *((str(variable.label), _unit(found, variable)) for variable in variables),
            figure,
            (_("Drops"), ""),
            (_("Times"), "s"),
        ),
        tuple(
            (
                build.team,
                str(build.round),
                *(_size(found, build, variable) for variable in variables),
                found.speech.number(build.figure),
                str(build.drops),
                ", ".join(write.plain(time / 100, 2) for time in build.hundredths),
            )
            for build in found.data.builds
        ),
        words=frozenset({len(variables) + 4}),
    )


def changes(found: Analysis) -> Table:
    """Each team's change with its interval and its exact probability."""
    label, unit = _figure(found)
    return Table(
        "changes",
        _("Each team’s change"),
        (
            (_("Team"), ""),
            (_("{figure}, round 1").format(figure=label), unit),
            (_("round 2"), unit),
            (_("Change"), unit),
            (_("95 % interval, from"), unit),
            (_("to"), unit),
            (_("Exact probability"), ""),
        ),
        tuple(_change(found, change) for change in found.teacher.changes if change.first or change.second),
    )


def _change(found: Analysis, change: TeamChange) -> Row:
    number, signed = found.speech.number, found.speech.change
    first, second = change.first, change.second
    exact = change.exact
    return (
        change.team,
        number(first.figure) if first else "",
        number(second.figure) if second else "",
        "" if change.change is None else signed(change.change),
        *_ends(change.welch.estimate if change.welch else None, signed),
        write.probability(exact.probability) if exact and exact.can_tell else "",
    )


def rounds(found: Analysis) -> Table:
    """Each round within and between its teams."""
    unit = str(found.data.performance.unit)
    number = found.speech.number
    return Table(
        "rounds",
        _("Within and between teams"),
        (
            (_("Round"), ""),
            (_("Teams"), ""),
            (_("Drops"), ""),
            (_("Scatter within teams"), unit),
            (_("from"), unit),
            (_("to"), unit),
            (_("Repeatability"), ""),
            (_("from"), ""),
            (_("to"), ""),
            (_("F"), ""),
            (_("p"), ""),
        ),
        tuple(
            (
                str(scatter.round),
                str(scatter.table.groups),
                str(scatter.table.values),
                number(scatter.table.within_sd) if scatter.table.within_sd is not None else "",
                *_ends(scatter.sd, number),
                *_share(scatter.repeatability),
                "" if scatter.table.f is None else write.plain(scatter.table.f, 2),
                "" if scatter.table.probability is None else write.probability(scatter.table.probability),
            )
            for scatter in found.teacher.scatters
        ),
    )


def _share(estimate: Estimate | None) -> tuple[str, str, str]:
    if estimate is None:
        return "", "", ""
    # Below 0 a share has no meaning: so low is only where chance can take its estimate.
    value, low, high = (write.plain(max(0.0, x), 2) for x in (estimate.value, estimate.low, estimate.high))
    return value, low, high


def wanders(found: Analysis) -> Table:
    """How far the mean of some drops wanders."""
    return Table(
        "how-sure",
        _("How far a mean wanders"),
        ((_("Drops in the mean"), ""), (_("19 times out of 20 within"), "s")),
        tuple(
            (str(wander.drops), write.plain(wander.most_s, 2)) for wander in found.children.how_sure.wanders
        ),
    )


def correlations(found: Analysis) -> Table:
    """The figure against each size."""
    return Table(
        "goes-with",
        _("What goes with what"),
        (
            (_("Size"), ""),
            (_("Correlation"), ""),
            (_("95 % interval, from"), ""),
            (_("to"), ""),
            (_("Designs"), ""),
            (_("worth unrelated ones"), ""),
        ),
        tuple(
            (
                str(fact.variable.label),
                write.plain(fact.estimate.value, 2),
                *_ends(fact.estimate, _two_places),
                str(fact.designs),
                write.plain(fact.worth, 1),
            )
            for fact in found.teacher.goes_with
            if fact.estimate is not None
        ),
    )


def effects(found: Analysis) -> Table:
    """What each size did by itself, beside theory."""
    apart = found.teacher.apart
    return Table(
        "effects",
        _("What each size did by itself"),
        (
            (_("Size"), ""),
            (_("Slope of the logarithm"), ""),
            (_("95 % interval, from"), ""),
            (_("to"), ""),
            (_("by physics"), ""),
        ),
        tuple(
            (
                effect.term,
                write.plain(effect.estimate.value, 2),
                *_ends(effect.estimate, _two_places),
                write.plain(effect.expected, 2),
            )
            for effect in (apart.effects if apart else ())
        ),
    )


def experiment(found: Analysis) -> Table:
    """Who would make what in the class experiment."""
    planned = found.teacher.offer.experiment
    if planned is None:
        return Table("experiment", _("The class experiment"), (), ())
    slugs = list(planned.sizes)
    variables = [found.speech.variables[slug] for slug in slugs]
    return Table(
        "experiment",
        _("Who makes what in the class experiment"),
        (
            (_("Team"), ""),
            *((str(variable.label), _unit(found, variable)) for variable in variables),
            (_("Keeps"), ""),
        ),
        tuple(
            (
                share.team,
                *(_bare(found, variable, share.design[variable.slug]) for variable in variables),
                write.together(found.speech.variable(slug) for slug in share.keeps) or _("neither"),
            )
            for share in planned.shares
        ),
        words=frozenset({len(slugs) + 1}),
    )


# --- how cells are written -------------------------------------------------------------------------------


def _figure(found: Analysis) -> tuple[str, str]:
    return str(found.data.performance.label), str(found.data.performance.unit)


def _unit(found: Analysis, variable: Variable) -> str:
    return str(variable.unit(found.speech.system))


def _bare(found: Analysis, variable: Variable, size: Fraction) -> str:
    return found.speech.size(variable.slug, size).partition(SPACE)[0]


def _size(found: Analysis, build: Build, variable: Variable) -> str:
    size = build.design.get(variable.slug)
    return "" if size is None else _bare(found, variable, size)


def _ends(estimate: Estimate | None, how: Callable[[float], str]) -> tuple[str, str]:
    return ("", "") if estimate is None else (how(estimate.low), how(estimate.high))


def _two_places(value: float) -> str:
    return write.plain(value, 2)

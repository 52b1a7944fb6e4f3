"""What the teacher's page about the class's numbers shows: sentences under plain headings, their charts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from django.utils.translation import gettext as _

from design_challenges.services import charts
from design_challenges.services.analysis.analyse import Analysis
from design_challenges.services.analysis.claim import Sentence
from design_challenges.services.analysis.gather import Build
from design_challenges.services.numbers_tables import Table, all_tables

CANNOT_TELL = frozenset(
    {
        "between-cannot-tell",
        "effect-cannot-tell",
        "exact-cannot-tell",
        "few-designs",
        "goes-with-unknown",
        "no-fit",
        "no-repeats",
        "no-scatter",
        "one-size-constant",
        "other-conditions",
        "pulled-unknown",
        "ranks-cannot-tell",
        "repeatability-unknown",
        "tied",
    }
)
"""Claims that say what the numbers do not carry, wherever their fact belongs."""
SIZE = charts.Size(width=620, height=400, font=15, mark=14, title_font=15)


@dataclass(frozen=True)
class Part:
    """One heading of the page: its sentences, those of single teams, and its tables by name."""

    slug: str
    title: str
    sentences: Sequence[Sentence]
    by_team: Sequence[Sentence] = ()
    tables: Sequence[Table] = ()


@dataclass(frozen=True)
class Drawn:
    """A chart as JSON with its title and its sentence; `line` says whether its trend line is drawn."""

    slug: str
    title: str
    sentence: str
    figure: str
    line: bool


def parts(found: Analysis) -> list[Part]:
    """Return the page's parts in their order; each sentence stands once, what cannot be told together."""
    facts = found.teacher
    tables = all_tables(found)
    cannot: list[Sentence] = found.of(facts.whole, *facts.shares)
    cannot_by_team: list[Sentence] = []

    def said(*about: object, cannot: list[Sentence] = cannot) -> list[Sentence]:
        told = found.of(*about)
        cannot.extend(sentence for sentence in told if sentence.slug in CANNOT_TELL)
        return [sentence for sentence in told if sentence.slug not in CANNOT_TELL]

    def of(*names: str) -> list[Table]:
        return [tables[name] for name in names if name in tables]

    apart = facts.apart
    days = found.of(*found.children.day_shifts)
    second_build = Part(
        "better",
        _("Did the second build do better?"),
        said(facts.gain, facts.all_longer, facts.many, facts.worst) + days if facts.whole.builds else [],
        by_team=said(*facts.changes, cannot=cannot_by_team),
        tables=of("changes"),
    )
    with_what = Part(
        "goes-with",
        _("What goes with what"),
        said(*facts.goes_with, *([apart, *apart.effects] if apart else [])) if facts.whole.builds else [],
        tables=of("builds", "goes-with", "effects"),
    )
    sure = Part(
        "sure",
        _("How sure"),
        said(*facts.scatters) + (found.of(found.children.how_sure) if facts.whole.builds else []),
        tables=of("rounds", "how-sure"),
    )
    tries = Part(
        "next",
        _("What to try next"),
        said(facts.offer) if facts.whole.builds else [],
        by_team=said(*facts.fair),
        tables=of("experiment"),
    )
    return [
        second_build,
        with_what,
        sure,
        Part("cannot", _("What these numbers cannot tell"), cannot, by_team=cannot_by_team),
        tries,
    ]


# --- charts ----------------------------------------------------------------------------------------------


def drawings(found: Analysis, lines: Sequence[str] = ()) -> list[Drawn]:
    """Return the exact figure against each size, with each build's range; a line only where asked for."""
    unit, label = str(found.data.performance.unit), str(found.data.performance.label)
    drawn = []
    for fact in found.teacher.goes_with:
        variable = fact.variable
        points = tuple(
            _point(found, build, variable.slug)
            for build in found.data.builds
            if variable.slug in build.design
        )
        line = fact.line if variable.slug in lines and _has_slope(points) else None
        figure = charts.scatter_json(
            charts.ScatterChart(
                points=points,
                x_title=f"{variable.label}, {variable.unit(found.speech.system)}",
                y_title=f"{label}, {unit}",
                size=SIZE,
                y_span=tuple(Fraction(end) for point in points for end in point.range),
                places=found.data.performance.places,
                line=line,
            )
        )
        title = _("{figure} by {variable}").format(figure=label, variable=str(variable.label).lower())
        sentence = _(
            "A mark a build, hollow in round 1 and filled in round 2; the bar is the range of its own drops."
        )
        if line is not None:
            sentence += " " + _("The line is the straight one nearest to all marks; it proves nothing.")
        drawn.append(Drawn(variable.slug, title, sentence if figure else "", figure, line is not None))
    return drawn


def _has_slope(points: Sequence[charts.ScatterPoint]) -> bool:
    return len({point.x for point in points}) > 1


def _point(found: Analysis, build: Build, slug: str) -> charts.ScatterPoint:
    said = _("{team}, round {n}: {figure}, {size}").format(
        team=build.team,
        n=build.round,
        figure=found.speech.figure(build.figure),
        size=found.speech.size(slug, build.design[slug]),
    )
    low, high = (_decimal(end) for end in (min(build.figures), max(build.figures)))
    return charts.ScatterPoint(
        build.team, build.round, build.design[slug], _decimal(build.figure), said, (low, high)
    )


def _decimal(value: float) -> Decimal:
    return Decimal(repr(value))


def changes_chart(found: Analysis) -> Drawn | None:
    """Return each team's change with its interval, None where no team has one."""
    rows = [
        charts.ChangeRow(
            change.team,
            change.change,
            *((welch.estimate.low, welch.estimate.high) if (welch := change.welch) else (None, None)),
        )
        for change in found.teacher.changes
        if change.change is not None
    ]
    if not rows:
        return None
    performance = found.data.performance
    title = _("Change of each team, round 2 less round 1")
    x_title = _("Change in {figure}, {unit}").format(
        figure=str(performance.label).lower(), unit=performance.unit
    )
    better = _("to the left") if performance.lower_is_better else _("to the right")
    sentence = _("A mark a team, its bar the 95 % interval; {better} of 0 is better.").format(better=better)
    return Drawn("changes", title, sentence, charts.change_json(tuple(rows), x_title), line=False)

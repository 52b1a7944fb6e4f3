"""Round 1 beside round 2: each team's change in words, the class medians, and the order of the picture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from design_challenges.kinds.base import Performance
from design_challenges.services import charts
from design_challenges.services.record_types import ClassRecord, RoundRecord, TeamRecord
from design_challenges.services.rounding import format_figure, round_half_up
from design_challenges.services.statistics import median

Verdict = Literal["better", "worse", "same", ""]
ORDERS = ("change", "first", "team")


@dataclass(frozen=True)
class TeamChange:
    """One team's class figures of rounds 1 and 2 and what became of them.

    `change` is round 2 minus round 1, in the figure's unit; None where a round has no
    figure yet, or where the two were taken in different units. `said` is the whole in
    words and `words` the same with the team's name before it.
    """

    team_id: int
    team: str
    place: int
    first: Decimal | None
    second: Decimal | None
    change: Decimal | None
    verdict: Verdict
    said: str

    @property
    def words(self) -> str:
        return _("{team}: {said}").format(team=self.team, said=self.said)

    @property
    def complete(self) -> bool:
        return self.change is not None


@dataclass(frozen=True)
class ClassChange:
    """Every team's change, in the order asked for, with the medians of each round and a sentence.

    A median is over the teams that have a figure of that round in the class's present
    unit: `first_count` and `second_count` say how many those are.
    """

    performance: Performance
    teams: tuple[TeamChange, ...]
    first_median: Decimal | None
    second_median: Decimal | None
    first_count: int
    second_count: int
    sentence: str

    @property
    def any_figure(self) -> bool:
        return bool(self.first_count or self.second_count)


def class_change(klass: ClassRecord, order: str = "change") -> ClassChange:
    """Return the whole class's change from round 1 to round 2; `order` is one of `ORDERS`."""
    performance = klass.kind.performance(klass.values)
    teams = [team_change(team, performance) for team in klass.teams]
    firsts = [team.first for team in teams if team.first is not None]
    seconds = [team.second for team in teams if team.second is not None]
    return ClassChange(
        performance=performance,
        teams=tuple(_sorted(teams, performance, order)),
        first_median=_median(firsts, performance),
        second_median=_median(seconds, performance),
        first_count=len(firsts),
        second_count=len(seconds),
        sentence=_sentence(teams, performance),
    )


def team_change(team: TeamRecord, performance: Performance) -> TeamChange:
    """Return one team's change; a figure in another unit than the class's present one is left out."""
    first = _figure(team.rounds.get(1), performance)
    second = _figure(team.rounds.get(2), performance)
    change = None if first is None or second is None else round_half_up(second - first, performance.places)
    verdict = _verdict(change, performance)
    return TeamChange(
        team_id=team.team.pk,
        team=team.team.name,
        place=team.place,
        first=first,
        second=second,
        change=change,
        verdict=verdict,
        said=_said(first, second, change, verdict, performance),
    )


def _figure(record: RoundRecord | None, performance: Performance) -> Decimal | None:
    if record is None or record.figure is None:
        return None
    own = record.performance
    if own.slug != performance.slug or str(own.unit) != str(performance.unit):
        return None
    return record.figure


def _verdict(change: Decimal | None, performance: Performance) -> Verdict:
    if change is None:
        return ""
    if change == 0:
        return "same"
    return "better" if (change < 0) == performance.lower_is_better else "worse"


def verdict_word(verdict: Verdict) -> str:
    """Return a verdict as it is written: better, not as good, the same."""
    return {"better": _("better"), "worse": _("not as good"), "same": _("no change"), "": ""}[verdict]


def _short(change: Decimal | None, verdict: Verdict, performance: Performance) -> str:
    """Return the change alone: '0.5 slower: better', or '' where there is none to speak of."""
    if change is None:
        return ""
    if verdict == "same":
        return verdict_word(verdict)
    return _("{amount} {direction}: {verdict}").format(
        amount=format_figure(abs(change), performance.places),
        direction=performance.more if change > 0 else performance.less,
        verdict=verdict_word(verdict),
    )


def _said(
    first: Decimal | None,
    second: Decimal | None,
    change: Decimal | None,
    verdict: Verdict,
    performance: Performance,
) -> str:
    def written(figure: Decimal) -> str:
        return f"{format_figure(figure, performance.places)} {performance.unit}"

    if first is not None and second is not None:
        return _("{first} → {second}, {change}").format(
            first=format_figure(first, performance.places),
            second=written(second),
            change=_short(change, verdict, performance),
        )
    if first is not None:
        return _("{first} in round 1, round 2 still to come").format(first=written(first))
    if second is not None:
        return _("{second} in round 2, no figure of round 1").format(second=written(second))
    return _("no figure yet")


def _median(figures: Sequence[Decimal], performance: Performance) -> Decimal | None:
    return round_half_up(median(figures), performance.places) if figures else None


def _sorted(teams: list[TeamChange], performance: Performance, order: str) -> list[TeamChange]:
    """Largest improvement first, or best round 1 first; teams without a figure at the end, in team order."""
    sign = 1 if performance.lower_is_better else -1

    def key(team: TeamChange) -> tuple[int, Decimal, int]:
        value = {"change": team.change, "first": team.first}.get(order)
        if order == "team":
            return (0, Decimal(0), team.place)
        if value is None:
            return (1 if team.first is not None or team.second is not None else 2, Decimal(0), team.place)
        return (0, sign * value, team.place)

    return sorted(teams, key=key)


def _sentence(teams: list[TeamChange], performance: Performance) -> str:
    """Say in one sentence what the picture shows, and no more than it shows."""
    both = [team for team in teams if team.complete]
    if not both:
        if any(team.first is not None or team.second is not None for team in teams):
            return _("No team has a figure of both rounds yet.")
        return _("No team has a figure yet.")
    count = {
        verdict: sum(1 for team in both if team.verdict == verdict) for verdict in ("better", "worse", "same")
    }
    said = ngettext("{n} team has both rounds", "{n} teams have both rounds", len(both)).format(n=len(both))
    parts = [
        text
        for number, text in (
            (count["better"], _("{n} better").format(n=count["better"])),
            (count["worse"], _("{n} not as good").format(n=count["worse"])),
            (count["same"], _("{n} the same").format(n=count["same"])),
        )
        if number
    ]
    return _("{said}: {parts}. With a few drops each, a small change can be chance.").format(
        said=said, parts=", ".join(parts)
    )


def exact_beside(record: RoundRecord | None) -> str:
    """Return the exact figure where the class figure is off by more than its last place, else ''.

    The class figure is rounded at every step, as the children work it; a teacher sees
    both where that makes a difference.
    """
    if record is None or record.figure is None or record.exact_figure is None:
        return ""
    places = record.performance.places
    exact = Decimal(repr(record.exact_figure))
    if abs(exact - record.figure) <= Decimal(1).scaleb(-places):
        return ""
    return format_figure(exact, places + 1)


def pair_chart(changes: ClassChange) -> charts.PairChart:
    """Return what the picture of both rounds shows."""
    performance = changes.performance

    def said(number: int, median_figure: Decimal | None, count: int) -> str:
        if median_figure is None:
            return ""
        figure = format_figure(median_figure, performance.places)
        if changes.first_median == changes.second_median:
            return _("median of both rounds: {figure}").format(figure=figure)
        # A median of four teams is not one of eight: how many stand behind it is part of it.
        return ngettext(
            "median of round {n}: {figure} ({count} team)",
            "median of round {n}: {figure} ({count} teams)",
            count,
        ).format(n=number, figure=figure, count=count)

    return charts.PairChart(
        pairs=tuple(
            charts.Pair(team.team, team.first, team.second, team.verdict, team.words)
            for team in changes.teams
        ),
        first_median=changes.first_median,
        second_median=changes.second_median,
        first_median_said=said(1, changes.first_median, changes.first_count),
        second_median_said=said(2, changes.second_median, changes.second_count),
        x_title=f"{performance.label}, {performance.unit}",
        places=performance.places,
    )

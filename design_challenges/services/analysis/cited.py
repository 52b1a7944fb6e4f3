"""The numbers that claims cite, by name, each written as it stands in the sentence."""

from __future__ import annotations

from collections.abc import Mapping

from django.utils.translation import gettext as _

from . import speech as write
from .alike import Twins
from .children import ChangeSeen, DayShift
from .gather import Build
from .speech import Speech
from .teacher import Apart, ClassGain, Effect, GoesWith, Offer, Scatter, TeamChange, WorstTeams

Numbers = Mapping[str, str]

REBUILT: Numbers = {"half": "8", "once": "16", "twice": "28"}
"""How often in 100 all three drops of a rebuilt device take longer; the simulation prints and holds them."""


def counts(fact: ChangeSeen, _speech: Speech) -> Numbers:
    return {"first": "1", "second": "2", "m": str(len(fact.first)), "n": str(len(fact.second))}


def build_name(build: Build) -> str:
    return _("{team}’s build {n}").format(team=build.team, n=build.round)


def twins(fact: Twins, speech: Speech) -> Numbers:
    return {
        "first": build_name(fact.first),
        "second": build_name(fact.second),
        "first_figure": speech.figure(fact.first.timed_figure),
        "second_figure": speech.figure(fact.second.timed_figure),
    }


def day(fact: DayShift, _speech: Speech) -> Numbers:
    return {
        "day": fact.shift.day,
        "first_day": fact.shift.first_day,
        "ratio": write.plain(fact.shift.ratio, 3),
    }


def within(fact: Scatter) -> float:
    return fact.table.within_sd or 0.0


def of_round(fact: Scatter) -> dict[str, str]:
    return {
        "round": str(fact.round),
        "drops": write.drops(fact.table.values),
        "teams": write.teams(fact.table.groups),
    }


def scatter_within(fact: Scatter, speech: Speech) -> Numbers:
    return {**of_round(fact), "label": speech.label(), "sd": speech.figure(within(fact))}


def scatter_between(fact: Scatter, speech: Speech) -> Numbers:
    return {
        **scatter_within(fact, speech),
        "f": write.plain(fact.table.f or 0.0, 2),
        "df": f"{fact.table.between_df}, {fact.table.within_df}",
        "p": write.p(1.0 if fact.table.probability is None else fact.table.probability),
    }


def drops_needed(fact: Scatter, speech: Speech) -> Numbers:
    return {
        **scatter_within(fact, speech),
        "margin": speech.figure(fact.margin or 0.0),
        "needed": write.drops(fact.needed or 0),
        "usual": write.drops(fact.usual_drops),
    }


def carried(fact: Scatter, speech: Speech) -> Numbers:
    carried = fact.carried
    height = speech.figure(carried.setting_up) if carried and carried.setting_up else ""
    return {
        **scatter_within(fact, speech),
        "low": speech.number(fact.sd.low if fact.sd else 0.0),
        "high": speech.figure(fact.sd.high if fact.sd else 0.0),
        "timing": speech.figure(carried.reading if carried else 0.0),
        "height_adds": height,
        "height": " " + _("The height adds {amount} to all alike.").format(amount=height) if height else "",
    }


def repeatability(fact: Scatter, speech: Speech) -> Numbers:
    share = fact.repeatability
    if share is None:
        return of_round(fact)
    shares = {"share": share.value, "low": share.low, "high": share.high}
    # Below 0 the share itself has no meaning: the estimate is only as low as chance can take it.
    return {**of_round(fact), **{name: write.plain(max(0.0, value), 2) for name, value in shares.items()}}


def team_change(fact: TeamChange, speech: Speech) -> Numbers:
    numbers = {"team": fact.team, "label": speech.label()}
    if fact.change is not None:
        numbers["change"] = speech.with_unit(speech.change(fact.change))
    if fact.welch is not None:
        numbers["low"] = speech.change(fact.welch.estimate.low)
        numbers["high"] = speech.with_unit(speech.change(fact.welch.estimate.high))
    if fact.exact is not None:
        numbers["p"] = write.probability(fact.exact.probability)
        numbers["least"] = write.probability(fact.exact.least)
    if fact.first is not None and fact.second is not None:
        numbers["first_drops"], numbers["second_drops"] = str(fact.first.drops), str(fact.second.drops)
    return numbers


def class_gain(fact: ClassGain, speech: Speech) -> Numbers:
    numbers = {
        "label": speech.label(),
        "teams": write.teams(len(fact.changes)),
        "better": str(fact.better),
        "worse": str(fact.worse),
        "same": str(fact.same),
    }
    if fact.changes:
        numbers["mean"] = speech.with_unit(speech.change(fact.average))
    if fact.mean is not None:
        numbers["low"] = speech.change(fact.mean.low)
        numbers["high"] = speech.with_unit(speech.change(fact.mean.high))
    if fact.ranks is not None:
        numbers["p"] = write.p(fact.ranks.exact.probability)
        numbers["least"] = write.probability(fact.ranks.exact.least)
        numbers["moved"] = write.teams(len(fact.changes) - fact.ranks.zeros)
    return numbers


def worst_teams(fact: WorstTeams, speech: Speech) -> Numbers:
    if fact.pulled is None:
        return {}
    return {
        "worst": speech.worst(),
        "label": speech.label(),
        "teams": write.teams(fact.pulled.teams),
        "gain": speech.figure(fact.pulled.gain),
        "by_itself": speech.figure(fact.pulled.by_itself.value),
        "low": speech.number(fact.pulled.by_itself.low),
        "high": speech.figure(fact.pulled.by_itself.high),
    }


def goes_with(fact: GoesWith, speech: Speech) -> Numbers:
    numbers = {
        "label": str(speech.performance.label),
        "variable": str(fact.variable.label).lower(),
        "designs": write.designs(fact.designs),
        "worth": write.plain(fact.worth, 1),
    }
    if fact.estimate is not None:
        numbers["r"] = write.plain(fact.estimate.value, 2)
        numbers["low"] = write.plain(fact.estimate.low, 2)
        numbers["high"] = write.plain(fact.estimate.high, 2)
    return numbers


def apart(fact: Apart, speech: Speech) -> Numbers:
    numbers = {"designs": write.designs(fact.designs), "worth": write.plain(fact.worth, 1)}
    if fact.r is not None:
        numbers["r"] = write.plain(fact.r, 2)
    if fact.r_terms is not None:
        numbers["r_terms"] = write.plain(fact.r_terms, 2)
    return numbers


def effect(fact: Effect, speech: Speech) -> Numbers:
    return {
        "label": speech.label(),
        "term": fact.term,
        "slope": write.plain(fact.estimate.value, 2),
        "low": write.plain(fact.estimate.low, 2),
        "high": write.plain(fact.estimate.high, 2),
        "expected": write.plain(fact.expected, 2),
        "assumptions": fact.assumptions,
    }


def experiment(fact: Offer, speech: Speech) -> Numbers:
    experiment = fact.experiment
    if experiment is None:
        return {}
    sizes = {slug: [speech.size(slug, size) for size in pair] for slug, pair in experiment.sizes.items()}
    (first, firsts), (second, seconds) = sizes.items()
    return {
        "first": speech.variable(first),
        "firsts": write.together(firsts),
        "second": speech.variable(second),
        "seconds": write.together(seconds),
        "times": write.times(experiment.gain),
    }


def keepers(fact: Offer, kept: tuple[str, ...]) -> list[str]:
    """The teams that keep just these sizes in the experiment."""
    if fact.experiment is None:
        return []
    return [share.team for share in fact.experiment.shares if share.keeps == kept]

"""The one list of everything that is claimed: about what, when, in which words, and with which numbers.

Each claim is about one sort of fact. Of the claims about one fact each question is answered once: what the
numbers show, or that they cannot tell. A claim's numbers are those its words cite, by name.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial
from typing import Any

from django.utils.translation import gettext_lazy as _

from design_challenges.words import Words

from . import cited
from . import speech as write
from .alike import Twins
from .children import ChangeSeen, DayShift, HowSure
from .cited import Numbers
from .claim import Claim, Sentence
from .intervals import ONE_IN_TWENTY
from .separation import chance
from .speech import Speech
from .teacher import (
    AllLonger,
    Apart,
    ClassGain,
    Effect,
    FairMates,
    GoesWith,
    ManyChanges,
    Offer,
    Scatter,
    Share,
    TeamChange,
    Whole,
    WorstTeams,
)

# --- the sorts of facts: who is told, and the numbers their claims cite where these are all the same -------


def no_numbers(_fact: object, _speech: Speech) -> Numbers:
    return {}


change_seen = partial(Claim, about=ChangeSeen, audience="children")
twins = partial(Claim, about=Twins, audience="children", numbers=cited.twins)
of_day = partial(Claim, about=DayShift, audience="children", numbers=cited.day)
how_sure = partial(Claim, about=HowSure, audience="children")
whole = partial(Claim, about=Whole, audience="teacher")
share = partial(Claim, about=Share, audience="teacher")
scatter = partial(Claim, about=Scatter, audience="teacher")
team_change = partial(Claim, about=TeamChange, audience="teacher", numbers=cited.team_change)
many_changes = partial(Claim, about=ManyChanges, audience="teacher")
all_longer = partial(Claim, about=AllLonger, audience="teacher")
class_gain = partial(Claim, about=ClassGain, audience="teacher", numbers=cited.class_gain)
worst_teams = partial(Claim, about=WorstTeams, audience="teacher")
goes_with = partial(Claim, about=GoesWith, audience="teacher", numbers=cited.goes_with)
apart = partial(Claim, about=Apart, audience="teacher", numbers=cited.apart)
effect = partial(Claim, about=Effect, audience="teacher", numbers=cited.effect)
offer = partial(Claim, about=Offer, audience="teacher")
fair_mates = partial(Claim, about=FairMates, audience="teacher")

# --- children: what is seen of two builds ----------------------------------------------------------------

CHILDREN_CHANGE: tuple[Claim[ChangeSeen], ...] = (
    change_seen(
        slug="all-above",
        when=lambda fact: fact.seen == "longer" and fact.may_be_said,
        words=lambda _fact, speech: speech.readings.all_above,
        numbers=cited.counts,
    ),
    change_seen(
        slug="all-below",
        when=lambda fact: fact.seen == "shorter" and fact.may_be_said,
        words=lambda _fact, speech: speech.readings.all_below,
        numbers=cited.counts,
    ),
    change_seen(
        slug="overlap",
        when=lambda fact: fact.seen == "overlap" and min(len(fact.first), len(fact.second)) > 1,
        words=_("The drops overlap. That is normal with {most_drops}."),
        numbers=lambda fact, _speech: {"most_drops": str(max(len(fact.first), len(fact.second)))},
    ),
    change_seen(
        slug="another-drop",
        when=lambda fact: not fact.comparable,
        words=_("The drop was changed between the rounds, so these times do not compare."),
    ),
)

# --- children: twins, the day, how sure ------------------------------------------------------------------

CHILDREN_CLASS: tuple[Claim[Any], ...] = (
    twins(
        slug="twins",
        when=lambda fact: fact.differ,
        words=_(
            "{first} and {second} made the same design, and it did not fall the same way twice. "
            "That is why we drop more than once."
        ),
    ),
    twins(
        slug="twins-alike",
        when=lambda fact: not fact.differ,
        words=_("{first} and {second} made the same design, and it fell the same way."),
    ),
    of_day(
        slug="day-longer",
        when=lambda fact: fact.shift.seen == "longer" and _day_may_be_said(fact),
        words=_("On {day} our teacher’s device took longer every time. So the day itself had changed."),
    ),
    of_day(
        slug="day-shorter",
        when=lambda fact: fact.shift.seen == "shorter" and _day_may_be_said(fact),
        words=_("On {day} our teacher’s device fell faster every time. So the day itself had changed."),
    ),
    of_day(
        slug="day-alike",
        when=lambda fact: fact.shift.seen == "overlap",
        words=_("On {day} our teacher’s device fell much as on {first_day}."),
    ),
    how_sure(
        slug="how-sure",
        when=lambda fact: fact.of_wanted is not None and fact.of_wanted.most_s > 0,
        words=_("The mean of {drops} wanders: 19 times out of 20 it is within {most} of the true one."),
        numbers=lambda fact, _speech: {
            "drops": write.drops(fact.wanted),
            "most": write.seconds(fact.of_wanted.most_s if fact.of_wanted else 0.0),
        },
    ),
    how_sure(
        slug="how-sure-alike",
        when=lambda fact: fact.of_wanted is not None and fact.of_wanted.most_s == 0,
        words=_("Every device fell the same each time, to the hundredth of a second."),
    ),
    how_sure(
        slug="how-sure-unknown",
        when=lambda fact: fact.of_wanted is None,
        words=_("No device was dropped twice yet, so nobody knows how much a mean wanders."),
    ),
)


def _day_may_be_said(fact: DayShift) -> bool:
    return chance(len(fact.shift.first), len(fact.shift.second)) <= ONE_IN_TWENTY


# --- teacher: the data as a whole ------------------------------------------------------------------------

TEACHER_WHOLE: tuple[Claim[Any], ...] = (
    whole(
        slug="no-drops",
        when=lambda fact: fact.builds == 0,
        words=_("No team has a drop that counts yet."),
    ),
    whole(
        slug="one-team",
        when=lambda fact: fact.teams == 1,
        words=_("Only one team has drops, so nothing can be said of the class."),
    ),
    whole(
        slug="left-out",
        when=lambda fact: fact.left_out > 0,
        words=_("Left out, because timed under other units or another figure: rounds {count}."),
        numbers=lambda fact, _speech: {"count": str(fact.left_out)},
    ),
    whole(
        slug="middle-times",
        when=lambda fact: fact.middle_times and fact.builds > 0,
        words=_("The class compares middle times; here the mean of all drops is used, which scatters less."),
    ),
    share(
        slug="drops-missing",
        when=lambda fact: fact.build.drops < fact.build.wanted,
        words=_("{team}, round {round}: {drops} of {wanted}. What is there is used."),
        numbers=lambda fact, _speech: {
            "team": fact.build.team,
            "round": str(fact.build.round),
            "drops": write.drops(fact.build.drops),
            "wanted": str(fact.build.wanted),
        },
    ),
    share(
        slug="not-open",
        when=lambda fact: fact.build.unopened > 0,
        words=_(
            "{team}, round {round}: {count} of {drops} did not open or tangled, and counts all the same."
        ),
        numbers=lambda fact, _speech: {
            "team": fact.build.team,
            "round": str(fact.build.round),
            "count": str(fact.build.unopened),
            "drops": write.drops(fact.build.drops),
        },
    ),
)

# --- teacher: within and between teams -------------------------------------------------------------------


def _scattered(fact: Scatter) -> bool:
    return cited.within(fact) > 0


TEACHER_SCATTER: tuple[Claim[Scatter], ...] = (
    scatter(
        slug="no-repeats",
        when=lambda fact: fact.table.values > 0 and fact.table.within_df == 0,
        words=_("Round {round}: no device was dropped twice, so its scatter is not known."),
        numbers=lambda fact, _speech: cited.of_round(fact),
    ),
    scatter(
        slug="no-scatter",
        when=lambda fact: fact.table.within_df > 0 and not _scattered(fact),
        words=_("Round {round}: repeated drops all agree to the hundredth, so there is no scatter to go by."),
        numbers=lambda fact, _speech: cited.of_round(fact),
    ),
    scatter(
        slug="within",
        when=_scattered,
        words=_(
            "Round {round}: drops of one device scatter by {sd} (standard deviation within teams, "
            "{drops}, {teams})."
        ),
        numbers=cited.scatter_within,
    ),
    scatter(
        slug="between-differ",
        when=lambda fact: fact.table.probability is not None and fact.table.probability < ONE_IN_TWENTY,
        words=_(
            "Round {round}: the teams differ by more than their drops scatter (analysis of variance, "
            "F({df}) = {f}, p {p})."
        ),
        numbers=cited.scatter_between,
    ),
    scatter(
        slug="between-cannot-tell",
        when=lambda fact: fact.table.probability is not None and fact.table.probability >= ONE_IN_TWENTY,
        words=_(
            "Round {round}: these drops cannot tell the teams apart (analysis of variance, "
            "F({df}) = {f}, p {p})."
        ),
        numbers=cited.scatter_between,
    ),
    scatter(
        slug="repeatability",
        when=lambda fact: fact.repeatability is not None,
        words=_(
            "Round {round}: repeatability of one drop {share}, but anything from {low} to {high} would fit "
            "(intraclass correlation, 95 % interval): the share of the differences that lies between teams."
        ),
        numbers=cited.repeatability,
    ),
    scatter(
        slug="repeatability-unknown",
        when=lambda fact: fact.table.values > 0 and fact.repeatability is None,
        words=_("Round {round}: the repeatability cannot be worked out from {drops} of {teams}."),
        numbers=lambda fact, _speech: cited.of_round(fact),
    ),
    scatter(
        slug="drops-needed",
        when=lambda fact: fact.needed is not None and fact.needed > fact.usual_drops,
        words=_("Round {round}: a mean within {margin} of the true one would take {needed} a team."),
        numbers=cited.drops_needed,
    ),
    scatter(
        slug="drops-enough",
        when=lambda fact: fact.needed is not None and fact.needed <= fact.usual_drops,
        words=_("Round {round}: {usual} a team are enough for a mean within {margin} of the true one."),
        numbers=cited.drops_needed,
    ),
    scatter(
        slug="more-than-timing",
        when=lambda fact: (
            fact.carried is not None and fact.sd is not None and fact.sd.low > fact.carried.reading
        ),
        words=_(
            "Round {round}: thumbs alone would scatter one drop by about {timing}; {sd} was seen "
            "({low} to {high}), so the fall itself varies.{height}"
        ),
        numbers=cited.carried,
    ),
    scatter(
        slug="no-more-than-timing",
        when=lambda fact: (
            fact.carried is not None and fact.sd is not None and fact.sd.low <= fact.carried.reading
        ),
        words=_(
            "Round {round}: thumbs alone would scatter one drop by about {timing}; {sd} was seen "
            "({low} to {high}), which timing could explain.{height}"
        ),
        numbers=cited.carried,
    ),
)

# --- teacher: one team's change --------------------------------------------------------------------------


def _interval_is(fact: TeamChange, *, better: bool) -> bool:
    if fact.welch is None or not fact.welch.estimate.excludes_zero:
        return False
    return fact.is_better(fact.welch.estimate.value) == better


TEACHER_CHANGE: tuple[Claim[TeamChange], ...] = (
    team_change(
        slug="no-second-round",
        when=lambda fact: fact.first is not None and fact.second is None,
        words=_("{team} has no drop of round 2 yet."),
    ),
    team_change(
        slug="no-first-round",
        when=lambda fact: fact.first is None,
        words=_("{team} has no drop of round 1, so there is no change to speak of."),
    ),
    team_change(
        slug="other-conditions",
        when=lambda fact: fact.first is not None and fact.second is not None and not fact.comparable,
        words=_("{team}: the drop, the load or the lines were set otherwise in round 2; nothing compares."),
    ),
    team_change(
        slug="change-better",
        when=lambda fact: _interval_is(fact, better=True),
        words=_(
            "{team}: {change} in {label}, better; these drops put the difference between the two builds "
            "from {low} to {high} (Welch’s 95 % interval)."
        ),
    ),
    team_change(
        slug="change-worse",
        when=lambda fact: _interval_is(fact, better=False),
        words=_(
            "{team}: {change} in {label}, not as good; these drops put the difference between the two builds "
            "from {low} to {high} (Welch’s 95 % interval)."
        ),
    ),
    team_change(
        slug="change-cannot-tell",
        when=lambda fact: fact.welch is not None and not fact.welch.estimate.excludes_zero,
        words=_(
            "{team}: {change} in {label}, but anything from {low} to {high} fits these drops "
            "(Welch’s 95 % interval), no change among it."
        ),
    ),
    team_change(
        slug="change-no-interval",
        when=lambda fact: fact.change is not None and fact.welch is None,
        words=_("{team}: {change} in {label}; {first_drops} and {second_drops} drops give no interval."),
    ),
    team_change(
        slug="exact-cannot-tell",
        when=lambda fact: fact.exact is not None and not fact.exact.can_tell,
        words=_(
            "{team}: {first_drops} drops against {second_drops} cannot tell by rearranging them: "
            "the least probability they can give is {least}."
        ),
    ),
    team_change(
        slug="exact-small",
        when=lambda fact: fact.exact is not None and fact.exact.is_small,
        words=_("{team}: so far apart by luck alone in {p} of all ways to rearrange the drops."),
    ),
    team_change(
        slug="exact-not-small",
        when=lambda fact: fact.exact is not None and fact.exact.can_tell and not fact.exact.is_small,
        words=_("{team}: luck alone puts the builds as far apart in {p} of all ways to rearrange the drops."),
    ),
)

# --- teacher: the class's change -------------------------------------------------------------------------


def _mean_is(fact: ClassGain, *, better: bool) -> bool:
    if fact.mean is None or not fact.mean.excludes_zero:
        return False
    return ((fact.mean.value < 0) == fact.lower_is_better) == better


TEACHER_GAIN: tuple[Claim[Any], ...] = (
    many_changes(
        slug="many-intervals",
        when=lambda fact: fact.clear > 0 and fact.intervals > 1,
        words=_(
            "{clear} of {intervals} intervals leave out no change. By luck alone one in twenty would: "
            "about {luck} of so many."
        ),
        numbers=lambda fact, _speech: {
            "clear": str(fact.clear),
            "intervals": str(fact.intervals),
            "luck": write.plain(fact.intervals * ONE_IN_TWENTY, 1),
        },
    ),
    all_longer(
        slug="rebuilt",
        when=lambda fact: bool(fact.teams),
        words=_(
            "{names}: all three drops took longer. The same device dropped again does that 5 times in 100; "
            "one built again to the same plan about {half}, {once} or {twice} times, when builds differ "
            "by half, once or twice as much as drops do."
        ),
        numbers=lambda fact, _speech: {"names": write.together(fact.teams), **cited.REBUILT},
    ),
    class_gain(
        slug="gain-none",
        when=lambda fact: not fact.changes,
        words=_("No team has drops of both rounds that compare."),
        numbers=no_numbers,
    ),
    class_gain(
        slug="gain-one-team",
        when=lambda fact: len(fact.changes) == 1,
        words=_("One team has both rounds: {mean} in {label}. That says nothing of the class."),
    ),
    class_gain(
        slug="gain-all-equal",
        when=lambda fact: len(fact.changes) > 1 and fact.mean is None,
        words=_("All {teams} changed by the same {mean} in {label}; there is no scatter for an interval."),
    ),
    class_gain(
        slug="gain-better",
        when=lambda fact: _mean_is(fact, better=True),
        words=_("The class did better: {mean} in {label} on average, {low} to {high} (95 %, {teams})."),
    ),
    class_gain(
        slug="gain-worse",
        when=lambda fact: _mean_is(fact, better=False),
        words=_(
            "The class did not do as well: {mean} in {label} on average, {low} to {high} (95 %, {teams})."
        ),
    ),
    class_gain(
        slug="gain-cannot-tell",
        when=lambda fact: fact.mean is not None and not fact.mean.excludes_zero,
        words=_(
            "The class changed by {mean} in {label} on average, but {low} to {high} fits (95 %, {teams}): "
            "these numbers can’t say whether round 2 was better."
        ),
    ),
    class_gain(
        slug="signs",
        when=lambda fact: len(fact.changes) > 1,
        words=_("{better} better, {worse} not as good, {same} the same, of {teams}."),
    ),
    class_gain(
        slug="ranks-cannot-tell",
        when=lambda fact: fact.ranks is not None and not fact.ranks.exact.can_tell,
        words=_(
            "By ranks {moved} that changed cannot tell: the least probability so few can give is {least} "
            "(Wilcoxon’s signed ranks)."
        ),
    ),
    class_gain(
        slug="ranks-small",
        when=lambda fact: fact.ranks is not None and fact.ranks.exact.is_small,
        words=_("By ranks luck alone would seldom do this: p {p} (Wilcoxon’s signed ranks, {moved})."),
    ),
    class_gain(
        slug="ranks-not-small",
        when=lambda fact: (
            fact.ranks is not None and fact.ranks.exact.can_tell and not fact.ranks.exact.is_small
        ),
        words=_("By ranks luck alone could do this: p {p} (Wilcoxon’s signed ranks, {moved})."),
    ),
    class_gain(
        slug="shift-taken-out",
        when=lambda fact: fact.shift_taken_out,
        words=_(
            "The shift of the day, as the reference device shows it, is taken out of these changes. Its own "
            "uncertainty is in the intervals; ranks, and rearranging drops of two days, would leave it out."
        ),
        numbers=no_numbers,
    ),
    worst_teams(
        slug="pulled-to-the-mean",
        when=lambda fact: fact.pulled is not None,
        words=_(
            "The {teams} with the {worst} {label} in round 1 gained {gain}. About {by_itself} "
            "of it ({low} to {high}) would have come by itself, by the scatter of drops alone: who is "
            "picked for a bad result does better the next time."
        ),
        numbers=cited.worst_teams,
    ),
    worst_teams(
        slug="pulled-unknown",
        when=lambda fact: fact.pulled is None,
        words=_("How much of the weakest teams’ gain came by itself cannot be worked out from these drops."),
    ),
)

# --- teacher: what goes with what ------------------------------------------------------------------------


def _is_tied(fact: Apart) -> bool:
    return fact.tied and not fact.constant


TEACHER_DESIGNS: tuple[Claim[Any], ...] = (
    goes_with(
        slug="goes-with",
        when=lambda fact: fact.estimate is not None and fact.estimate.excludes_zero,
        words=_(
            "{label} goes with {variable}: r = {r} ({low} to {high}, 95 %, {designs}, worth {worth} "
            "unrelated ones)."
        ),
    ),
    goes_with(
        slug="goes-with-cannot-tell",
        when=lambda fact: fact.estimate is not None and not fact.estimate.excludes_zero,
        words=_(
            "{label} and {variable}: r = {r}, but {low} to {high} fits (95 %, {designs}, worth {worth} "
            "unrelated ones), none among it."
        ),
    ),
    goes_with(
        slug="goes-with-unknown",
        when=lambda fact: fact.estimate is None,
        words=_("{label} and {variable}: {designs} are too few or too alike for a correlation."),
    ),
    apart(
        slug="tied",
        when=_is_tied,
        words=lambda fact, _speech: fact.model.tied_opposite if (fact.r or 0.0) < 0 else fact.model.tied_same,
    ),
    apart(
        slug="not-tied",
        when=lambda fact: not (fact.tied or fact.constant),
        words=_(
            "The two sizes were not tied to one another here (r = {r}), so enough designs could tell what "
            "each did."
        ),
    ),
    apart(
        slug="one-size-constant",
        when=lambda fact: fact.constant and fact.designs > 0,
        words=_("One of the sizes hardly varies here, so these numbers say nothing of its own effect."),
    ),
    apart(
        slug="few-designs",
        when=lambda fact: fact.few and not _is_tied(fact) and not fact.constant,
        words=_(
            "{designs}, worth {worth} unrelated ones, are fewer than ten: too few to say what each size did."
        ),
    ),
    apart(
        slug="no-fit",
        when=lambda fact: not (fact.few or fact.tied or fact.constant or fact.effects),
        words=_("The designs of single teams decide here, so these numbers give no separate effects."),
    ),
    effect(
        slug="effect",
        when=lambda fact: fact.estimate.excludes_zero,
        words=_(
            "By itself, with the other held, {term} went with {label}: a slope of {slope} ({low} to {high}) "
            "of the logarithm; physics gives about {expected} for this class, {assumptions}."
        ),
    ),
    effect(
        slug="effect-cannot-tell",
        when=lambda fact: not fact.estimate.excludes_zero,
        words=_(
            "Whether {term} did anything by itself these numbers can’t say: a slope of {slope}, but {low} to "
            "{high} fits (95 %); physics gives about {expected} for this class, {assumptions}."
        ),
    ),
)

# --- teacher: what would tell ----------------------------------------------------------------------------


def _keeps(slug: str, kept: tuple[int, ...], words: Words) -> Claim[Offer]:
    """What some teams keep of their own designs: by the place of the sizes in the experiment."""

    def names(fact: Offer) -> tuple[str, ...]:
        return tuple(fact.experiment.sizes) if fact.experiment else ("", "")

    def keepers(fact: Offer) -> list[str]:
        return cited.keepers(fact, tuple(names(fact)[place] for place in kept))

    def numbers(fact: Offer, speech: Speech) -> Numbers:
        first, second = (speech.variable(name) for name in names(fact))
        return {"names": write.together(keepers(fact)), "first": first, "second": second}

    return Claim(slug, Offer, "teacher", lambda fact: bool(keepers(fact)), words, numbers)


TEACHER_OFFER: tuple[Claim[Any], ...] = (
    offer(
        slug="experiment",
        when=lambda fact: fact.experiment is not None,
        words=_(
            "For an extra lesson: {first} {firsts}, each with {second} {seconds}, shared out over the teams, "
            "would tell the two apart {times} times as well as the class’s own designs. "
            "All four keep to the limit, and none should do worse than the middle of round 1."
        ),
        numbers=cited.experiment,
    ),
    _keeps("experiment-keeps-first", (0,), _("{names}: keep the {first} and change only the {second}.")),
    _keeps("experiment-keeps-second", (1,), _("{names}: keep the {second} and change only the {first}.")),
    _keeps("experiment-keeps-both", (0, 1), _("{names}: keep the device as it is.")),
    _keeps("experiment-keeps-neither", (), _("{names}: make both the {first} and the {second} anew.")),
    offer(
        slug="no-experiment",
        when=lambda fact: fact.experiment is None,
        words=_(
            "No two-by-two experiment inside the limit separates the sizes better than the class’s own "
            "designs without a team doing worse than the middle of round 1."
        ),
    ),
    fair_mates(
        slug="fair-mates",
        when=lambda fact: bool(fact.pairs),
        words=_("{team} compares fairly with {mates}: all equal but one size."),
        numbers=lambda fact, speech: {
            "team": fact.team.team,
            "mates": write.together(
                (f"{pair.mate.team} ({speech.variable(pair.variable)})" for pair in fact.pairs), most=5
            ),
        },
    ),
    fair_mates(
        slug="no-fair-mates",
        when=lambda fact: not fact.pairs,
        words=_("{team} has no classmates whose design differs in one size only."),
        numbers=lambda fact, _speech: {"team": fact.team.team},
    ),
)

CLAIMS: tuple[Claim[Any], ...] = (
    *CHILDREN_CHANGE,
    *CHILDREN_CLASS,
    *TEACHER_WHOLE,
    *TEACHER_SCATTER,
    *TEACHER_CHANGE,
    *TEACHER_GAIN,
    *TEACHER_DESIGNS,
    *TEACHER_OFFER,
)
"""Every claim there is, in the order in which they are said."""


def sentences(facts: Iterable[object], speech: Speech) -> list[Sentence]:
    """Return what is claimed of these facts, fact by fact and in the order of the list."""
    return [
        claim.said(fact, speech)
        for fact in facts
        for claim in CLAIMS
        if isinstance(fact, claim.about) and claim.when(fact)
    ]

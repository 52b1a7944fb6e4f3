"""What the teacher's dashboard shows of each team and each step, from the class's record alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import datetime, timedelta
from typing import Any, Literal

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from design_challenges.services import progress, readiness
from design_challenges.services.record_types import ClassRecord, RoundRecord, TeamRecord
from design_challenges.services.rounding import format_figure
from design_challenges.services.turns import Disagreement, disagreements
from design_challenges.services.working import Step as SumStep
from design_challenges.steps import Step

JUST_NOW = timedelta(seconds=60)
DropMark = Literal["logged", "void", ""]


@dataclass(frozen=True)
class StepSwitch:
    """A step of a round as a switch: for one team, or for the class."""

    number: int
    step: Step
    open: bool


@dataclass(frozen=True)
class StepCount:
    """A step of a round: how many of the teams are in, where the teams are, and the class's switch."""

    switch: StepSwitch
    done: int
    total: int
    here: int
    exceptions: int


@dataclass(frozen=True)
class RoundCounts:
    """A round's steps with their counts; `started` says how many teams are in it."""

    number: int
    started: int
    total: int
    steps: tuple[StepCount, ...]

    @property
    def any_open(self) -> bool:
        return any(count.switch.open for count in self.steps)

    @property
    def all_open(self) -> bool:
        return all(count.switch.open for count in self.steps)


@dataclass(frozen=True)
class TeamCard:
    """One team on the dashboard, in words and marks.

    `step` is where the team is (None when its round is done or has not begun);
    `waits` says that this step is closed for it.
    """

    team: TeamRecord
    number: int
    step: Step | None
    waits: bool
    ready: str
    ready_state: Literal["done", "missing", "none"]
    measured: str
    drops: tuple[DropMark, ...]
    drops_said: str
    sums: str
    stuck: tuple[str, ...]
    pairs: tuple[Disagreement, ...]
    figure: str
    aside: int
    help_said: str
    seen: str
    switches: tuple[StepSwitch, ...]

    @property
    def shown(self) -> tuple[Any, ...]:
        """Return all that the card shows: where this is the same, the card is."""
        own = (getattr(self, field.name) for field in fields(self) if field.name != "team")
        return self.team.team.pk, self.team.team.name, *own

    @property
    def helps(self) -> bool:
        return bool(self.help_said)

    @property
    def is_stuck(self) -> bool:
        """Return whether the team is stuck at a sum, or a pair of readings at a size."""
        return bool(self.stuck) or any(pair.stuck for pair in self.pairs)


@dataclass(frozen=True)
class Dashboard:
    """The whole of it: rounds with their steps, then a card a team; `next_round` can be opened now."""

    rounds: tuple[RoundCounts, ...]
    cards: tuple[TeamCard, ...]
    next_round: int | None

    @property
    def helping(self) -> list[TeamCard]:
        """Return the teams that ask for help, the longest wait first."""
        waiting = [(card.team.help_since, card) for card in self.cards if card.team.help_since is not None]
        return [card for _since, card in sorted(waiting, key=lambda pair: pair[0])]


def build_dashboard(klass: ClassRecord, now: datetime) -> Dashboard:
    """Return the dashboard of a class challenge as it stands at `now`."""
    rounds = tuple(_round_counts(klass, number) for number in _rounds_shown(klass))
    following = max(counts.number for counts in rounds) + 1
    return Dashboard(
        rounds=rounds,
        cards=tuple(_card(klass, team, now) for team in klass.teams),
        next_round=following if following <= klass.challenge.rounds else None,
    )


def _rounds_shown(klass: ClassRecord) -> list[int]:
    """Return the rounds that teams are in now, and those that are open and wait for them."""
    current = {team.current.number for team in klass.teams if team.current is not None}
    opened = {
        number for (team_id, number, _step), is_open in klass.gates.items() if is_open and team_id is None
    }
    least = min(current, default=1)
    return sorted({least, *current, *(number for number in opened if number > least)})


def _round_counts(klass: ClassRecord, number: int) -> RoundCounts:
    records = [team.rounds[number] for team in klass.teams if number in team.rounds]
    now_at = [
        progress.next_step(team.current)
        for team in klass.teams
        if team.current is not None and team.current.number == number
    ]
    return RoundCounts(
        number=number,
        started=len(records),
        total=len(klass.teams),
        steps=tuple(
            StepCount(
                switch=StepSwitch(number, step, klass.gates.get((None, number, str(step)), number == 1)),
                done=sum(1 for record in records if progress.is_done(record, step)),
                total=len(klass.teams),
                here=sum(1 for at in now_at if at is step),
                exceptions=sum(1 for team in klass.teams if (team.team.pk, number, str(step)) in klass.gates),
            )
            for step in Step
        ),
    )


# --- one team --------------------------------------------------------------------------------------------


def _card(klass: ClassRecord, team: TeamRecord, now: datetime) -> TeamCard:
    record = team.current
    number = record.number if record else 0
    step = progress.next_step(record) if record else None
    ready, ready_state = _ready(record) if record else ("", "none")
    return TeamCard(
        team=team,
        number=number,
        step=step,
        waits=step is not None and not klass.is_open(team.team.pk, number, step),
        ready=ready,
        ready_state=ready_state,
        measured=_measured(record) if record else "",
        drops=_drop_marks(record) if record else (),
        drops_said=_drops_said(record) if record else "",
        sums=_sums(record) if record else "",
        stuck=_stuck(record) if record else (),
        pairs=tuple(disagreements(record)) if record else (),
        figure=_figure(record) if record else "",
        aside=count_aside(record) if record else 0,
        help_said=waited(team.help_since, now),
        seen=seen(team.last_seen_at, now),
        switches=tuple(
            StepSwitch(number, step, klass.is_open(team.team.pk, number, step)) for step in Step if number
        ),
    )


def _ready(record: RoundRecord) -> tuple[str, Literal["done", "missing", "none"]]:
    """Return readiness in words: cleared on which figure, or what is missing and by how much."""
    clearance = record.clearance
    if clearance is not None:
        if clearance.by == "teacher":
            return _("Cleared by hand: {reason}").format(reason=clearance.reason), "done"
        return _("Cleared: {figure} of {limit} points").format(
            figure=clearance.figure, limit=clearance.limit
        ), "done"
    items = readiness.check_readiness(record)
    missing = [missing_words(record, item) for item in items if not item.passed]
    if not missing:
        return _("All ready, not cleared yet"), "missing"
    if not record.plan and not any(item.passed for item in items):
        return _("Nothing planned yet"), "none"
    return _("Missing: {things}").format(things=", ".join(missing)), "missing"


def missing_words(record: RoundRecord, item: readiness.CheckItem) -> str:
    """Return a line of the checklist that does not hold as a teacher says it: what, and by how much."""
    if item.slug == "limit":
        judged = readiness.judge_material(record)
        if judged is None:
            return _("the limit, not judged yet")
        return _("{gap} points too many ({figure} of {limit})").format(
            gap=f"{judged.gap:f}", figure=f"{judged.figure:f}", limit=f"{judged.limit:f}"
        )
    words = {
        "purpose": _("the sentence"),
        "ideas": _("two ideas"),
        "chosen": _("the choice and why"),
        "sizes": _("new sizes"),
        "change": _("what changes and why"),
        "change_two": _("why two things change"),
        "drawing": _("the drawing"),
    }
    if item.slug in words:
        return words[item.slug]
    for step in record.kind.plan_steps(record.values):
        if step.slug == item.slug:
            return str(step.label).lower()
    return str(item.label)


def _measured(record: RoundRecord) -> str:
    spots = list(record.kind.spots(record.values))
    done = sum(1 for spot in spots if (spot.quantity, spot.spot) in record.built)
    if not done:
        return ""
    if done < len(spots):
        return _("Measured {n} of {all}").format(n=done, all=len(spots))
    figures = record.built_figures
    if figures is not None and figures.over_per_cent:
        said = (
            _("Measured; {per_cent} % over the limit")
            if not figures.too_much
            else _("Measured; {per_cent} % over: trim, or clear by hand")
        )
        return said.format(per_cent=f"{figures.over_per_cent:f}")
    return _("Measured")


def _drop_marks(record: RoundRecord) -> tuple[DropMark, ...]:
    """Return a mark a drop: those that count, those that do not, then those still to come."""
    if record.clearance is None and not record.drops:
        return ()
    logged = len(record.counting)
    voids = sum(1 for drop in record.drops if not drop.counts)
    to_come = max(record.trials_expected - logged, 0)
    marks: list[DropMark] = ["logged"] * logged
    marks += ["void"] * voids
    marks += [""] * to_come
    return tuple(marks)


def _drops_said(record: RoundRecord) -> str:
    if record.clearance is None and not record.drops:
        return ""
    said = _("{n} of {all} drops").format(n=len(record.counting), all=record.trials_expected)
    voids = sum(1 for drop in record.drops if not drop.counts)
    if voids:
        said += ", " + ngettext("{n} not counting", "{n} not counting", voids).format(n=voids)
    unopened = len(record.counting) - record.opened_count
    if unopened:
        said += ", " + ngettext("{n} did not open", "{n} did not open", unopened).format(n=unopened)
    return said


def _sums(record: RoundRecord) -> str:
    """Return how many of the sums that are due were worked right."""
    if not record.sums_by_children:
        return ""
    due = [record.working(step) for step in due_sums(record)]
    if not due:
        return ""
    right = sum(1 for work in due if work.accepted is not None)
    if right == len(due):
        return ngettext("{n} sum right", "{n} sums right", right).format(n=right)
    return _("{n} of {all} sums right").format(n=right, all=len(due))


def due_sums(record: RoundRecord) -> list[SumStep]:
    """Return the sums that the round's numbers are there for, in order."""
    plan = list(record.kind.plan_steps(record.values)) if record.plan_complete else []
    results = record.result_steps if record.trials_complete else []
    return [*plan, *record.rounding_steps.values(), *results]


def _stuck(record: RoundRecord) -> tuple[str, ...]:
    labels = {step.slug: step.label for step in due_sums(record)}
    return tuple(
        _("Stuck at {sum}: {n} tries, last “{typed}”").format(
            sum=str(labels.get(work.step, work.step)).lower(), n=work.tries, typed=work.last_typed
        )
        for work in progress.stuck_steps(record)
    )


def _figure(record: RoundRecord) -> str:
    if record.figure is None:
        return ""
    performance = record.performance
    return _("{label} {figure} {unit}").format(
        label=performance.label,
        figure=format_figure(record.figure, performance.places),
        unit=performance.unit,
    )


def count_aside(record: RoundRecord) -> int:
    """Return how many readings wait for someone to say which of two tablets' times stands."""
    return sum(
        1
        for drop in record.drops
        if drop.counts
        for reading in drop.readings
        if reading.set_aside == "second" and drop.reading is not None and reading.row_id > drop.reading.row_id
    )


# --- time ------------------------------------------------------------------------------------------------


def minutes(since: datetime, now: datetime) -> int:
    """Return whole minutes from `since` to `now`, never below 0."""
    return max(0, int((now - since).total_seconds() // 60))


def waited(since: datetime | None, now: datetime) -> str:
    """Return how long a team has been waiting for help, "" where it is not."""
    if since is None:
        return ""
    n = minutes(since, now)
    return ngettext("for {n} minute", "for {n} minutes", n).format(n=n) if n else _("just now")


def seen(at: datetime | None, now: datetime) -> str:
    """Return when a team's tablet was last seen."""
    if at is None:
        return _("no tablet")
    if now - at < JUST_NOW:
        return _("seen just now")
    n = minutes(at, now)
    if n < 60:
        return _("seen {n} min ago").format(n=n)
    hours = n // 60
    return (
        ngettext("seen {n} hour ago", "seen {n} hours ago", hours).format(n=hours)
        if hours < 24
        else _("not seen today")
    )


def latest_event(cards: Sequence[TeamCard]) -> str:
    """Return what a screen reader should hear when the page changes: who asks for help, who is stuck."""
    said = [_("{team} asks for help").format(team=card.team.team.name) for card in cards if card.helps] + [
        _("{team} is stuck").format(team=card.team.team.name) for card in cards if card.is_stuck
    ]
    return "; ".join(said)

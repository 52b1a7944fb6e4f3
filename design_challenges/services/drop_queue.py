"""Whose turn it is at the timing station: every team's drop 1, then 2, then 3, and what was said by hand.

`static/js/station_queue.js` works the same order out on a phone without a network; one set of cases
(tests/design_challenges/services/queue_cases.json) holds both to it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Literal

from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext_lazy

from design_challenges.services.drop_order import find_turn
from design_challenges.services.progress import next_step
from design_challenges.services.record_types import ClassRecord, TeamRecord
from design_challenges.steps import Step
from design_challenges.words import Words

REFERENCE_DROPS = 3
OPEN_FOR = timedelta(hours=12)
"""A station that nobody stopped is taken to be over after so long."""


@dataclass(frozen=True)
class Move:
    """One thing said by hand about the queue, in order."""

    move: str
    team_id: int
    round: int
    trial: int
    at: datetime


@dataclass(frozen=True)
class QueueTeam:
    """A team as the queue sees it: the drop that is next (0 when all are in), and whether it can be."""

    team_id: int
    name: str
    round: int
    trial: int
    attempt: int
    wanted: int
    state: Literal["ready", "building", "done"]


@dataclass(frozen=True)
class Queue:
    """The turns in order, the teams that still build, and those that are done; closed when nobody times."""

    open: bool
    turns: tuple[QueueTeam, ...]
    building: tuple[QueueTeam, ...] = ()
    done: tuple[QueueTeam, ...] = ()
    reference_due: bool = False
    skipped: frozenset[int] = field(default_factory=frozenset)

    def place_of(self, team_id: int) -> int | None:
        """Return how many turns are before a team's, or None where it waits for none."""
        if not self.open:
            return None
        for place, turn in enumerate(self.turns):
            if turn.team_id == team_id:
                return place + int(self.reference_due)
        return None


NOBODY_TIMES = Queue(open=False, turns=())


def queue_team(team: TeamRecord) -> QueueTeam | None:
    """Return a team as the queue sees it, or None before its first round."""
    record = team.current
    if record is None:
        return None
    turn = find_turn(record, drop_first=True)
    more = turn.screen in ("call", "time")
    step = next_step(record)
    state: Literal["ready", "building", "done"] = "building"
    if not more:
        state = "done"
    elif step is Step.TEST:
        state = "ready"
    return QueueTeam(
        team_id=team.team.pk,
        name=team.team.name,
        round=record.number,
        trial=turn.trial if more else 0,
        attempt=turn.attempt if more else 0,
        wanted=record.trials_wanted,
        state=state,
    )


def build_queue(
    teams: Sequence[QueueTeam],
    moves: Sequence[Move],
    now: datetime,
    *,
    last_first: int | None = None,
    reference_drops: int | None = None,
) -> Queue:
    """Return the queue.

    `teams` in team order; `moves` oldest first; the order begins after the team `last_first`, which went
    first last time. `reference_drops` is how many drops the reference device has had today, None where
    nobody can drop it (no lesson is on).
    """
    since, is_timed = _today(moves, now)
    skips, called = _said(since)
    order = _rotated([team.team_id for team in teams], last_first)
    ready = sorted(
        (team for team in teams if team.state == "ready"),
        key=lambda team: (team.trial, skips.get(_key(team), 0), order[team.team_id]),
    )
    # Called out of turn: first, until that drop is done.
    for key in called:
        ready.sort(key=lambda team, key=key: _key(team) != key)  # type: ignore[misc]
    left_out = any(move.move == "noref" for move in since)
    return Queue(
        open=is_timed,
        turns=tuple(ready),
        building=tuple(team for team in teams if team.state == "building"),
        done=tuple(team for team in teams if team.state == "done"),
        reference_due=reference_drops is not None and reference_drops < REFERENCE_DROPS and not left_out,
        skipped=frozenset(team.team_id for team in ready if skips.get(_key(team), 0)),
    )


def is_open(moves: Sequence[Move], now: datetime) -> bool:
    """Return whether somebody times drops, as the station's moves say; `moves` oldest first."""
    return _today(moves, now)[1]


def _key(team: QueueTeam) -> tuple[int, int, int]:
    return team.team_id, team.round, team.trial


def _today(moves: Sequence[Move], now: datetime) -> tuple[list[Move], bool]:
    """Return the moves since the station was last stopped, and whether it is open."""
    since: list[Move] = []
    is_timed = False
    for move in moves:
        if now - move.at > OPEN_FOR:
            continue
        if move.move == "stop":
            since, is_timed = [], False
            continue
        since.append(move)
        is_timed = True
    return since, is_timed


def _said(moves: Sequence[Move]) -> tuple[Mapping[tuple[int, int, int], int], list[tuple[int, int, int]]]:
    """Return how often each drop was skipped, and the drops called out of turn, the newest call last."""
    skips: dict[tuple[int, int, int], int] = {}
    called: list[tuple[int, int, int]] = []
    for move in moves:
        key = (move.team_id, move.round, move.trial)
        if move.move == "skip":
            skips[key] = skips.get(key, 0) + 1
            called = [one for one in called if one != key]
        elif move.move == "call":
            called = [*(one for one in called if one != key), key]
    return skips, called


def _rotated(ids: Sequence[int], last_first: int | None) -> dict[int, int]:
    start = ids.index(last_first) + 1 if last_first in ids else 0
    return {team_id: (index - start) % len(ids) for index, team_id in enumerate(ids)}


def said_place(place: int | None) -> Words:
    """Return what a team's tablet says about its turn, or "" where it has none."""
    if place is None:
        return ""
    if place == 0:
        return _("It is your turn at the drop site. Bring your device.")
    if place == 1:
        return _("You are next at the drop site. Go there now.")
    if place == 2:
        return _("You are next but one at the drop site. Get your device ready.")
    return ngettext_lazy(
        "%(n)d team is before you at the drop site.", "%(n)d teams are before you at the drop site.", "n"
    ) % {"n": place}


def queue_of(klass: ClassRecord) -> list[QueueTeam]:
    """Return every team that has begun, as the queue sees it."""
    return [team for record in klass.teams if (team := queue_team(record)) is not None]

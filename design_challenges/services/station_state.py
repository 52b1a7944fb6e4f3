"""Reads what a timing station shows: the class's queue, every drop so far, what has arrived from it."""

from __future__ import annotations

import time
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone

from classroom.models import Device, Team
from design_challenges.models import ClassChallenge, QueueMove, ReferenceDrop, Revision, Submission
from design_challenges.services.drop_queue import (
    NOBODY_TIMES,
    OPEN_FOR,
    Move,
    Queue,
    build_queue,
    is_open,
    queue_of,
)
from design_challenges.services.lessons import last_report, open_lesson
from design_challenges.services.record_types import ClassRecord, DropRecord, RoundRecord
from design_challenges.services.records import load_class
from design_challenges.services.watches import Thumbs, find_thumbs

# A phone lays what it keeps over what the server says: it must know which of it the server counted in.
ARRIVED_FOR = timedelta(hours=24)
MOST_ARRIVED = 400
KEPT_FOR_S = 30
READ_AT_MOST = 4


@dataclass(frozen=True)
class StationState:
    """The class and its queue at one moment; `reference_times` are today's, None where no lesson is on."""

    klass: ClassRecord
    queue: Queue
    moves: tuple[Move, ...]
    last_first: int | None
    reference_times: tuple[int, ...] | None

    @property
    def thumbs(self) -> Thumbs | None:
        """Return how far apart the class's stopwatches on one drop were."""
        return class_thumbs(self.klass)


def class_thumbs(klass: ClassRecord) -> Thumbs | None:
    """Return the class's own timing uncertainty from every drop that several stopwatches timed."""
    return find_thumbs(
        [
            [reading.hundredths for reading in drop.watches]
            for team in klass.teams
            for record in team.rounds.values()
            for drop in record.drops
            if drop.counts
        ]
    )


def load_station(challenge: ClassChallenge) -> StationState:
    """Read the queue of a class challenge, in a fixed number of queries."""
    klass = load_class(challenge)
    now = timezone.now()
    moves = _moves(challenge, now)
    lesson = open_lesson(challenge.classroom)
    times = None
    if lesson is not None:
        times = tuple(
            hundredths or 0
            for hundredths in ReferenceDrop.objects.filter(
                class_challenge=challenge, lesson=lesson, takes_out__isnull=True, taken_out_by__isnull=True
            )
            .order_by("pk")
            .values_list("hundredths", flat=True)
        )
    last_first = last_report(challenge.classroom).get("first") or None
    queue = build_queue(
        queue_of(klass),
        moves,
        now,
        last_first=last_first,
        reference_drops=None if times is None else len(times),
    )
    return StationState(klass, queue, moves, last_first, times)


def _moves(challenge: ClassChallenge, now: datetime) -> tuple[Move, ...]:
    return tuple(
        Move(move, team_id or 0, number, trial, at)
        for move, team_id, number, trial, at in QueueMove.objects.filter(
            class_challenge=challenge, made_at__gt=now - OPEN_FOR
        )
        .order_by("pk")
        .values_list("move", "team_id", "round", "trial", "made_at")
    )


def load_for_phone(challenge: ClassChallenge, device: Device) -> tuple[StationState, list[str]]:
    """Read the state and the ids of those of a phone's entries that it knows of, as of one moment.

    A phone lays over the state whatever it sent and does not find among them. An entry that was among them
    while its drop was not in the state would have the phone propose that drop once more, so both are read
    again where the revision went up meanwhile; at worst, a drop is in the state and is laid over itself.
    """
    for _again in range(READ_AT_MOST):
        before = _revision(challenge)
        arrived = _arrived(challenge, device)
        state = load_station(challenge)
        if _revision(challenge) == before:
            break
    challenge.revision.number = before
    return state, arrived


def _revision(challenge: ClassChallenge) -> int:
    return Revision.objects.values_list("number", flat=True).get(class_challenge=challenge)


_kept: dict[int, tuple[tuple[int, int], Queue]] = {}


def queue_at(challenge: ClassChallenge) -> Queue:
    """Return the queue at the challenge's revision, worked out once for all tablets that ask about it.

    One query where nobody times. A lesson's start or end changes no revision, so what is kept is good for
    half a minute.
    """
    key = (challenge.revision.number, int(time.time()) // KEPT_FOR_S)
    kept = _kept.get(challenge.pk)
    if kept is None or kept[0] != key:
        now = timezone.now()
        timed = is_open(_moves(challenge, now), now)
        kept = _kept[challenge.pk] = (key, load_station(challenge).queue if timed else NOBODY_TIMES)
    return kept[1]


def as_json(state: StationState, arrived: list[str]) -> dict[str, Any]:
    """Return the state as a phone keeps it, so that it can go on alone; see `static/js/station/queue.js`."""
    queued = {team.team_id: team for team in queue_of(state.klass)}
    return {
        "revision": state.klass.challenge.revision.number,
        "challenge": state.klass.challenge.pk,
        "open": state.queue.open,
        "lastFirst": state.last_first or 0,
        "teams": [
            _team(record.team, record.current, queued[record.team.pk].state)
            for record in state.klass.teams
            if record.current is not None
        ],
        "moves": [
            {"move": move.move, "team": move.team_id, "round": move.round, "trial": move.trial}
            for move in state.moves
        ],
        "reference": None if state.reference_times is None else len(state.reference_times),
        "arrived": arrived,
    }


def _team(team: Team, record: RoundRecord, state: str) -> dict[str, Any]:
    return {
        "id": team.pk,
        "name": team.name,
        "round": record.number,
        "wanted": record.trials_wanted,
        "state": state,
        "broke": record.broke,
        "drops": [_drop(drop) for drop in record.drops],
    }


def _drop(drop: DropRecord) -> dict[str, Any]:
    standing = drop.reading
    return {
        "trial": drop.trial,
        "attempt": drop.attempt,
        "hundredths": standing.hundredths if standing is not None else 0,
        "counts": drop.counts,
        "mark": drop.mark,
        "watches": len(drop.watches),
    }


def _arrived(challenge: ClassChallenge, device: Device) -> list[str]:
    """Return the ids of the entries that this device sent of late, of which the state knows."""
    rows = Submission.objects.filter(
        class_challenge=challenge, device=device, received_at__gt=timezone.now() - ARRIVED_FOR
    )
    newest = rows.order_by("-pk").values_list("entry_id", flat=True)[:MOST_ARRIVED]
    return [str(entry_id) for entry_id in newest]

"""Readings that found no drop: kept as they came, until a teacher gives them to one or sets them aside."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import Q, QuerySet

from classroom.models import Team
from classroom.prepared import Prepared
from design_challenges.models import ClassChallenge, DesignIteration, Drop, Judgement, Reading, Submission
from design_challenges.services import saving
from design_challenges.services.entries import Author
from design_challenges.services.numbers import InputError
from design_challenges.services.record_types import DropRecord
from design_challenges.services.trials_input import parse_stopwatch
from design_challenges.services.watches import MOST_WATCHES

HANDLED = (Judgement.Reason.MOVED, Judgement.Reason.ASIDE)
DEALT_WITH = Q(judgements__reason__in=HANDLED)
MOST_HUNDREDTHS = 2_000_000_000


def waiting_readings(challenge: ClassChallenge | int) -> QuerySet[Reading]:
    """Return the readings that nobody has given to a drop yet, each device's in its own order."""
    return (
        Reading.objects.filter(class_challenge=challenge, drop__isnull=True)
        .exclude(pk__in=Judgement.objects.filter(reason__in=HANDLED, reading__isnull=False).values("reading"))
        .select_related("team", "submission__device")
        .order_by("submission__device_id", "submission__counter", "pk")
    )


# Without the rows' order: a database might then look through every reading that there is.
_waiting = Prepared(lambda challenge: waiting_readings(challenge).order_by().values_list("pk"), int)


def count_waiting(challenge: ClassChallenge) -> int:
    """Return how many readings wait for a teacher, in one query."""
    return len(_waiting.ask(challenge.pk))


def read_hundredths(body: Mapping[str, Any]) -> int | None:
    """Return the time that an entry carries, in whole hundredths of a second; None where it has none."""
    text = str(body.get("hundredths", ""))
    if text.isascii() and text.isdigit() and len(text) < 11 and 0 < int(text) <= MOST_HUNDREDTHS:
        return int(text)
    try:
        return parse_stopwatch(str(body.get("time", "")))
    except InputError:
        return None


def keep_reading(
    challenge: ClassChallenge,
    hundredths: int,
    why: str,
    author: Author,
    *,
    team: Team | None = None,
    source: str = Reading.Source.STATION,
) -> Reading:
    """Keep a time that found no drop."""
    return Reading.objects.create(
        class_challenge=challenge,
        team=team,
        hundredths=hundredths,
        source=source,
        confirmed=True,
        unplaced=why,
        **author.fields(),
    )


def keep(submission: Submission, why: str = "") -> Reading | None:
    """Make an unplaced reading of a refused entry, where it carries a time; call it in its transaction.

    A foreign entry names no team of ours: what it says is shown from its body.
    """
    hundredths = read_hundredths(submission.body)
    if hundredths is None or Reading.objects.filter(submission=submission).exists():
        return None
    device = submission.device
    return keep_reading(
        submission.class_challenge,
        hundredths,
        why,
        Author(submission=submission),
        team=device.team if device is not None and why != Reading.Unplaced.FOREIGN else None,
        source=Reading.Source.TEAM if device is None or device.team_id else Reading.Source.STATION,
    )


@dataclass(frozen=True)
class Place:
    """Where a reading may go: a drop of a team's round; `beside` is the time that stands there already."""

    iteration: DesignIteration
    trial: int
    beside: DropRecord | None = None

    @property
    def key(self) -> str:
        return f"{self.iteration.pk}-{self.trial}"


def is_dealt_with(reading: Reading) -> bool:
    """Return whether somebody gave a reading to a drop, or set it aside."""
    return reading.judgements.filter(reason__in=HANDLED).exists()


def called(reading: Reading) -> str:
    """Return what was called at the station about a reading that has no drop: "did not open", say, or ""."""
    newest = reading.judgements.exclude(reason__in=HANDLED).order_by("-pk").first()
    return str(newest.get_reason_display()) if newest is not None else ""


def give(reading: Reading, place: Place, author: Author) -> Reading | None:
    """Give a reading to a drop: a row of its own there; the one that came in stays, marked as given.

    Where a time stands there it becomes a further stopwatch beside it; else the trial's open attempt gets
    it, with what was called at the station. None where somebody else was faster.
    """
    iteration = saving.lock_round(place.iteration.pk)
    if is_dealt_with(reading):
        return None
    said = reading.judgements.exclude(reason__in=HANDLED).order_by("-pk").first()
    left = reading.drop
    Judgement.objects.create(reading=reading, counts=False, reason=Judgement.Reason.MOVED, **author.fields())
    if left is not None:
        _leave(left, author)
    if place.beside is not None:
        drop = Drop.objects.get(pk=place.beside.row_id)
        watch = next_watch(drop)
    else:
        drop, watch = saving.open_attempt(iteration, place.trial, author), 1
    row = Reading.objects.create(
        class_challenge_id=reading.class_challenge_id,
        team_id=iteration.team_id,
        drop=drop,
        hundredths=reading.hundredths,
        source=reading.source,
        confirmed=True,
        watch=watch,
        moved_from=reading,
        **author.fields(),
    )
    if said is not None and place.beside is None:
        saving.judge_drop(drop, said.counts, said.reason, author)
    return row


def _leave(drop: Drop, author: Author) -> None:
    """Let a drop whose last time was taken away not count: it was another team's."""
    if not any(saving.stands(reading) for reading in drop.readings.all()) and saving.stands(drop):
        saving.judge_drop(drop, False, Judgement.Reason.MOVED, author)


def next_watch(drop: Drop) -> int:
    """Return the number of a drop's next stopwatch."""
    return max(drop.readings.values_list("watch", flat=True), default=0) + 1


def has_room(drop: DropRecord) -> bool:
    """Return whether one more stopwatch may stand beside those of a drop."""
    return drop.counted and len(drop.watches) < MOST_WATCHES


def set_aside(reading: Reading, note: str, author: Author) -> None:
    """Set a reading aside for good, with a reason; it is kept."""
    Judgement.objects.create(
        reading=reading, counts=False, reason=Judgement.Reason.ASIDE, note=note, **author.fields()
    )

"""What a timing station's entries do: a reading finds its drop or is kept unplaced, whatever it says.

Call these inside `entries.save_entry`. A device proposes a drop by team, round, trial and attempt; no
constraint and no switch of the class refuses a time that was taken.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from django.utils.translation import gettext as _

from classroom.models import Lesson, Team
from design_challenges.models import (
    ClassChallenge,
    DesignIteration,
    Drop,
    Judgement,
    QueueMove,
    Reading,
    ReferenceDrop,
    Submission,
)
from design_challenges.services import saving, unplaced
from design_challenges.services.entries import Author, Refused
from design_challenges.services.lessons import open_lesson
from design_challenges.services.record_types import RoundRecord
from design_challenges.services.records import load_team
from design_challenges.services.trials_input import LONGEST_S
from design_challenges.services.watches import MOST_WATCHES

SAME_DROP = timedelta(seconds=20)
"""Two stations that stopped within this timed one drop; no team fetches and drops again so soon."""
MOST_ATTEMPTS = 100
VOIDS = (Judgement.Reason.TIMING, Judgement.Reason.HIT, Judgement.Reason.RELEASE)
MARKS = (Judgement.Reason.NOT_OPEN, Judgement.Reason.TANGLED)
GOOD = "yes"
CALLS = (GOOD, *MARKS, *VOIDS)
Why = Reading.Unplaced


@dataclass(frozen=True)
class Proposal:
    """A time as a station sends it: the drop it says it is of, or (`reference`) of the reference device."""

    hundredths: int
    team_id: int = 0
    round: int = 0
    trial: int = 0
    attempt: int = 1
    typed: bool = False
    reference: bool = False

    @property
    def source(self) -> str:
        return Reading.Source.TYPED if self.typed else Reading.Source.STATION


def take_reading(
    challenge: ClassChallenge, proposal: Proposal, author: Author, *, why: str = ""
) -> Reading | ReferenceDrop:
    """Keep a time: on the drop it proposes where that is free, else where it fits, else unplaced.

    `why` is a reason (`Reading.Unplaced`) for which no drop is looked for at all. The result's `unplaced`
    says whether and why it found none.
    """
    if not why and proposal.reference:
        lesson = open_lesson(challenge.classroom) or newest_lesson(challenge)
        if lesson is not None:
            return ReferenceDrop.objects.create(
                class_challenge=challenge, lesson=lesson, hundredths=proposal.hundredths, **author.fields()
            )
        why = Why.NO_LESSON
    if not why and proposal.hundredths > LONGEST_S * 100:
        why = Why.TOO_LONG
    team = None
    if why != Why.FOREIGN:
        team = Team.objects.filter(pk=proposal.team_id, classroom_id=challenge.classroom_id).first()
    if not why and (team is None or team.retired_at is not None):
        why = Why.TEAM_GONE
    if why or team is None:
        return unplaced.keep_reading(
            challenge, proposal.hundredths, why, author, team=team, source=proposal.source
        )
    return _place(challenge, team, proposal, author)


def newest_lesson(challenge: ClassChallenge) -> Lesson | None:
    """Return the class's newest lesson: what was timed as it ended is of its day."""
    return Lesson.objects.filter(classroom_id=challenge.classroom_id).order_by("-number").first()


def _place(challenge: ClassChallenge, team: Team, proposal: Proposal, author: Author) -> Reading:
    def nowhere(why: str) -> Reading:
        return unplaced.keep_reading(
            challenge, proposal.hundredths, why, author, team=team, source=proposal.source
        )

    found = DesignIteration.objects.filter(
        class_challenge=challenge, team=team, number=proposal.round
    ).first()
    if found is None:
        return nowhere(Why.NO_ROUND)
    iteration = saving.lock_round(found.pk)
    in_range = 1 <= proposal.trial <= iteration.settings.trials_per_round
    if not in_range or not 1 <= proposal.attempt <= MOST_ATTEMPTS:
        return nowhere(Why.NO_TRIAL)
    attempts = list(Drop.objects.filter(iteration=iteration, trial=proposal.trial).order_by("attempt"))
    for drop in reversed(attempts):
        standing = [reading for reading in drop.readings.order_by("pk") if saving.stands(reading)]
        if not standing or not (saving.stands(drop) or drop.attempt == proposal.attempt):
            continue
        if _is_second_watch(standing, author):
            return _add(drop, proposal, author, watch=unplaced.next_watch(drop))
        if not saving.stands(drop):
            # Called void by somebody else, and dropped again: the time is of a further attempt.
            break
        if standing[-1].watch:
            return nowhere(Why.OTHER_STATION)
        row = _add(drop, proposal, author, watch=0)
        Judgement.objects.create(
            reading=row, counts=False, reason=Judgement.Reason.SECOND_ENTRY, **author.fields()
        )
        return row
    return _add(_free_drop(iteration, attempts, proposal, author), proposal, author, watch=1)


def _free_drop(
    iteration: DesignIteration, attempts: Sequence[Drop], proposal: Proposal, author: Author
) -> Drop:
    """Return the proposed drop, or a further attempt where a time came in for that one before."""
    proposed = next((drop for drop in attempts if drop.attempt == proposal.attempt), None)
    attempt = proposal.attempt
    if proposed is not None:
        if not proposed.readings.exists() and not _void_before(proposed, author):
            return proposed
        attempt = max(drop.attempt for drop in attempts) + 1
    return Drop.objects.create(iteration=iteration, trial=proposal.trial, attempt=attempt, **author.fields())


def _void_before(drop: Drop, author: Author) -> bool:
    """Return whether a drop was called void before this time was taken: then it is of the next fall."""
    newest = drop.judgements.select_related("submission").order_by("-pk").first()
    taken_at = author.submission.taken_at if author.submission is not None else None
    if newest is None or newest.counts or taken_at is None:
        return False
    said = newest.submission.taken_at if newest.submission is not None else None
    return taken_at > (said or newest.made_at)


def _is_second_watch(standing: Sequence[Reading], author: Author) -> bool:
    """Return whether another station stopped its watch on the same fall."""
    now, first = author.submission, standing[0].submission
    if now is None or first is None or not standing[0].watch or len(standing) >= MOST_WATCHES:
        return False
    if now.taken_at is None or first.taken_at is None or now.device_id == first.device_id:
        return False
    return abs(now.taken_at - first.taken_at) <= SAME_DROP


def _add(drop: Drop, proposal: Proposal, author: Author, *, watch: int) -> Reading:
    return Reading.objects.create(
        class_challenge=drop.iteration.class_challenge,
        team=drop.iteration.team,
        drop=drop,
        hundredths=proposal.hundredths,
        source=proposal.source,
        confirmed=True,
        watch=watch,
        **author.fields(),
    )


def why_unplaced(row: Reading | ReferenceDrop) -> str | Refused:
    """Return the answer to a time that was kept: nothing more to say, or why it found no drop."""
    if isinstance(row, ReferenceDrop) or not row.unplaced:
        return ""
    reason = Why(row.unplaced).label
    return Refused(
        _("Your teacher has this reading under “unplaced readings”: {reason}.").format(reason=reason)
    )


def call_reading(
    challenge: ClassChallenge, of: Submission | None, call: str, author: Author
) -> str | Refused:
    """Say how a timed drop went, before its time was seen: it counts, with a mark, or it is void."""
    reading = _of(challenge, of)
    if reading is None:
        return Refused(_("The reading that this belongs to is not on the server."))
    counts = call not in VOIDS
    if reading.drop is None or (reading.watch > 1 and call == Judgement.Reason.TIMING):
        # A second station's own thumb slipped: the first one's time stands.
        if call != GOOD:
            Judgement.objects.create(reading=reading, counts=counts, reason=call, **author.fields())
        return ""
    if call != GOOD and saving.stands(reading):
        saving.judge_drop(reading.drop, counts, call, author)
    return ""


def add_watch(
    challenge: ClassChallenge, of: Submission | None, hundredths: int, author: Author
) -> Reading | None:
    """Add what another stopwatch showed for the same drop; None where the first reading is not there."""
    reading = _of(challenge, of)
    if reading is None:
        return None
    source = Reading.Source.TYPED
    drop = reading.drop
    if drop is None or not reading.watch:
        why = reading.unplaced or Why.OTHER_STATION
        return unplaced.keep_reading(challenge, hundredths, why, author, team=reading.team, source=source)
    saving.lock_round(drop.iteration_id)
    standing = sum(1 for row in drop.readings.all() if row.watch and saving.stands(row))
    if standing >= MOST_WATCHES:
        return unplaced.keep_reading(
            challenge, hundredths, Why.OTHER_STATION, author, team=reading.team, source=source
        )
    return _add(drop, Proposal(hundredths, typed=True), author, watch=unplaced.next_watch(drop))


def _of(challenge: ClassChallenge, submission: Submission | None) -> Reading | None:
    """Return the reading that an entry brought."""
    if submission is None:
        return None
    return Reading.objects.filter(class_challenge=challenge, submission=submission).order_by("pk").first()


def find_round(challenge: ClassChallenge, team_id: int, number: int) -> RoundRecord | None:
    """Return a team's round as it stands, or None where there is none."""
    team = Team.objects.filter(pk=team_id, classroom_id=challenge.classroom_id, retired_at=None).first()
    if team is None:
        return None
    return load_team(challenge, team).teams[0].rounds.get(number)


def note_broken(
    challenge: ClassChallenge, team_id: int, number: int, outcome: str, author: Author
) -> str | Refused:
    """Note that a team's device broke, and how it goes on, as on its own tablet."""
    record = find_round(challenge, team_id, number)
    if record is None:
        return Refused(_("The team or its round is not there."))
    if outcome == "no_more" and not record.counting:
        return Refused(_("The team has no drop that counts yet, so it cannot stop here."))
    saving.lock_round(record.iteration.pk)
    saving.save_breakage(saving.reload_round(record), outcome, author)
    return ""


def move_queue(
    challenge: ClassChallenge,
    move: str,
    author: Author,
    *,
    team_id: int = 0,
    number: int = 0,
    trial: int = 0,
) -> str | Refused:
    """Skip a team, call it, stop for the day, or go on."""
    team = None
    if move in (QueueMove.Move.SKIP, QueueMove.Move.CALL):
        team = Team.objects.filter(pk=team_id, classroom_id=challenge.classroom_id).first()
        if team is None:
            return Refused(_("The team is not there any more."))
    QueueMove.objects.create(
        class_challenge=challenge, team=team, move=move, round=number, trial=trial, **author.fields()
    )
    return ""

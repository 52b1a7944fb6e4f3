"""Reads an entry of a timing station from its fields and carries it out; nothing it says is an error."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from datetime import datetime

from django.utils.translation import gettext as _

from classroom.models import Device
from design_challenges.models import ClassChallenge, QueueMove, Reading, Submission
from design_challenges.services import station, unplaced
from design_challenges.services.entries import Author, Refused
from design_challenges.services.numbers import InputError
from design_challenges.services.station import CALLS, GOOD, Proposal
from design_challenges.services.trials_input import parse_stopwatch

REFERENCE = "reference"
MOST_AFTER_THE_END = 300
"""So many times may a station that is over still hand in."""
TOO_MANY = "too many"
MOST_SMALL = 32_767
BROKEN = ("same", "new", "no_more")
Body = Mapping[str, str]


def why_no_drop(
    challenge: ClassChallenge, device: Device, *, live: bool, foreign: bool, taken_at: datetime | None
) -> str:
    """Return why a station's times find no drop of themselves, "" where they may.

    What was timed before a station ran out may; a withdrawn one's times a teacher looks at.
    """
    if foreign:
        return Reading.Unplaced.FOREIGN
    card = device.station_pass
    if live or card is None:
        return ""
    if card.revoked_at is None and taken_at is not None and taken_at <= card.expires_at:
        return ""
    sent = Reading.objects.filter(
        class_challenge=challenge,
        unplaced=Reading.Unplaced.ENDED,
        submission__device__station_pass=card,
    )
    return TOO_MANY if sent.count() >= MOST_AFTER_THE_END else Reading.Unplaced.ENDED


def carry_out(challenge: ClassChallenge, body: Body, author: Author, *, why: str) -> str | Refused:
    """Do what an entry says, inside its transaction; return its answer, or why it could not."""
    if why == TOO_MANY:
        return Refused(_("This station is over, and it has handed in as much as it may."))
    do = body.get("do", "")
    if do == "reading":
        return _reading(challenge, body, author, why)
    if do == "typed":
        return _typed(challenge, body, author, why)
    if do == "watch":
        return _watch(challenge, body, author, why)
    if do == "call" and body.get("call") in CALLS:
        return station.call_reading(challenge, _entry(body.get("of", "")), body["call"], author)
    if why:
        return Refused(_("This station is over: only times are still taken in."))
    if do == "broke" and body.get("outcome") in BROKEN:
        return station.note_broken(
            challenge, _whole(body.get("team")), _whole(body.get("round")), body["outcome"], author
        )
    if do == "move" and body.get("move") in QueueMove.Move.values:
        return station.move_queue(
            challenge,
            body["move"],
            author,
            team_id=_whole(body.get("team")),
            number=_small(body.get("round")),
            trial=_small(body.get("trial")),
        )
    return Refused(_("The server does not know what this entry asks for."))


def _reading(challenge: ClassChallenge, body: Body, author: Author, why: str) -> str | Refused:
    hundredths = unplaced.read_hundredths(body)
    if hundredths is None:
        return Refused(_("There is no time in this entry."))
    proposal = Proposal(
        hundredths,
        team_id=_whole(body.get("team")),
        round=_whole(body.get("round")),
        trial=_whole(body.get("trial")),
        attempt=_whole(body.get("attempt")),
        typed=body.get("how") == "typed",
        reference=body.get("team") == REFERENCE,
    )
    return station.why_unplaced(station.take_reading(challenge, proposal, author, why=why))


def _typed(challenge: ClassChallenge, body: Body, author: Author, why: str) -> str | Refused:
    """Take in a typed time with all that stands beside it: whose, how it went, what other watches showed."""
    hundredths = _stopwatch(body.get("time", ""))
    if hundredths is None:
        return Refused(_("That time cannot be read: {time}").format(time=body.get("time", "")[:40]))
    place = body.get("place", "")
    parts = [_whole(part) for part in place.split("-")] if place != REFERENCE else []
    team_id, number, trial, attempt = parts if len(parts) == 4 else (0, 0, 0, 1)
    proposal = Proposal(hundredths, team_id, number, trial, attempt, typed=True, reference=place == REFERENCE)
    answer = station.why_unplaced(station.take_reading(challenge, proposal, author, why=why))
    for name in ("second", "third"):
        more = _stopwatch(body.get(name, ""))
        if more is not None and place != REFERENCE:
            station.add_watch(challenge, author.submission, more, author)
    how = body.get("how", GOOD)
    if how in CALLS and place != REFERENCE:
        station.call_reading(challenge, author.submission, how, author)
    return answer


def _watch(challenge: ClassChallenge, body: Body, author: Author, why: str) -> str | Refused:
    hundredths = unplaced.read_hundredths(body)
    if hundredths is None:
        return Refused(_("There is no time in this entry."))
    row = station.add_watch(challenge, _entry(body.get("of", "")), hundredths, author)
    if row is None:
        why = why or Reading.Unplaced.NO_TRIAL
        row = unplaced.keep_reading(challenge, hundredths, why, author, source=Reading.Source.TYPED)
    return station.why_unplaced(row)


def _entry(text: str) -> Submission | None:
    try:
        return Submission.objects.filter(entry_id=uuid.UUID(text)).first()
    except ValueError:
        return None


def _stopwatch(text: str) -> int | None:
    try:
        return parse_stopwatch(text)
    except InputError:
        return None


def _small(text: str | None) -> int:
    """Return a number that a column for rounds and trials holds, 0 where it is none."""
    number = _whole(text)
    return number if number <= MOST_SMALL else 0


def _whole(text: str | None) -> int:
    """Return a row id or a number from a field, 0 where it is none."""
    return int(text) if text and text.isascii() and text.isdigit() and len(text) < 16 else 0

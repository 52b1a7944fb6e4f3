"""Takes in an entry: once, whole, in one transaction, with its revision last."""

from __future__ import annotations

import hashlib
import json
import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

from django.db import IntegrityError, transaction
from django.db.models import F

from classroom.models import Device
from classroom.prepared import PreparedUpdate
from design_challenges.models import ClassChallenge, Revision, Submission

if TYPE_CHECKING:
    from django.contrib.auth.models import AbstractBaseUser

ANSWER_LENGTH = 200


class Conflict(Exception):  # noqa: N818 (no error: two tablets met)
    """Someone else saved this field since the form was shown; `theirs` is what stands now."""

    def __init__(self, field: str, theirs: str) -> None:
        super().__init__(field)
        self.field = field
        self.theirs = theirs


@dataclass(frozen=True)
class Refused:
    """What an effect returns where an entry cannot do what it asks: its rows stay, the sender is told why."""

    reason: str


@dataclass(frozen=True)
class Unchanged:
    """What an effect returns where all was so already: the entry is kept, and nobody's page is drawn anew."""

    answer: str


Result = str | Refused | Unchanged
"""What an effect returns: an answer's text, or one of these."""


@dataclass(frozen=True)
class Sender:
    """Who sent an entry, a device or a signed-in adult, and what the device says of it.

    `counter` is the device's own count of its entries, `device_time` its own clock, `installation` the
    one whose page it was typed into; `taken_at` is when it happened by our clock.
    """

    device: Device | None = None
    user: AbstractBaseUser | None = None
    counter: int | None = None
    device_time: datetime | None = None
    installation: uuid.UUID | None = None
    taken_at: datetime | None = None

    def fields(self) -> dict[str, Any]:
        """Return the columns of a `Submission` that say whence it came."""
        return {
            "device": self.device,
            "user": self.user,
            "counter": self.counter,
            "device_time": self.device_time,
            "installation": self.installation,
            "taken_at": self.taken_at,
        }


@dataclass(frozen=True)
class Author:
    """Whose entry a row belongs to; every row that an entry adds carries it."""

    submission: Submission | None = None
    user: AbstractBaseUser | None = None

    def fields(self) -> dict[str, Any]:
        """Return the columns of an `EntryRow` that name the author."""
        return {"submission": self.submission, "user": self.user}


@dataclass(frozen=True)
class Answer:
    """What the sender is told; `repeated` where the same entry had arrived before.

    `outcome` is that of the `Submission`; the text of a refused one is the reason.
    """

    text: str
    repeated: bool
    outcome: str = Submission.Outcome.SAVED


def body_hash(body: Mapping[str, Any]) -> str:
    """Return the digest of a body, the same for the same fields in any order."""
    return hashlib.sha256(json.dumps(body, sort_keys=True, ensure_ascii=False).encode()).hexdigest()


_raised = PreparedUpdate(
    lambda challenge: (Revision.objects.filter(class_challenge=challenge), {"number": F("number") + 1}), int
)
# The one change that the table of entries knows: what came of the row that was added a moment before.
_answered = PreparedUpdate(
    lambda pk, answer, outcome: (
        Submission._base_manager.filter(pk=pk),
        {"answer": answer, "outcome": outcome},
    ),
    *(int, str, str),
)


def bump_revision(challenge_id: int) -> None:
    """Raise the revision number; call it as the last statement of the transaction.

    A row of its own and F() + 1: with a sequence a late commit would be skipped by
    whoever polls.
    """
    if not _raised.run(challenge_id):
        Revision.objects.create(class_challenge_id=challenge_id, number=1)


def save_entry(
    challenge: ClassChallenge,
    sender: Sender,
    entry_id: uuid.UUID,
    body: Mapping[str, Any],
    effect: Callable[[Author], Result],
) -> Answer:
    """Save one entry and its effect in one transaction; sent again, give the first answer again.

    `effect` adds the rows and returns the answer's text (an address to go on to). A
    `Conflict` it raises undoes its rows, keeps the entry with that outcome, and is
    raised again; `Refused` keeps its rows and the entry with that outcome; `Unchanged` keeps the
    entry and leaves the revision. The same id with another body is kept as a refused entry of its
    own and has no effect.
    """
    digest = body_hash(body)
    fields: dict[str, Any] = {
        "class_challenge": challenge,
        **sender.fields(),
        "body": dict(body),
        "body_hash": digest,
    }
    try:
        return _save(challenge, entry_id, fields, effect)
    except Conflict:
        fields["counter"] = _free_counter(sender)
        Submission.objects.create(entry_id=entry_id, outcome=Submission.Outcome.CONFLICT, **fields)
        raise
    except IntegrityError:
        # Its own row comes first, so nobody need ask beforehand whether the entry is there: that is rare.
        earlier = _earlier(entry_id, fields)
        if earlier is not None:
            return earlier
        if _free_counter(sender) == sender.counter:
            raise
        return _save(challenge, entry_id, fields | {"counter": None}, effect)


def _save(
    challenge: ClassChallenge,
    entry_id: uuid.UUID,
    fields: dict[str, Any],
    effect: Callable[[Author], Result],
) -> Answer:
    """Add the entry's row, its effect, its answer and the revision, all or nothing."""
    with transaction.atomic():
        submission = Submission(entry_id=entry_id, **fields)
        # The row must exist before what points to it; its answer is known only after.
        submission.save()
        result = effect(Author(submission=submission, user=fields["user"]))
        outcome = Submission.Outcome.REFUSED if isinstance(result, Refused) else Submission.Outcome.SAVED
        if isinstance(result, Refused):
            text = result.reason[:ANSWER_LENGTH]
        else:
            text = result.answer if isinstance(result, Unchanged) else result
        _answered.run(submission.pk, text, outcome)
        if not isinstance(result, Unchanged):
            bump_revision(challenge.pk)
    return Answer(text=text, repeated=False, outcome=outcome)


def _free_counter(sender: Sender) -> int | None:
    """Return the device's counter, or None where it used that number before.

    A tablet whose storage was wiped counts from 1 again, and no constraint may refuse what it sends.
    """
    used = Submission.objects.filter(device=sender.device, counter=sender.counter)
    if sender.device is None or sender.counter is None or not used.exists():
        return sender.counter
    return None


def _earlier(entry_id: uuid.UUID, fields: Mapping[str, Any]) -> Answer | None:
    """Return the answer to an entry whose id is there: the first one, or with another body a refusal."""
    row = Submission.objects.filter(entry_id=entry_id).first()
    if row is None:
        return None
    if row.body_hash == fields["body_hash"]:
        return Answer(text=row.answer, repeated=True, outcome=row.outcome)
    outcome = Submission.Outcome.REFUSED
    # The counter stays the first body's: the device counted one entry, not two.
    Submission.objects.create(**{**fields, "counter": None, "outcome": outcome})
    return Answer(text="", repeated=True, outcome=outcome)


def teacher_change(challenge_id: int, change: Callable[[], None]) -> None:
    """Carry out a teacher's switch (a gate, a pause) with its revision, in one transaction."""
    with transaction.atomic():
        change()
        bump_revision(challenge_id)

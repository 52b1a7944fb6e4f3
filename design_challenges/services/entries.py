"""Takes in an entry: once, whole, in one transaction, with its revision last."""

from __future__ import annotations

import hashlib
import json
import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from django.db import IntegrityError, transaction
from django.db.models import F

from classroom.models import Device
from design_challenges.models import ClassChallenge, Revision, Submission

if TYPE_CHECKING:
    from django.contrib.auth.models import AbstractBaseUser


class Conflict(Exception):  # noqa: N818 (no error: two tablets met)
    """Someone else saved this field since the form was shown; `theirs` is what stands now."""

    def __init__(self, field: str, theirs: str) -> None:
        super().__init__(field)
        self.field = field
        self.theirs = theirs


@dataclass(frozen=True)
class Sender:
    """Who sent an entry: a device, or a signed-in adult."""

    device: Device | None = None
    user: AbstractBaseUser | None = None


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
    """What the sender is told; `repeated` where the same entry had arrived before."""

    text: str
    repeated: bool


def body_hash(body: Mapping[str, Any]) -> str:
    """Return the digest of a body, the same for the same fields in any order."""
    return hashlib.sha256(json.dumps(body, sort_keys=True, ensure_ascii=False).encode()).hexdigest()


def bump_revision(challenge_id: int) -> None:
    """Raise the revision number; call it as the last statement of the transaction.

    A row of its own and F() + 1: with a sequence a late commit would be skipped by
    whoever polls.
    """
    if not Revision.objects.filter(class_challenge_id=challenge_id).update(number=F("number") + 1):
        Revision.objects.create(class_challenge_id=challenge_id, number=1)


def save_entry(
    challenge: ClassChallenge,
    sender: Sender,
    entry_id: uuid.UUID,
    body: Mapping[str, Any],
    effect: Callable[[Author], str],
) -> Answer:
    """Save one entry and its effect in one transaction; sent again, give the first answer again.

    `effect` adds the rows and returns the answer's text (an address to go on to). A
    `Conflict` it raises undoes its rows, keeps the entry with that outcome, and is
    raised again. The same id with another body is kept as a refused entry of its own
    and has no effect.
    """
    digest = body_hash(body)
    earlier = _answered(entry_id, digest)
    if earlier is not None:
        return earlier
    fields: dict[str, Any] = {
        "class_challenge": challenge,
        "device": sender.device,
        "user": sender.user,
        "body": dict(body),
        "body_hash": digest,
    }
    if Submission.objects.filter(entry_id=entry_id).exists():
        refused = Submission.objects.create(**fields, outcome=Submission.Outcome.REFUSED)
        return Answer(text=refused.answer, repeated=True)
    try:
        with transaction.atomic():
            submission = Submission(entry_id=entry_id, **fields)
            # The row must exist before what points to it; its answer is known only after.
            submission.save()
            text = effect(Author(submission=submission, user=sender.user))
            Submission._base_manager.filter(pk=submission.pk).update(answer=text)
            bump_revision(challenge.pk)
    except Conflict:
        Submission.objects.create(entry_id=entry_id, outcome=Submission.Outcome.CONFLICT, **fields)
        raise
    except IntegrityError:
        # Two copies of one entry raced: the other one won, and its answer is the answer.
        earlier = _answered(entry_id, digest)
        if earlier is None:
            raise
        return earlier
    return Answer(text=text, repeated=False)


def _answered(entry_id: uuid.UUID, digest: str) -> Answer | None:
    row = (
        Submission.objects.filter(entry_id=entry_id, body_hash=digest)
        .values_list("answer", flat=True)
        .first()
    )
    return None if row is None else Answer(text=row, repeated=True)


def teacher_change(challenge_id: int, change: Callable[[], None]) -> None:
    """Carry out a teacher's switch (a gate, a pause) with its revision, in one transaction."""
    with transaction.atomic():
        change()
        bump_revision(challenge_id)

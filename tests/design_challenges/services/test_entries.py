"""An entry counts once, whole or not at all, and the revision follows it."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.db import IntegrityError
from django.utils import timezone

from classroom.models import Device, StationPass
from design_challenges.models import Note, Revision, Submission
from design_challenges.services import saving
from design_challenges.services.entries import (
    Author,
    Conflict,
    Refused,
    Sender,
    body_hash,
    bump_revision,
    save_entry,
    teacher_change,
)
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def challenge() -> Any:
    return builders.make_challenge(builders.make_class(teams=1))


@pytest.fixture
def iteration(challenge: Any) -> Any:
    return saving.start_round(challenge, challenge.classroom.teams.get(), 1)


def revision(challenge: Any) -> int:
    return Revision.objects.get(class_challenge=challenge).number


def test_an_entry_sent_twice_counts_once_and_gets_the_first_answer(challenge: Any, iteration: Any) -> None:
    entry_id = uuid.uuid4()

    def effect(author: Author) -> str:
        saving.save_note(iteration, "purpose", "It must fall slowly.", author)
        return "/team/1/plan/"

    first = save_entry(challenge, Sender(), entry_id, {"purpose": "slow"}, effect)
    again = save_entry(challenge, Sender(), entry_id, {"purpose": "slow"}, effect)
    assert (first.text, first.repeated, again.text, again.repeated) == (
        "/team/1/plan/",
        False,
        "/team/1/plan/",
        True,
    )
    assert Note.objects.count() == 1
    assert revision(challenge) == 1


def test_the_same_id_with_another_body_is_kept_and_has_no_effect(challenge: Any, iteration: Any) -> None:
    entry_id = uuid.uuid4()

    def effect(author: Author) -> str:
        saving.save_note(iteration, "purpose", "first", author)
        return ""

    save_entry(challenge, Sender(), entry_id, {"purpose": "first"}, effect)
    save_entry(challenge, Sender(), entry_id, {"purpose": "second"}, effect)
    assert Note.objects.count() == 1
    assert [s.outcome for s in Submission.objects.all()] == ["saved", "refused"]
    assert Submission.objects.last().body == {"purpose": "second"}  # type: ignore[union-attr]


def test_a_later_tablets_different_text_is_told_and_kept(challenge: Any, iteration: Any) -> None:
    def save(text: str, seen: int) -> None:
        save_entry(
            challenge,
            Sender(),
            uuid.uuid4(),
            {"purpose": text},
            lambda author: str(saving.save_note(iteration, "purpose", text, author, seen=seen).pk),
        )

    save("ours", 0)
    with pytest.raises(Conflict) as told:
        save("theirs", 0)
    assert (told.value.field, told.value.theirs) == ("purpose", "ours")
    assert [note.text for note in Note.objects.all()] == ["ours"]
    assert [s.outcome for s in Submission.objects.all()] == ["saved", "conflict"]
    save("ours", 0)  # the same words from another tablet are no conflict


def test_an_effect_that_fails_leaves_nothing_behind(challenge: Any, iteration: Any) -> None:
    def effect(author: Author) -> str:
        saving.save_note(iteration, "purpose", "half", author)
        raise RuntimeError

    with pytest.raises(RuntimeError):
        save_entry(challenge, Sender(), uuid.uuid4(), {}, effect)
    assert not Note.objects.exists()
    assert not Submission.objects.exists()
    assert revision(challenge) == 0


def test_an_effect_that_breaks_a_constraint_is_not_taken_for_a_repeat(challenge: Any, iteration: Any) -> None:
    def effect(author: Author) -> str:
        saving.start_round(challenge, iteration.team, 1)
        type(iteration).objects.create(
            team=iteration.team, class_challenge=challenge, number=1, settings=iteration.settings
        )
        return ""

    with pytest.raises(IntegrityError):
        save_entry(challenge, Sender(), uuid.uuid4(), {}, effect)


def test_a_teachers_switch_raises_the_revision(challenge: Any) -> None:
    teacher_change(challenge.pk, lambda: None)
    assert revision(challenge) == 1


def test_a_missing_revision_row_is_made(challenge: Any) -> None:
    Revision.objects.all().delete()
    bump_revision(challenge.pk)
    assert revision(challenge) == 1


def test_the_order_of_fields_does_not_change_a_bodys_digest() -> None:
    assert body_hash({"a": "1", "b": "ü"}) == body_hash({"b": "ü", "a": "1"})
    assert body_hash({"a": "1"}) != body_hash({"a": "2"})


def station_device(challenge: Any) -> Device:
    card = StationPass.objects.create(
        classroom=challenge.classroom,
        kind=challenge.kind,
        token_hash=uuid.uuid4().hex,
        expires_at=timezone.now() + timedelta(hours=1),
    )
    return Device.objects.create(
        token_hash=uuid.uuid4().hex,
        classroom=challenge.classroom,
        role=Device.Role.STATION,
        station_pass=card,
        expires_at=card.expires_at,
    )


def test_a_counter_that_a_wiped_tablet_uses_again_refuses_nothing(challenge: Any) -> None:
    device = station_device(challenge)
    for _turn in range(2):
        sender = Sender(device=device, counter=1)
        answer = save_entry(challenge, sender, uuid.uuid4(), {"n": str(_turn)}, lambda _author: "done")
        assert (answer.text, answer.outcome) == ("done", "saved")
    assert list(Submission.objects.values_list("counter", flat=True)) == [1, None]
    assert revision(challenge) == 2


def test_a_refused_entry_keeps_its_rows_and_tells_the_same_reason_again(
    challenge: Any, iteration: Any
) -> None:
    entry_id = uuid.uuid4()

    def effect(author: Author) -> Refused:
        saving.save_note(iteration, "purpose", "It must fall slowly.", author)
        return Refused("Its team is gone.")

    answers = [save_entry(challenge, Sender(), entry_id, {"a": "b"}, effect) for _ in range(2)]
    assert [(answer.text, answer.outcome, answer.repeated) for answer in answers] == [
        ("Its team is gone.", "refused", False),
        ("Its team is gone.", "refused", True),
    ]
    assert Note.objects.count() == 1
    assert Submission.objects.get().outcome == "refused"


def test_a_repeated_conflict_is_a_conflict_again(challenge: Any) -> None:
    entry_id, device = uuid.uuid4(), station_device(challenge)

    def effect(_author: Author) -> str:
        raise Conflict("purpose", "theirs")

    with pytest.raises(Conflict):
        save_entry(challenge, Sender(device=device, counter=4), entry_id, {"a": "b"}, effect)
    again = save_entry(challenge, Sender(device=device, counter=4), entry_id, {"a": "b"}, effect)
    assert (again.outcome, again.repeated) == ("conflict", True)
    assert Submission.objects.get().counter == 4

"""A team's work for its teacher: what is shown, and that a correction keeps what it replaces."""

from __future__ import annotations

import re
import uuid
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from classroom.models import Classroom
from design_challenges.models import Clearance, Drop, Judgement, Measurement, Note, Reading, Submission
from design_challenges.services import saving
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def classroom() -> Classroom:
    return builders.make_class(teams=2)


@pytest.fixture
def challenge(classroom: Classroom) -> Any:
    return builders.make_challenge(classroom)


@pytest.fixture
def team(classroom: Classroom) -> Any:
    return classroom.teams.first()


@pytest.fixture
def teacher(classroom: Classroom) -> Client:
    return builders.teacher_client(classroom)


def url(name: str, team: Any, *more: Any) -> str:
    return reverse(f"design_challenges:{name}", args=[team.classroom.code, team.pk, *more])


def text_of(response: Any) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode()))


def entry(**fields: Any) -> dict[str, Any]:
    return {"entry_id": str(uuid.uuid4()), **fields}


def test_it_shows_everything_of_all_rounds(challenge, team, teacher):
    builders.play_round(challenge, team)
    builders.plan_round(challenge, team, 2, line="12")
    text = text_of(teacher.get(url("team_work", team)))
    for said in (
        "Round 2",
        "Round 1",
        "Canopy radius",
        "It must fall slowly.",
        "4.12",
        "Mean fall time",
        "idea A",
    ):
        assert said in text


def test_it_asks_at_most_twenty_queries(challenge, team, teacher, django_assert_max_num_queries):
    builders.play_round(challenge, team)
    builders.play_round(challenge, team, 2, line="12")
    with django_assert_max_num_queries(20):
        assert teacher.get(url("team_work", team)).status_code == 200


def test_a_team_of_another_class_is_not_found(challenge, team):
    stranger = builders.make_class(teams=1)
    builders.make_challenge(stranger)
    teacher = builders.teacher_client(stranger)
    path = url("team_work", team).replace(team.classroom.code, stranger.code)
    assert teacher.get(path).status_code == 404
    assert teacher.get(url("team_work", team)).status_code == 404


def test_a_corrected_size_keeps_the_old_one_and_who_changed_it(challenge, team, teacher):
    builders.play_round(challenge, team)
    path = url("correct_size", team, 1, "built", "canopy_diameter", 2)
    assert "14" in teacher.get(path).content.decode()
    assert teacher.post(path, entry(length="13 1/2")).status_code == 302
    old, new = Measurement.objects.filter(stage="built", quantity="canopy_diameter", spot=2)
    assert (old.typed, new.typed) == ("14", "13 1/2")
    assert new.user.username.startswith("teacher")
    assert builders.record_of(challenge, team).built["canopy_diameter", 2].typed == "13 1/2"
    page = teacher.get(url("team_work", team)).content.decode()
    assert "<s>14 in</s>" in page


def test_a_corrected_plan_size_makes_the_sums_wait_again(challenge, team, teacher):
    builders.plan_round(challenge, team)
    assert set(builders.record_of(challenge, team).accepted) == {"area", "material"}
    teacher.post(url("correct_size", team, 1, "planned", "canopy_radius", 1), entry(length="6"))
    assert builders.record_of(challenge, team).accepted == {}


@pytest.mark.parametrize(
    ("typed", "said"),
    [("", "Type a length here"), ("wide", "can’t read"), ("1000", "longer"), ("0", "zero")],
)
def test_a_size_that_cannot_be_is_kept_in_the_field_and_said(challenge, team, teacher, typed, said):
    builders.play_round(challenge, team)
    path = url("correct_size", team, 1, "built", "canopy_diameter", 2)
    response = teacher.post(path, entry(length=typed))
    assert response.status_code == 422
    assert "error-summary" in response.content.decode()
    assert f'value="{typed}"' in response.content.decode() or not typed
    assert Measurement.objects.filter(stage="built", quantity="canopy_diameter", spot=2).count() == 1


def test_a_size_that_nobody_asks_is_not_found(challenge, team, teacher):
    builders.plan_round(challenge, team)
    for stage, quantity, spot in (
        ("built", "canopy_diameter", 9),
        ("planned", "colour", 1),
        ("idea_a", "canopy_radius", 1),
    ):
        assert teacher.get(url("correct_size", team, 1, stage, quantity, spot)).status_code == 404
    assert teacher.get(url("correct_size", team, 2, "built", "canopy_diameter", 1)).status_code == 404


def test_a_corrected_time_keeps_the_old_reading_with_the_reason(challenge, team, teacher):
    builders.play_round(challenge, team, hundredths=(412, 398, 405))
    drop = Drop.objects.get(trial=2)
    path = url("correct_drop", team, 1, drop.pk)
    assert teacher.post(path, entry(time="3,89", reason="Digits swapped")).status_code == 302
    assert [reading.hundredths for reading in Reading.objects.filter(drop=drop)] == [398, 389]
    assert builders.record_of(challenge, team).trials[2].reading.hundredths == 389
    text = text_of(teacher.get(url("team_work", team)))
    assert "3.98 s" in text
    assert "Digits swapped" in text


def test_a_time_needs_a_reason_and_a_number(challenge, team, teacher):
    builders.play_round(challenge, team)
    drop = Drop.objects.get(trial=2)
    response = teacher.post(url("correct_drop", team, 1, drop.pk), entry(time="four", reason=""))
    assert response.status_code == 422
    assert "2 things to put right" in text_of(response)
    assert 'value="four"' in response.content.decode()
    assert Reading.objects.filter(drop=drop).count() == 1


def test_a_drop_is_marked_as_not_counting_and_counts_again(challenge, team, teacher):
    builders.play_round(challenge, team)
    drop = Drop.objects.get(trial=3)
    path = url("judge_drop", team, 1, drop.pk)
    assert teacher.post(path, entry(reason="")).status_code == 422
    teacher.post(path, entry(reason="The door opened"))
    record = builders.record_of(challenge, team)
    assert (len(record.counting), record.next_trial) == (2, 3)
    assert "The door opened" in text_of(teacher.get(url("team_work", team)))
    teacher.post(path, entry(reason="It was another drop"))
    assert len(builders.record_of(challenge, team).counting) == 3
    assert Judgement.objects.filter(drop=drop).count() == 2
    assert Reading.objects.filter(drop=drop).count() == 1


def test_a_drop_that_was_done_again_does_not_count_again_beside_its_new_attempt(challenge, team, teacher):
    builders.play_round(challenge, team)
    drop = Drop.objects.get(trial=3)
    path = url("judge_drop", team, 1, drop.pk)
    teacher.post(path, entry(reason="The door opened"))
    record = builders.record_of(challenge, team)
    builders.enter(challenge, lambda author: saving.save_reading(record.iteration, 3, 400, author))
    response = teacher.post(path, entry(reason="Count both"), follow=True)
    assert "the newer attempt is the one that counts" in text_of(response)
    assert not builders.record_of(challenge, team).drops[-2].counts


def test_one_of_two_tablets_times_is_let_stand(challenge, team, teacher):
    iteration = builders.plan_round(challenge, team)
    builders.clear_round(challenge, team)
    builders.build_round(challenge, team)
    for time in (412, 421):
        builders.enter(challenge, lambda author, t=time: saving.save_reading(iteration, 1, t, author, seen=0))
    second = Reading.objects.get(hundredths=421)
    assert "Let 4.21 s stand" in text_of(teacher.get(url("team_work", team)))
    teacher.post(url("settle_reading", team, second.pk), entry())
    assert builders.record_of(challenge, team).trials[1].reading.hundredths == 421
    assert Reading.objects.count() == 2


def test_clearing_by_hand_says_what_is_missing_and_wants_a_reason(challenge, team, teacher):
    builders.plan_round(challenge, team, radius="10", line="20")
    path = url("clear_by_hand", team, 1)
    assert "179 points too many (554 of 375)" in text_of(teacher.get(path))
    assert teacher.post(path, entry(reason=" ")).status_code == 422
    assert not Clearance.objects.exists()
    teacher.post(path, entry(reason="They may use the offcuts"))
    clearance = Clearance.objects.get()
    assert (clearance.by, clearance.reason, clearance.figure) == (
        "teacher",
        "They may use the offcuts",
        "554",
    )
    assert builders.record_of(challenge, team).clearance is not None


def test_a_corrected_text_keeps_the_old_one(challenge, team, teacher):
    builders.play_round(challenge, team)
    path = url("correct_note", team, 1, "noticing")
    assert teacher.post(path, entry(text="")).status_code == 422
    teacher.post(path, entry(text="Wide ones were slower."))
    assert [note.text for note in Note.objects.filter(prompt="noticing")] == [
        "Bigger canopies fell slower.",
        "Wide ones were slower.",
    ]
    assert teacher.get(url("correct_note", team, 1, "chosen")).status_code == 404


def test_a_correction_sent_twice_counts_once(challenge, team, teacher):
    builders.play_round(challenge, team)
    drop = Drop.objects.get(trial=1)
    sent = entry(time="4.00", reason="Misread")
    for _ in range(2):
        assert teacher.post(url("correct_drop", team, 1, drop.pk), sent).status_code == 302
    assert Reading.objects.filter(drop=drop).count() == 2


def test_a_correction_of_a_signed_out_teacher_survives_signing_in(challenge, team, classroom):
    builders.play_round(challenge, team)
    drop = Drop.objects.get(trial=1)
    path = url("correct_drop", team, 1, drop.pk)
    client = Client()
    assert client.post(path, entry(time="4.00", reason="Misread")).status_code == 302
    client.force_login(classroom.memberships.first().user)
    page = client.get(path).content.decode()
    assert 'value="4.00"' in page
    assert "Misread" in page
    assert "We kept what you typed" in page
    assert Reading.objects.filter(drop=drop).count() == 1


def test_every_correction_raises_the_revision_and_names_its_author(challenge, team, teacher):
    builders.play_round(challenge, team)
    before = challenge.revision.number
    challenge.revision.refresh_from_db()
    before = challenge.revision.number
    teacher.post(url("clear_by_hand", team, 1), entry(reason="Seen"))
    challenge.revision.refresh_from_db()
    assert challenge.revision.number == before + 1
    assert Submission.objects.last().user is not None
    assert Submission.objects.last().body["reason"] == "Seen"


def test_readings_that_belong_to_no_drop_are_shown(challenge, team, teacher):
    Reading.objects.create(class_challenge=challenge, team=team, hundredths=455)
    assert "Readings without a drop" in text_of(teacher.get(url("team_work", team)))


def test_a_team_that_has_not_begun_says_so(challenge, team, teacher):
    assert "This team has not begun yet." in text_of(teacher.get(url("team_work", team)))

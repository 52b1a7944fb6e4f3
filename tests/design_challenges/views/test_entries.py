"""A form that an outbox sends: answered in JSON, once, and kept whatever becomes of it."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from classroom.context_processors import installation_id
from classroom.models import Device
from design_challenges.models import HelpCall, Note, Reading, Submission
from design_challenges.services.records import load_team
from tests import builders as b

PURPOSE = "/team/1/plan/purpose/"
TEST = "/team/1/test/"


@pytest.fixture(autouse=True)
def this_installation(db: None) -> None:
    installation_id.cache_clear()


@pytest.fixture
def challenge() -> Any:
    return b.make_challenge(b.make_class(2), sums_by="software")


@pytest.fixture
def team(challenge: Any) -> Any:
    return challenge.classroom.teams.first()


@pytest.fixture
def tablet(team: Any, challenge: Any) -> Client:
    client = b.team_client(team)
    client.post("/team/1/start/")
    return client


def entry(**fields: Any) -> dict[str, Any]:
    return {"entry_id": str(uuid.uuid4()), "counter": "7", "installation": str(installation_id()), **fields}


def send(tablet: Client, path: str, fields: dict[str, Any]) -> Any:
    return tablet.post(path, fields, headers={"X-Entry": "1"})


def called(challenge: Any, team: Any) -> int:
    """Play a team up to a drop that was called good, and return the drop."""
    b.plan_round(challenge, team)
    b.clear_round(challenge, team)
    b.build_round(challenge, team)
    send(b.team_client(team), TEST, entry(do="call", trial="1", attempt="1", call="yes"))
    return int(load_team(challenge, team).teams[0].rounds[1].drops[0].row_id)


def test_a_saved_form_is_answered_with_where_to_go_on(tablet: Client) -> None:
    sent = entry(purpose="It must fall slowly.", device_time="2026-03-02T09:10:11Z")
    answer = send(tablet, PURPOSE, sent)

    assert answer.status_code == 200
    assert answer.json() == {"outcome": "saved", "answer": "/team/1/plan/", "reason": ""}
    row = Submission.objects.get(entry_id=sent["entry_id"])
    assert (row.outcome, row.counter, row.installation) == ("saved", 7, installation_id())
    assert row.device_time is not None
    assert row.device_time.hour == 9


def test_a_repeated_entry_gets_the_first_answer_and_adds_nothing(tablet: Client) -> None:
    sent = entry(purpose="It must fall slowly.")
    first, again = send(tablet, PURPOSE, sent), send(tablet, PURPOSE, sent)

    assert again.json() == first.json()
    assert Note.objects.filter(prompt="purpose").count() == 1


def test_a_repeated_call_of_a_drop_gets_the_first_answer_though_the_page_has_moved_on(
    challenge: Any, team: Any
) -> None:
    called(challenge, team)
    row = Submission.objects.filter(body__do="call").get()
    tablet = b.team_client(team)
    sent = entry(do="call", trial="2", attempt="1", call="yes")
    drop_first = entry(do="time", drop=str(load_team(challenge, team).teams[0].rounds[1].drops[0].row_id))
    send(tablet, TEST, {**drop_first, "time": "4.12", "mark": "opened"})
    first, again = send(tablet, TEST, sent), send(tablet, TEST, sent)

    assert first.json() == again.json() == {"outcome": "saved", "answer": TEST, "reason": ""}
    assert row.outcome == "saved"


def test_the_same_id_with_another_body_is_refused_and_kept(tablet: Client) -> None:
    sent = entry(purpose="It must fall slowly.")
    send(tablet, PURPOSE, sent)
    other = send(tablet, PURPOSE, {**sent, "purpose": "Fast!"})
    send(tablet, PURPOSE, {**sent, "purpose": "Fast!"})

    assert other.json()["outcome"] == "refused"
    assert "something else in it" in other.json()["reason"]
    kept = Submission.objects.get(outcome="refused")
    assert kept.body["purpose"] == "Fast!"
    assert Note.objects.get(prompt="purpose").text == "It must fall slowly."


def test_what_must_be_mended_is_refused_with_its_words_and_not_kept(tablet: Client) -> None:
    answer = send(tablet, PURPOSE, entry(purpose=" "))

    assert answer.json()["outcome"] == "refused"
    assert answer.json()["reason"]
    assert not Submission.objects.filter(outcome="refused").exists()


def test_the_later_of_two_tablets_hears_of_a_conflict_again_and_again(challenge: Any, team: Any) -> None:
    tablets = [b.team_client(team), b.team_client(team)]
    tablets[0].post("/team/1/start/")
    send(tablets[0], PURPOSE, entry(purpose="Slowly.", seen_purpose="0"))
    late = entry(purpose="Very slowly.", seen_purpose="0")
    answers = [send(tablets[1], PURPOSE, late).json() for _ in range(2)]

    assert answers[0] == answers[1]
    assert answers[0]["outcome"] == "conflict"
    assert Note.objects.get(prompt="purpose").text == "Slowly."
    assert Submission.objects.get(outcome="conflict").body["purpose"] == "Very slowly."


def test_an_entry_without_a_number_of_its_own_is_not_taken(tablet: Client) -> None:
    answer = send(tablet, PURPOSE, {"purpose": "Slowly."})
    assert answer.status_code == 400
    assert not Note.objects.filter(prompt="purpose").exists()


def test_an_entry_of_another_installation_is_kept_and_changes_nothing(tablet: Client) -> None:
    answer = send(tablet, PURPOSE, entry(purpose="Slowly.", installation=str(uuid.uuid4())))

    assert answer.json()["outcome"] == "refused"
    assert not Note.objects.filter(prompt="purpose").exists()
    assert Submission.objects.get(outcome="refused").body["purpose"] == "Slowly."


def test_an_entry_of_another_team_waits_for_that_team(tablet: Client, team: Any) -> None:
    answer = send(tablet, PURPOSE, entry(purpose="Slowly.", sender=f"team-{team.pk + 1}"))

    assert answer.status_code == 409
    assert "another team" in answer.json()["reason"]
    assert not Note.objects.exists()
    own = send(tablet, PURPOSE, entry(purpose="Slowly.", sender=f"team-{team.pk}"))
    assert own.json()["outcome"] == "saved"


def test_a_signed_out_tablet_keeps_its_entry(tablet: Client) -> None:
    Device.objects.update(revoked_at=timezone.now())
    answer = send(tablet, PURPOSE, entry(purpose="Slowly."))

    assert answer.status_code == 401
    assert "Join your team again" in answer.json()["reason"]
    assert not Note.objects.exists()


def test_an_entry_of_a_team_that_is_gone_is_kept_for_the_teacher(tablet: Client, team: Any) -> None:
    team.retired_at = timezone.now()
    team.save(update_fields=["retired_at"])
    answer = send(tablet, PURPOSE, entry(purpose="Slowly."))

    assert answer.json()["outcome"] == "refused"
    assert Submission.objects.get(outcome="refused").body["purpose"] == "Slowly."


def test_paused_tablets_keep_their_entries(tablet: Client, challenge: Any) -> None:
    challenge.paused_at = timezone.now()
    challenge.save(update_fields=["paused_at"])
    answer = send(tablet, PURPOSE, entry(purpose="Slowly."))

    assert answer.status_code == 423
    assert "paused" in answer.json()["reason"]


def test_a_time_that_was_on_its_way_is_taken_though_the_tablets_are_paused(challenge: Any, team: Any) -> None:
    drop = called(challenge, team)
    challenge.paused_at = timezone.now()
    challenge.save(update_fields=["paused_at"])
    sent = entry(do="time", drop=str(drop), time="4.12", mark="opened")
    answer = send(b.team_client(team), TEST, sent)

    assert answer.json()["outcome"] == "saved"
    assert Reading.objects.get().hundredths == 412


def test_a_plain_form_is_still_told_that_the_tablets_are_paused(challenge: Any, team: Any) -> None:
    drop = called(challenge, team)
    challenge.paused_at = timezone.now()
    challenge.save(update_fields=["paused_at"])
    answer = b.team_client(team).post(TEST, {"do": "time", "drop": drop, "time": "4.12", "mark": "opened"})

    assert answer.status_code == 422
    assert "kept" in answer.content.decode()
    assert not Reading.objects.exists()


def test_a_time_for_a_drop_that_is_not_there_is_kept(challenge: Any, team: Any) -> None:
    called(challenge, team)
    sent = entry(do="time", drop="999999", time="4.12", mark="opened")
    answers = [send(b.team_client(team), TEST, sent).json() for _ in range(2)]

    assert answers[0] == answers[1]
    assert (answers[0]["outcome"], answers[0]["answer"]) == ("refused", TEST)
    assert Submission.objects.get(outcome="refused").body["time"] == "4.12"
    reading = Reading.objects.get()
    assert (reading.hundredths, reading.drop, reading.team, reading.unplaced) == (412, None, team, "trial")


def test_a_time_of_a_team_that_is_gone_goes_to_the_unplaced_readings(challenge: Any, team: Any) -> None:
    drop, tablet = called(challenge, team), b.team_client(team)
    team.retired_at = timezone.now()
    team.save(update_fields=["retired_at"])
    answer = send(tablet, TEST, entry(do="time", drop=str(drop), time="4.12", mark="opened"))

    assert answer.json()["outcome"] == "refused"
    reading = Reading.objects.get()
    assert (reading.hundredths, reading.drop, reading.team, reading.unplaced) == (412, None, team, "team")


def test_a_time_of_another_installation_goes_to_the_unplaced_readings(challenge: Any, team: Any) -> None:
    drop = called(challenge, team)
    sent = entry(do="time", drop=str(drop), time="4.12", mark="opened", installation=str(uuid.uuid4()))
    answers = [send(b.team_client(team), TEST, sent).json() for _ in range(2)]

    assert answers[0]["outcome"] == answers[1]["outcome"] == "refused"
    reading = Reading.objects.get()
    assert (reading.hundredths, reading.drop, reading.unplaced) == (412, None, "foreign")


def test_a_call_for_help_sent_twice_is_one_call(tablet: Client) -> None:
    sent = entry(asked="yes", next="/team/1/plan/purpose/")
    answers = [send(tablet, "/team/help/", sent).json() for _ in range(2)]

    assert answers[0] == answers[1] == {"outcome": "saved", "answer": PURPOSE, "reason": ""}
    assert HelpCall.objects.count() == 1


def test_passing_the_jobs_on_twice_by_one_entry_passes_them_once(tablet: Client, team: Any) -> None:
    sent = entry(next=PURPOSE)
    for _ in range(2):
        assert send(tablet, "/team/jobs/", sent).json()["outcome"] == "saved"
    assert team.iterations.get().job_turn == 1


def test_a_sum_sent_for_htmx_brings_its_page_along(challenge: Any) -> None:
    own = b.make_challenge(b.make_class(1))
    team = own.classroom.teams.get()
    b.plan_round(own, team)
    b.clear_round(own, team)
    b.build_round(own, team)
    b.drop_round(own, team)
    step = b.record_of(own, team).rounding_steps[1]
    fields = entry(sum=step.slug, answer="4.1")
    headers = {"X-Entry": "1", "HX-Request": "true"}
    answer = b.team_client(team).post(TEST, fields, headers=headers).json()
    again = b.team_client(team).post(TEST, fields, headers=headers).json()

    assert answer["outcome"] == "saved"
    assert 'id="sums"' in answer["page"]
    assert (again["outcome"], again["answer"]) == ("saved", answer["answer"])


def test_an_outbox_is_told_for_whom_it_may_send(tablet: Client, team: Any) -> None:
    told = tablet.get("/entries/").json()
    assert told["senders"] == [f"team-{team.pk}"]
    assert told["installation"] == str(installation_id())
    assert told["token"]
    assert Client().get("/entries/").json()["senders"] == []


def test_an_entry_needs_its_token(team: Any) -> None:
    strict = Client(enforce_csrf_checks=True)
    strict.cookies = b.team_client(team).cookies
    strict.get("/entries/")
    answer = send(strict, PURPOSE, entry(purpose="Slowly."))
    assert answer.status_code == 403
    assert answer.json()["reason"]

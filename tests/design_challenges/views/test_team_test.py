"""The Test page: calls, times, roundings, two tablets at one drop, and what happens when it broke."""

from __future__ import annotations

import re
import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from classroom.models import Team
from design_challenges.models import ClassChallenge, Drop, Reading, Submission
from design_challenges.services import saving
from design_challenges.services.drop_order import find_turn
from design_challenges.services.progress import next_step
from design_challenges.steps import Step
from tests import builders

pytestmark = pytest.mark.django_db

URL = "/team/1/test/"


@pytest.fixture
def challenge() -> ClassChallenge:
    return builders.make_challenge(builders.make_class(teams=2))


@pytest.fixture
def team(challenge: ClassChallenge) -> Team:
    return challenge.classroom.teams.first()


@pytest.fixture
def tablet(challenge: ClassChallenge, team: Team) -> Client:
    return ready_to_drop(challenge, team)


def ready_to_drop(challenge: ClassChallenge, team: Team) -> Client:
    builders.plan_round(challenge, team)
    builders.clear_round(challenge, team)
    builders.build_round(challenge, team)
    return builders.team_client(team)


def send(tablet: Client, **fields: Any) -> Any:
    fields.setdefault("entry_id", str(uuid.uuid4()))
    return tablet.post(URL, fields)


def call(tablet: Client, answer: str, trial: int = 1, attempt: int = 1) -> Any:
    return send(tablet, do="call", trial=trial, attempt=attempt, call=answer)


def waiting_drop(tablet: Client) -> str:
    found = re.search(r'name="drop" value="(\d+)"', tablet.get(f"{URL}?next=drop").content.decode())
    assert found, "The page asks for no time."
    return found[1]


def time(tablet: Client, typed: str, *, drop: str = "", mark: str = "opened", **more: Any) -> Any:
    return send(tablet, do="time", drop=drop or waiting_drop(tablet), time=typed, mark=mark, **more)


def drop_once(tablet: Client, trial: int, typed: str, *, attempt: int = 1, mark: str = "opened") -> None:
    assert call(tablet, "yes", trial, attempt).status_code == 302
    assert time(tablet, typed, mark=mark).status_code == 302


def answer(tablet: Client, challenge: Any, team: Any, trial: int, typed: str) -> Any:
    record = builders.record_of(challenge, team)
    step = record.rounding_steps[trial]
    return send(tablet, sum=step.slug, answer=typed, basis=record.basis(step), seen=0)


def text(response: Any) -> str:
    words = re.sub(r"<[^>]+>", " ", response.content.decode())
    return " ".join(words.replace("\N{NO-BREAK SPACE}", " ").split())


def page(tablet: Client, query: str = "") -> str:
    return text(tablet.get(URL + query))


def error_of(response: Any, name: str) -> str:
    return str(response.context["form"].errors[name][0])


def record_of(challenge: Any, team: Any) -> Any:
    return builders.record_of(challenge, team)


# --- the call ------------------------------------------------------------------------------------


def test_the_first_drop_comes_with_its_cautions(tablet: Client) -> None:
    words = page(tablet)
    assert "Drop 1 of 3" in words
    assert "Your teacher says who drops, and from where." in words
    assert "Feet stay on the floor" in words
    assert "Do not look at the time yet" in words
    assert "What does the stopwatch show" not in words


def test_the_time_is_asked_for_only_after_the_call(tablet: Client, challenge: Any, team: Any) -> None:
    call(tablet, "yes")
    words = page(tablet)
    assert "What does the stopwatch show" in words
    assert "hit a wall" not in words
    record = record_of(challenge, team)
    assert (record.next_trial, len(record.counting)) == (1, 0)


def test_a_call_must_be_made(tablet: Client) -> None:
    response = call(tablet, "")
    assert response.status_code == 422
    assert "Tap one of the answers" in error_of(response, "call")
    assert not Drop.objects.exists()


@pytest.mark.parametrize("reason", ["timing", "hit", "release"])
def test_a_drop_is_void_for_a_reason_and_dropped_again(
    tablet: Client, challenge: Any, team: Any, reason: str
) -> None:
    call(tablet, reason)
    record = record_of(challenge, team)
    assert [(drop.mark, drop.counts) for drop in record.drops] == [(reason, False)]
    assert (find_turn(record).screen, find_turn(record).trial, find_turn(record).attempt) == ("call", 1, 2)
    words = page(tablet)
    assert "once more" in words
    assert str(record.drops[0].mark_label) in words


@pytest.mark.parametrize("reason", ["not_open", "tangled", "teacher", "rebuilt", "second", "nonsense"])
def test_no_other_reason_voids_a_drop(tablet: Client, reason: str) -> None:
    assert call(tablet, reason).status_code == 422
    assert not Drop.objects.exists()


def test_after_the_call_a_team_cannot_void_the_drop(tablet: Client, challenge: Any, team: Any) -> None:
    call(tablet, "yes")
    for _moment in ("before the time is in", "after it is in"):
        call(tablet, "timing")
        words = page(tablet)
        assert "Drop 1 was called before: it counts." in words
        assert "ask your teacher" in words
        assert all(drop.counts for drop in record_of(challenge, team).drops)
        if not Reading.objects.exists():
            time(tablet, "4.12")
    assert record_of(challenge, team).counting[0].reading.hundredths == 412


def test_a_third_void_needs_the_teacher(tablet: Client, challenge: Any, team: Any) -> None:
    call(tablet, "timing", 1, 1)
    call(tablet, "hit", 1, 2)
    words = page(tablet)
    assert "For one more, ask your teacher" in words
    assert "let go wrongly" not in words
    response = call(tablet, "release", 1, 3)
    assert response.status_code == 422
    assert "ask your teacher" in error_of(response, "call")
    assert record_of(challenge, team).voids == 2
    assert len(record_of(challenge, team).drops) == 2
    assert call(tablet, "yes", 1, 3).status_code == 302


def test_a_call_sent_twice_counts_once(tablet: Client, challenge: Any, team: Any) -> None:
    fields = {"entry_id": str(uuid.uuid4()), "do": "call", "trial": 1, "attempt": 1, "call": "hit"}
    tablet.post(URL, fields)
    tablet.post(URL, fields)
    call(builders.team_client(team), "hit", 1, 1)  # another tablet says the same of the same drop
    assert record_of(challenge, team).voids == 1
    assert len(record_of(challenge, team).drops) == 1


def test_the_later_of_two_calls_is_told_what_was_said_first(
    tablet: Client, challenge: Any, team: Any
) -> None:
    call(builders.team_client(team), "hit")
    call(tablet, "yes")
    assert "Drop 1 was called before: hit a wall or a person. That stands." in page(tablet)
    assert len(record_of(challenge, team).drops) == 1


def test_a_drop_out_of_turn_changes_nothing(tablet: Client) -> None:
    assert call(tablet, "yes", trial=3).status_code == 302
    assert call(tablet, "yes", trial=1, attempt=7).status_code == 302
    assert not Drop.objects.exists()


# --- the time ------------------------------------------------------------------------------------


@pytest.mark.parametrize(("typed", "hundredths"), [("4.62", 462), ("4.6", 460), ("4,6", 460), ("1,5", 150)])
def test_a_reading_is_kept_as_the_stopwatch_showed_it(
    tablet: Client, challenge: Any, team: Any, typed: str, hundredths: int
) -> None:
    drop_once(tablet, 1, typed)
    assert record_of(challenge, team).trials[1].reading.hundredths == hundredths
    assert f"{Decimal(hundredths) / 100:.2f}" in page(tablet)


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("", "Type the time"),
        ("fast", "No letters"),
        ("0", "That is 0"),
        ("-4.12", "no minus"),
        ("4.625", "two digits"),
        ("0:04", "0.04 seconds, or 4 seconds"),
        ("0.04", "round that to 0"),
        ("1000", "Is the point missing"),
        ("9" * 60, "too long"),
    ],
)
def test_a_time_that_cannot_be_is_refused_and_stays_in_its_box(
    tablet: Client, typed: str, words: str
) -> None:
    call(tablet, "yes")
    response = time(tablet, typed)
    assert response.status_code == 422
    assert words in error_of(response, "time")
    assert response.context["form"]["time"].value() == typed
    assert 'href="#id_time"' in response.content.decode()
    assert not Reading.objects.exists()


@pytest.mark.parametrize(("typed", "words"), [("0.5", "about 1.0 s here"), ("412", "more than a minute")])
def test_an_unlikely_time_is_asked_about_and_taken_when_confirmed(
    tablet: Client, challenge: Any, team: Any, typed: str, words: str
) -> None:
    call(tablet, "yes")
    response = time(tablet, typed)
    assert response.status_code == 422
    assert words in error_of(response, "time")
    assert f'name="asked" value="{typed}"' in response.content.decode()
    assert not Reading.objects.exists()
    assert time(tablet, typed, asked=typed, sure="on").status_code == 302
    reading = Reading.objects.get()
    assert (Decimal(reading.hundredths) / 100, reading.confirmed) == (Decimal(typed), True)


def test_a_confirmation_holds_for_that_very_time_alone(tablet: Client) -> None:
    call(tablet, "yes")
    time(tablet, "0.5")
    assert time(tablet, "0.4", asked="0.5", sure="on").status_code == 422
    assert time(tablet, "0.5", asked="0.5").status_code == 422
    assert not Reading.objects.exists()


def test_a_likely_time_is_not_marked_as_confirmed(tablet: Client) -> None:
    drop_once(tablet, 1, "4.12")
    assert not Reading.objects.get().confirmed


@pytest.mark.parametrize("mark", ["not_open", "tangled"])
def test_what_did_not_open_or_tangled_counts_and_is_marked(
    tablet: Client, challenge: Any, team: Any, mark: str
) -> None:
    drop_once(tablet, 1, "1.50", mark=mark)
    record = record_of(challenge, team)
    assert len(record.counting) == 1
    assert record.counting[0].mark == mark
    assert record.opened_count == 0
    assert record.voids == 0
    assert f"Yes: {record.counting[0].mark_label}" in page(tablet)


def test_a_time_sent_twice_counts_once(tablet: Client) -> None:
    call(tablet, "yes")
    fields = {
        "entry_id": str(uuid.uuid4()),
        "do": "time",
        "drop": waiting_drop(tablet),
        "time": "4.1",
        "mark": "opened",
    }
    assert tablet.post(URL, fields).headers["Location"] == tablet.post(URL, fields).headers["Location"]
    assert Reading.objects.count() == 1


def test_a_sent_form_that_is_changed_and_sent_again_is_not_lost_in_silence(
    tablet: Client, challenge: Any, team: Any
) -> None:
    call(tablet, "yes")
    drop, entry = waiting_drop(tablet), str(uuid.uuid4())
    time(tablet, "4.12", drop=drop, entry_id=entry)
    response = time(tablet, "4.21", drop=drop, entry_id=entry)  # the browser's way back, and another time
    assert response.status_code == 422
    assert "This form was sent before" in text(response)
    assert response.context["form"]["time"].value() == "4.21"
    assert str(response.context["entry_id"]) != entry
    assert record_of(challenge, team).trials[1].reading.hundredths == 412
    later = time(tablet, "4.21", drop=drop)
    assert "Which one did the stopwatch show?" in text(tablet.get(later.headers["Location"]))


def test_a_sent_call_that_is_changed_and_sent_again_changes_nothing(tablet: Client) -> None:
    entry = str(uuid.uuid4())
    send(tablet, do="call", trial=1, attempt=1, call="", entry_id=entry)
    send(tablet, do="call", trial=1, attempt=1, call="hit", entry_id=entry)
    response = send(tablet, do="call", trial=1, attempt=2, call="yes", entry_id=entry)
    assert response.status_code == 422
    assert "This form was sent before" in text(response)
    assert Drop.objects.count() == 1


def test_a_time_for_an_unknown_drop_changes_nothing(tablet: Client, challenge: Any) -> None:
    other = challenge.classroom.teams.last()
    ready_to_drop(challenge, other)
    theirs = builders.team_client(other)
    call(theirs, "yes")
    assert time(tablet, "4.12", drop=waiting_drop(theirs)).status_code == 302
    assert not Reading.objects.exists()


# --- two tablets ---------------------------------------------------------------------------------


def two_times(tablet: Client, team: Any, *, mark: str = "opened") -> Any:
    """Another tablet saves 4.12 for drop 1, then this one saves 4.21."""
    call(tablet, "yes")
    drop = waiting_drop(tablet)
    assert time(builders.team_client(team), "4.12", drop=drop).status_code == 302
    return time(tablet, "4.21", drop=drop, mark=mark)


def test_the_later_of_two_tablets_is_shown_both_times(tablet: Client, challenge: Any, team: Any) -> None:
    response = two_times(tablet, team)
    words = text(tablet.get(response.headers["Location"]))
    assert "Another tablet of your team saved a time first" in words
    assert "4.12" in words
    assert "4.21" in words
    record = record_of(challenge, team)
    assert record.trials[1].reading.hundredths == 412
    assert [reading.hundredths for reading in record.trials[1].readings] == [412, 421]
    assert "another tablet typed 4.21" in page(tablet, "?next=drop")
    late = record.trials[1].readings[1].row_id
    assert f'href="{URL}?second={late}"' in tablet.get(URL).content.decode()


@pytest.mark.parametrize(("choice", "stands"), [(0, 412), (1, 421)])
def test_it_chooses_which_time_stands_and_both_are_kept(
    tablet: Client, challenge: Any, team: Any, choice: int, stands: int
) -> None:
    two_times(tablet, team)
    first, late = Reading.objects.order_by("pk")
    response = send(tablet, do="settle", second=late.pk, reading=(first, late)[choice].pk, mark="")
    assert response.status_code == 302
    record = record_of(challenge, team)
    assert record.trials[1].reading.hundredths == stands
    assert len(record.trials[1].readings) == 2


def test_a_choice_must_be_made_between_these_two(tablet: Client, team: Any, challenge: Any) -> None:
    two_times(tablet, team)
    late = Reading.objects.latest("pk")
    response = send(tablet, do="settle", second=late.pk, mark="")
    assert response.status_code == 422
    assert "Tap the time that the stopwatch showed" in text(response)
    assert send(tablet, do="settle", second=late.pk, reading=999_999).status_code == 422
    assert record_of(challenge, team).trials[1].reading.hundredths == 412


def test_the_later_tablets_mark_comes_only_with_its_time(tablet: Client, challenge: Any, team: Any) -> None:
    response = two_times(tablet, team, mark="tangled")
    assert record_of(challenge, team).trials[1].mark == ""
    assert "mark=tangled" in response.headers["Location"]
    late = Reading.objects.latest("pk")
    send(tablet, do="settle", second=late.pk, reading=late.pk, mark="tangled")
    assert record_of(challenge, team).trials[1].mark == "tangled"


def test_the_same_time_from_two_tablets_is_one_reading(tablet: Client, team: Any) -> None:
    call(tablet, "yes")
    drop = waiting_drop(tablet)
    time(builders.team_client(team), "4.12", drop=drop)
    assert time(tablet, "4.12", drop=drop).headers["Location"] == URL
    assert Reading.objects.count() == 1


def test_the_same_time_with_another_word_on_how_it_came_down_is_told(
    tablet: Client, challenge: Any, team: Any
) -> None:
    call(tablet, "yes")
    drop = waiting_drop(tablet)
    time(builders.team_client(team), "4.12", drop=drop)
    time(tablet, "4.12", drop=drop, mark="tangled")
    assert "Another tablet saved this time first: It opened. That stands." in page(tablet)
    assert record_of(challenge, team).trials[1].mark == ""


def test_a_time_for_a_drop_the_teacher_has_voided_is_kept_on_it(
    tablet: Client, challenge: Any, team: Any
) -> None:
    call(tablet, "yes")
    drop = waiting_drop(tablet)
    row = Drop.objects.get(pk=drop)
    builders.enter(
        challenge, lambda author: saving.judge_drop(row, False, "teacher", author, note="a draught")
    )
    time(tablet, "4.12", drop=drop, mark="tangled")
    record = record_of(challenge, team)
    assert [reading.hundredths for reading in record.drops[0].readings] == [412]
    assert (record.counting, record.next_trial) == ([], 1)
    assert "No: a draught" in page(tablet)


# --- the rounding --------------------------------------------------------------------------------


def test_the_team_rounds_its_own_time_before_the_next_drop(tablet: Client, challenge: Any, team: Any) -> None:
    drop_once(tablet, 1, "4.15")
    assert "round the time" in page(tablet)
    response = answer(tablet, challenge, team, 1, "4.1")
    assert response.status_code == 302
    words = page(tablet)
    assert "not yet" in words.lower()
    assert "wrong" not in words.lower()
    answer(tablet, challenge, team, 1, "4.2")
    assert "Drop 2 of 3" in page(tablet)
    record = record_of(challenge, team)
    assert record.working(record.rounding_steps[1]).accepted == Decimal("4.2")


def test_a_team_may_drop_first_and_round_later(tablet: Client, challenge: Any, team: Any) -> None:
    drop_once(tablet, 1, "4.15")
    assert "Drop 2 of 3" in page(tablet, "?next=drop")
    drop_once(tablet, 2, "4.02")
    drop_once(tablet, 3, "3.96")
    assert "Drop 1 of 3: round the time" in page(tablet, "?next=drop")
    for trial, typed in enumerate(("4.2", "4.0", "4.0"), start=1):
        answer(tablet, challenge, team, trial, typed)
    assert "On to Results" in page(tablet)


def test_software_that_does_the_sums_asks_for_no_rounding(challenge: Any) -> None:
    classroom = builders.make_class(teams=1)
    challenge = builders.make_challenge(classroom, sums_by="software")
    team = classroom.teams.get()
    tablet = ready_to_drop(challenge, team)
    drop_once(tablet, 1, "4.15")
    words = page(tablet)
    assert "Drop 2 of 3" in words
    assert "4.15 4.2 Yes" in words


def test_a_void_drop_in_the_middle_leaves_later_roundings_alone(
    tablet: Client, challenge: Any, team: Any
) -> None:
    for trial, typed in enumerate(("4.15", "4.02", "3.96"), start=1):
        drop_once(tablet, trial, typed)
        answer(tablet, challenge, team, trial, {1: "4.2", 2: "4.0", 3: "4.0"}[trial])
    row = Drop.objects.get(trial=2)
    builders.enter(challenge, lambda author: saving.judge_drop(row, False, "hit", author))
    record = record_of(challenge, team)
    assert record.working(record.rounding_steps[3]).accepted == Decimal("4.0")
    assert find_turn(record).screen == "call"
    assert (find_turn(record).trial, find_turn(record).attempt) == (2, 2)
    drop_once(tablet, 2, "4.44", attempt=2)
    answer(tablet, challenge, team, 2, "4.4")
    record = record_of(challenge, team)
    assert [record.working(step).accepted for step in record.rounding_steps.values()] == [
        Decimal("4.2"),
        Decimal("4.4"),
        Decimal("4.0"),
    ]


# --- it broke ------------------------------------------------------------------------------------


def broke(tablet: Client, outcome: str) -> Any:
    return tablet.post(f"{URL}broke/", {"entry_id": str(uuid.uuid4()), "outcome": outcome})


def test_mended_with_the_same_sizes_the_team_goes_on(tablet: Client, challenge: Any, team: Any) -> None:
    drop_once(tablet, 1, "4.15")
    assert broke(tablet, "same").headers["Location"] == URL
    record = record_of(challenge, team)
    assert (len(record.counting), record.next_trial) == (1, 2)


def test_mended_with_new_sizes_it_is_measured_and_dropped_again(
    tablet: Client, challenge: Any, team: Any
) -> None:
    drop_once(tablet, 1, "4.15")
    assert broke(tablet, "new").headers["Location"] == "/team/1/build/"
    record = record_of(challenge, team)
    assert next_step(record) is Step.BUILD
    assert [(drop.counts, drop.mark) for drop in record.drops] == [(False, "rebuilt")]
    assert record.drops[0].reading.hundredths == 415
    builders.build_round(challenge, team, across=("12", "12"))
    words = page(tablet)
    assert "Drop 1 of 3" in words
    assert "mended with new sizes" in words
    drop_once(tablet, 1, "3.80", attempt=2)
    assert record_of(challenge, team).counting[0].reading.hundredths == 380


def test_what_cannot_be_mended_uses_the_drops_that_count(tablet: Client, challenge: Any, team: Any) -> None:
    drop_once(tablet, 1, "4.15")
    drop_once(tablet, 2, "4.05")
    assert broke(tablet, "no_more").headers["Location"] == "/team/1/results/"
    record = record_of(challenge, team)
    assert record.trials_complete
    assert record.trials_expected == 2
    # 4.2 and 4.1 (half-up from 4.05): (4.2 + 4.1) ÷ 2 = 4.15 → 4.2
    assert record.results.average_time_s == Decimal("4.2")
    for trial, typed in ((1, "4.2"), (2, "4.1")):
        answer(tablet, challenge, team, trial, typed)
    assert "We mended it after all" in page(tablet)
    assert tablet.get("/team/1/results/").status_code == 200


def test_without_a_drop_that_counts_it_cannot_end_there(tablet: Client, challenge: Any, team: Any) -> None:
    call(tablet, "hit")
    response = tablet.get(f"{URL}broke/")
    assert "ask your teacher" in text(response)
    assert "We use the drops we have" not in text(response)
    assert broke(tablet, "no_more").status_code == 422
    assert "broke" not in record_of(challenge, team).notes


def test_one_of_the_answers_must_be_tapped(tablet: Client) -> None:
    response = broke(tablet, "")
    assert response.status_code == 422
    assert "Tap one of the answers" in error_of(response, "outcome")


# --- the door ------------------------------------------------------------------------------------


def test_a_closed_step_takes_no_reading_and_loses_none(tablet: Client, challenge: Any, team: Any) -> None:
    call(tablet, "yes")
    drop = waiting_drop(tablet)
    challenge.gates.create(round=1, step="test", open=False)
    response = time(tablet, "4.12", drop=drop)
    assert response.status_code == 422
    assert "4.12" in response.content.decode()
    assert not Reading.objects.exists()
    challenge.gates.all().delete()
    assert tablet.get(URL).context["form"]["time"].value() == "4.12"


def test_a_choice_between_two_times_by_a_signed_out_tablet_comes_back(tablet: Client, team: Any) -> None:
    two_times(tablet, team)
    device = team.devices.order_by("pk").first()
    device.revoked_at = device.made_at
    device.save()
    late = Reading.objects.latest("pk")
    send(tablet, do="settle", second=late.pk, reading=late.pk, mark="")
    device.revoked_at = None
    device.save()
    page = tablet.get(URL).content.decode()
    assert f'name="reading" value="{late.pk}" checked' in page


def test_a_time_typed_by_a_signed_out_tablet_comes_back(tablet: Client, team: Any) -> None:
    call(tablet, "yes")
    drop = waiting_drop(tablet)
    device = team.devices.order_by("pk").first()
    device.revoked_at = device.made_at
    device.save()
    time(tablet, "4.12", drop=drop)
    assert not Reading.objects.exists()
    device.revoked_at = None
    device.save()
    response = tablet.get(URL)
    assert response.context["form"]["time"].value() == "4.12"
    assert "We kept what you typed" in text(response)


def test_every_entry_is_kept_as_it_was_sent(tablet: Client) -> None:
    drop_once(tablet, 1, "4,6")
    bodies = [row.body for row in Submission.objects.all() if row.body.get("do") == "time"]
    assert [body["time"] for body in bodies] == ["4,6"]


def test_every_entry_raises_the_revision(tablet: Client, challenge: Any) -> None:
    challenge.revision.refresh_from_db()
    before = challenge.revision.number
    call(tablet, "yes")
    time(tablet, "4.12")
    challenge.revision.refresh_from_db()
    assert challenge.revision.number == before + 2


@pytest.mark.parametrize("teams", [8, 40])
def test_every_screen_takes_no_more_than_12_queries(teams: int, django_assert_max_num_queries: Any) -> None:
    challenge = builders.make_challenge(builders.make_class(teams=teams))
    team = challenge.classroom.teams.first()
    tablet = ready_to_drop(challenge, team)
    for screen in ("call", "time", "round", "done"):
        with django_assert_max_num_queries(12):
            response = tablet.get(URL)
        assert response.context["turn"].screen == screen
        if screen == "call":
            call(tablet, "yes")
        elif screen == "time":
            time(tablet, "4.12")
        else:
            builders.drop_round(challenge, team)
            for step in record_of(challenge, team).rounding_steps.values():
                builders.answer_right(challenge, team, 1, step)
    with django_assert_max_num_queries(12):
        assert tablet.get(f"{URL}broke/").status_code == 200


def test_a_time_unlike_the_others_asks_whether_it_opened(tablet: Client) -> None:
    drop_once(tablet, 1, "4.12")
    tablet.get("/team/1/test/?next=drop")
    call(tablet, "yes", trial=2)
    response = time(tablet, "1.95")
    assert response.status_code == 422
    assert "Did it open?" in error_of(response, "time")
    assert time(tablet, "1.95", asked="1.95", sure="on").status_code == 302
    assert Reading.objects.get(hundredths=195).confirmed is True


def test_who_says_that_it_did_not_open_is_not_asked_whether_it_did(tablet: Client) -> None:
    drop_once(tablet, 1, "4.12")
    tablet.get("/team/1/test/?next=drop")
    call(tablet, "yes", trial=2)
    assert time(tablet, "1.95", mark="not_open").status_code == 302
    assert Reading.objects.get(hundredths=195).confirmed is False

"""A timing station's entries: placed where they fit, unplaced where they do not, and never lost."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from classroom.access import STATION_COOKIE
from classroom.models import Device, StationPass, Team
from design_challenges.models import Drop, QueueMove, Reading, ReferenceDrop, Submission
from design_challenges.services import saving, station_state
from design_challenges.services.lessons import start_lesson
from tests import builders
from tests.support import site
from tests.support.station_phone import Station, drops, make_built_class, unplaced

pytestmark = pytest.mark.django_db


@pytest.fixture
def challenge() -> Any:
    return make_built_class()


@pytest.fixture
def team(challenge: Any) -> Team:
    found: Team = challenge.classroom.teams.order_by("place").first()
    return found


@pytest.fixture
def station(challenge: Any) -> Station:
    return Station(challenge)


# --- a time finds its drop ------------------------------------------------------------------------


def test_a_time_goes_to_the_drop_that_the_phone_proposes(
    challenge: Any, team: Team, station: Station
) -> None:
    answer = station.time(team, 1, 412)
    assert answer["outcome"] == "saved"
    assert drops(challenge, team) == [(1, 1, 412, True, "")]
    row = Reading.objects.get()
    assert (row.source, row.watch, row.submission.counter) == ("station", 1, 1)
    assert str(row.submission.entry_id) == answer["id"]


def test_the_same_entry_sent_again_counts_once_and_gets_the_first_answer(
    challenge: Any, team: Team, station: Station
) -> None:
    first = station.time(team)
    station.counter -= 1
    station.clock -= timedelta(seconds=40)
    again = station.time(team, entry_id=first["id"])
    assert again == first
    assert Reading.objects.count() == 1


def test_the_same_id_with_another_time_is_refused_and_kept(
    challenge: Any, team: Team, station: Station
) -> None:
    first = station.time(team, hundredths=400)
    assert station.time(team, hundredths=999, entry_id=first["id"])["outcome"] == "refused"
    assert drops(challenge, team) == [(1, 1, 400, True, "")]
    assert Submission.objects.filter(outcome="refused").get().body["hundredths"] == "999"


@pytest.mark.parametrize(("call", "counts"), [("not_open", True), ("tangled", True), ("hit", False)])
def test_how_a_drop_went_is_called_after_it_was_timed(
    challenge: Any, team: Team, station: Station, call: str, counts: bool
) -> None:
    timed = station.time(team)
    assert station.send(do="call", of=timed["id"], call=call)["outcome"] == "saved"
    assert drops(challenge, team) == [(1, 1, 400, counts, call)]
    if not counts:
        station.time(team, attempt=2, hundredths=377)
        assert drops(challenge, team)[1] == (1, 2, 377, True, "")


def test_a_good_call_changes_nothing_and_a_call_without_its_time_is_told_so(
    challenge: Any, team: Team, station: Station
) -> None:
    timed = station.time(team)
    station.send(do="call", of=timed["id"], call="yes")
    assert drops(challenge, team) == [(1, 1, 400, True, "")]
    assert station.send(do="call", of=str(uuid.uuid4()), call="hit")["outcome"] == "refused"


def test_further_stopwatches_count_together_and_a_fourth_is_kept_unplaced(
    challenge: Any, team: Team, station: Station
) -> None:
    timed = station.time(team, hundredths=400)
    station.send(do="watch", of=timed["id"], hundredths=411)
    assert drops(challenge, team) == [(1, 1, 406, True, "")]
    station.send(do="watch", of=timed["id"], hundredths=404)
    assert drops(challenge, team) == [(1, 1, 404, True, "")]
    assert station.send(do="watch", of=timed["id"], hundredths=500)["outcome"] == "refused"
    assert unplaced(challenge) == [(500, "station")]


def test_it_broke_takes_the_team_out_of_the_queue_until_it_has_measured(
    challenge: Any, team: Team, station: Station
) -> None:
    station.time(team)
    assert station.send(do="broke", team=team.pk, round=1, outcome="new")["outcome"] == "saved"
    assert drops(challenge, team) == [(1, 1, 400, False, "rebuilt")]
    state = station.client.get("/station/queue/").json()
    assert {one["id"]: one["state"] for one in state["teams"]}[team.pk] == "building"


def test_the_reference_device_is_kept_apart_from_the_teams(
    challenge: Any, team: Team, station: Station
) -> None:
    assert station.time(team, team="reference")["outcome"] == "refused"
    assert unplaced(challenge) == [(400, "lesson")]
    start_lesson(challenge.classroom, None)
    assert station.time(team, team="reference")["outcome"] == "saved"
    assert ReferenceDrop.objects.get().hundredths == 400
    assert station.client.get("/station/queue/").json()["reference"] == 1


# --- two stations, tablets, clocks ----------------------------------------------------------------


def test_a_second_station_on_the_same_fall_is_a_second_stopwatch(challenge: Any, team: Team) -> None:
    one, other = Station(challenge), Station(challenge)
    other.clock = datetime(2031, 7, 1, tzinfo=UTC)
    one.time(team, hundredths=400, waited=30)
    assert other.time(team, hundredths=410, waited=33)["outcome"] == "saved"
    assert drops(challenge, team) == [(1, 1, 405, True, "")]


def test_a_second_station_minutes_apart_timed_another_fall_and_is_kept_unplaced(
    challenge: Any, team: Team
) -> None:
    one, other = Station(challenge), Station(challenge)
    one.time(team, hundredths=400, waited=300)
    answer = other.time(team, hundredths=410)
    assert answer["outcome"] == "refused"
    assert "another station timed this drop" in answer["reason"]
    assert drops(challenge, team) == [(1, 1, 400, True, "")]
    assert unplaced(challenge) == [(410, "station")]


def test_a_drop_that_another_station_called_void_was_dropped_again(challenge: Any, team: Team) -> None:
    one, other = Station(challenge), Station(challenge)
    timed = one.time(team, hundredths=400, waited=300)
    one.send(do="call", of=timed["id"], call="hit", waited=290)
    other.time(team, hundredths=410)
    assert drops(challenge, team) == [(1, 1, 400, False, "hit"), (1, 2, 410, True, "")]


def test_a_slip_of_the_second_thumb_leaves_the_first_one_s_time(challenge: Any, team: Team) -> None:
    one, other = Station(challenge), Station(challenge)
    one.time(team, hundredths=400)
    second = other.time(team, hundredths=900)
    other.send(do="call", of=second["id"], call="timing")
    assert drops(challenge, team) == [(1, 1, 400, True, "")]


def test_a_time_that_the_team_typed_first_stands_and_the_station_s_is_set_aside(
    challenge: Any, team: Team, station: Station
) -> None:
    builders.drop_round(challenge, team, hundredths=(390,))
    assert station.time(team, hundredths=400)["outcome"] == "saved"
    assert drops(challenge, team) == [(1, 1, 390, True, "")]
    assert [row.hundredths for row in Drop.objects.get().readings.order_by("pk")] == [390, 400]


def test_a_fall_after_the_team_called_one_void_is_the_next_attempt(
    challenge: Any, team: Team, station: Station
) -> None:
    iteration = team.iterations.get()
    builders.enter(challenge, lambda author: saving.void_drop(iteration, 1, "hit", author))
    station.time(team, hundredths=350, waited=60)  # timed before the team said so: that very fall
    station.time(team, hundredths=400)
    assert drops(challenge, team) == [(1, 1, 350, False, "hit"), (1, 2, 400, True, "")]


def test_order_and_both_clocks_are_kept(challenge: Any, team: Team, station: Station) -> None:
    before = timezone.now()
    station.time(team, waited=3600)
    row = Submission.objects.exclude(counter=None).get()
    assert (row.counter, row.device_time) == (1, station.clock)
    assert abs(before - timedelta(hours=1) - row.taken_at) < timedelta(seconds=10)


# --- nothing refuses a time -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"team": 0}, "team"),
        ({"team": "nonsense"}, "team"),
        ({"round": 2}, "round"),
        ({"trial": 4}, "trial"),
        ({"trial": 0}, "trial"),
        ({"attempt": 0}, "trial"),
        ({"attempt": 99999}, "trial"),
        ({"hundredths": 60001}, "long"),
        ({"installation": "00000000-0000-4000-8000-000000000000"}, "foreign"),
        ({"challenge": "999999"}, "foreign"),
    ],
)
def test_a_time_that_fits_nowhere_is_kept_unplaced(
    challenge: Any, team: Team, station: Station, fields: dict[str, Any], why: str
) -> None:
    answer = station.time(team, **fields)
    assert answer["outcome"] == "refused"
    assert answer["reason"]
    assert unplaced(challenge) == [(fields.get("hundredths", 400), why)]
    assert drops(challenge, team) == []


def test_a_team_that_was_closed_meanwhile_keeps_its_time_unplaced(
    challenge: Any, team: Team, station: Station
) -> None:
    Team.objects.filter(pk=team.pk).update(retired_at=timezone.now())
    assert station.time(team)["outcome"] == "refused"
    assert unplaced(challenge) == [(400, "team")]


def test_a_withdrawn_station_hands_in_for_a_week_to_the_unplaced_and_opens_nothing(
    challenge: Any, team: Team, station: Station
) -> None:
    StationPass.objects.update(revoked_at=timezone.now())
    assert station.time(team)["outcome"] == "refused"
    assert unplaced(challenge) == [(400, "ended")]
    assert station.send(do="move", move="stop")["outcome"] == "refused"
    assert not QueueMove.objects.exists()
    assert "This station is over." in station.client.get("/station/").content.decode()
    StationPass.objects.update(revoked_at=timezone.now() - timedelta(days=7, minutes=1))
    late = station.client.post("/station/entry/", {"do": "reading", "station": station.ticket})
    assert late.status_code == 403
    assert station.client.get("/station/").status_code == 403


def test_what_was_timed_before_a_station_ran_out_is_placed_and_after_it_is_not(
    challenge: Any, team: Team, station: Station
) -> None:
    StationPass.objects.update(expires_at=timezone.now() - timedelta(minutes=10))
    assert station.time(team, 1, waited=3600)["outcome"] == "saved"
    assert station.time(team, 2, waited=60)["outcome"] == "refused"
    assert drops(challenge, team) == [(1, 1, 400, True, "")]
    assert unplaced(challenge) == [(400, "ended")]


def test_a_withdrawn_station_hands_in_only_so_much(
    challenge: Any, team: Team, station: Station, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("design_challenges.services.station_entries.MOST_AFTER_THE_END", 2)
    StationPass.objects.update(revoked_at=timezone.now())
    assert [station.time(team)["outcome"] for _ in range(3)] == ["refused"] * 3
    assert len(unplaced(challenge)) == 2


def test_a_phone_that_became_another_class_s_station_still_hands_in_for_the_first(
    challenge: Any, team: Team, station: Station
) -> None:
    other = builders.make_challenge(builders.make_class(1, name="Room 6"))
    station.client.cookies[STATION_COOKIE] = site.let_station_in(other.classroom)
    assert station.time(team)["outcome"] == "saved"
    assert drops(challenge, team) == [(1, 1, 400, True, "")]


def test_a_ticket_of_another_installation_is_the_phone_s_own_class_s_to_place(
    challenge: Any, team: Team, station: Station
) -> None:
    answer = station.time(team, station="MQ:forged", installation=str(uuid.uuid4()))
    assert answer["outcome"] == "refused"
    assert unplaced(challenge) == [(400, "foreign")]
    assert Reading.objects.get().team is None


def test_nobody_hands_in_without_a_ticket_or_a_station(challenge: Any, team: Team) -> None:
    answer = Client().post("/station/entry/", {"do": "reading", "hundredths": 400, "team": team.pk})
    assert answer.status_code == 403
    assert not Reading.objects.exists()


@pytest.mark.parametrize(
    "fields", [{"do": "reading"}, {"do": "reading", "hundredths": "-4"}, {"do": "dance"}, {"do": "watch"}, {}]
)
def test_an_entry_without_a_time_or_a_meaning_is_kept_and_told(
    station: Station, fields: dict[str, Any]
) -> None:
    answer = station.send(**fields)
    assert (answer["outcome"], bool(answer["reason"])) == ("refused", True)
    assert Submission.objects.filter(outcome="refused").count() == 1


# --- the page, the queue, without scripts ---------------------------------------------------------


def test_a_move_of_a_drop_that_no_column_can_hold_is_no_error(
    challenge: Any, team: Team, station: Station
) -> None:
    asked = {"do": "move", "move": "skip", "team": team.pk, "round": 10**12, "trial": 40_000}
    assert station.send(**asked)["outcome"] == "saved"
    assert QueueMove.objects.values_list("round", "trial").get(move="skip") == (0, 0)


def test_the_queue_answers_only_what_is_new(challenge: Any, team: Team, station: Station) -> None:
    state = station.client.get("/station/queue/").json()
    known = f"{state['revision']}-1"
    assert station.client.get(f"/station/queue/?revision={known}").status_code == 204
    timed = station.time(team)
    fresh = station.client.get(f"/station/queue/?revision={known}").json()
    assert timed["id"] in fresh["arrived"]
    StationPass.objects.update(revoked_at=timezone.now())
    assert station.client.get(f"/station/queue/?revision={fresh['revision']}-1").json()["live"] is False


def test_a_time_that_comes_in_while_the_queue_is_read_is_known_with_its_drop_or_not_at_all(
    challenge: Any, team: Team, station: Station, monkeypatch: pytest.MonkeyPatch
) -> None:
    load, came_in = station_state.load_station, []

    def load_slowly(challenge: Any) -> Any:
        state = load(challenge)
        if not came_in:
            came_in.append(station.time(team, 1, 412)["id"])
        return state

    monkeypatch.setattr(station_state, "load_station", load_slowly)
    state = station.client.get("/station/queue/?revision=").json()
    drops = next(one["drops"] for one in state["teams"] if one["id"] == team.pk)
    assert state["arrived"] == came_in
    assert [drop["hundredths"] for drop in drops] == [412]
    assert station.client.get(f"/station/queue/?revision={state['revision']}-1").status_code == 204


def test_a_typed_time_counts_without_scripts(challenge: Any, team: Team, station: Station) -> None:
    place = f"{team.pk}-1-1-1"
    page = station.client.get("/station/").content.decode()
    assert f'value="{place}"' in page
    sent = {"do": "typed", "place": place, "time": "4,12", "how": "not_open", "second": "4.20"}
    answer = station.client.post("/station/", {**sent, "entry_id": str(uuid.uuid4())}, follow=True)
    assert "Saved: Gannet, round 1, drop 1." in answer.content.decode()
    assert drops(challenge, team) == [(1, 1, 416, True, "not_open")]
    assert set(Reading.objects.values_list("source", flat=True)) == {"typed"}


def test_a_typed_time_that_cannot_be_read_is_asked_again_and_kept(
    challenge: Any, team: Team, station: Station
) -> None:
    sent = {"do": "typed", "place": f"{team.pk}-1-1-1", "time": "soon", "how": "yes"}
    answer = station.client.post("/station/", sent)
    assert answer.status_code == 422
    assert "Type just the number from the stopwatch" in answer.content.decode()
    assert 'value="soon"' in answer.content.decode()
    assert not Reading.objects.exists()


def test_the_team_s_tablet_has_the_station_s_time_to_round_and_hears_of_it() -> None:
    challenge = builders.make_challenge(builders.make_class(1))
    team = challenge.classroom.teams.get()
    for step in (builders.plan_round, builders.clear_round, builders.build_round):
        step(challenge, team)
    tablet = builders.team_client(team)
    page = tablet.get("/team/1/test/").content.decode()
    pulse = page.split('id="pulse" hx-get="')[1].split('"')[0].replace("&amp;", "&")
    Station(challenge).time(team, hundredths=412)
    assert (
        "The timing station has a time for you."
        in tablet.get(pulse, headers={"HX-Request": "true"}).content.decode()
    )
    assert "4.12" in tablet.get("/team/1/test/").content.decode()


def test_a_tablet_hears_that_it_is_next_but_one(challenge: Any, team: Team) -> None:
    third = Team.objects.create(classroom=challenge.classroom, name="Plover", place=3)
    for step in (builders.plan_round, builders.clear_round, builders.build_round):
        step(challenge, third)
    tablet = builders.team_client(third)
    assert "Nobody times drops just now" in tablet.get("/team/queue/").content.decode()
    teacher = builders.teacher_client(challenge.classroom)
    opened = teacher.post(f"/classes/{challenge.classroom.code}/stations/here/")
    assert opened.headers["Location"] == "/station/"
    assert "You are next but one" in tablet.get("/team/queue/").content.decode()
    part = tablet.get("/team/queue/", headers={"HX-Request": "true"}).content.decode()
    assert part.startswith("<div")
    # It comes with the Test page, too: nothing is pushed down a moment later.
    shown = tablet.get("/team/1/test/").content.decode()
    assert "You are next but one" in shown.split('id="turn"')[1].split("<form")[0]


def test_a_tablet_s_turn_takes_as_many_queries_in_a_large_class_as_in_a_small_one() -> None:
    counted = []
    for teams in (8, 40):
        challenge = builders.make_challenge(builders.make_class(teams))
        first = challenge.classroom.teams.first()
        for step in (builders.plan_round, builders.clear_round, builders.build_round):
            step(challenge, first)
        tablet = builders.team_client(first)
        code = challenge.classroom.code
        builders.teacher_client(challenge.classroom).post(f"/classes/{code}/stations/here/")
        with CaptureQueriesContext(connection) as queries:
            page = tablet.get("/team/1/test/").content.decode()
        assert "It is your turn at the drop site" in page
        counted.append(len(queries))
    assert counted[0] == counted[1] <= 24


# --- links ----------------------------------------------------------------------------------------


def test_a_helper_comes_in_by_a_link_until_it_is_withdrawn(challenge: Any) -> None:
    code = challenge.classroom.code
    teacher = builders.teacher_client(challenge.classroom)
    page = teacher.post(f"/classes/{code}/stations/new/", {"hours": "2"}).content.decode()
    path = "/station/in/" + page.split("/station/in/")[1].split("/")[0] + "/"
    phone = Client()
    assert "Time the drops of Room 5" in phone.get(path).content.decode()
    assert phone.get("/station/").status_code == 403  # a link's preview lets nobody in
    assert phone.post(path).headers["Location"] == "/station/"
    assert phone.get("/station/").status_code == 200
    card = StationPass.objects.latest("pk")
    assert timedelta(minutes=119) < card.expires_at - timezone.now() <= timedelta(hours=2)
    teacher.post(f"/classes/{code}/stations/{card.pk}/withdraw/")
    assert phone.get(path).status_code == 410
    assert "This station is over." in phone.get("/station/").content.decode()


def test_a_link_needs_a_length_of_time(challenge: Any) -> None:
    teacher = builders.teacher_client(challenge.classroom)
    teacher.post(f"/classes/{challenge.classroom.code}/stations/new/", {"hours": "9999"})
    assert not StationPass.objects.exists()


def test_a_device_is_a_team_s_tablet_or_a_station_but_not_both(challenge: Any, team: Team) -> None:
    from django.db import IntegrityError, transaction

    device = Station(challenge).device
    with pytest.raises(IntegrityError), transaction.atomic():
        Device.objects.filter(pk=device.pk).update(team=team)

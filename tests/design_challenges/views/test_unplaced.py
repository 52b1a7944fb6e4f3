"""The teacher's unplaced readings, and moving a reading to the drop that it is of."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from classroom.models import Team
from design_challenges.models import Judgement, Reading
from design_challenges.services import exports, saving
from design_challenges.services.records import load_class
from design_challenges.services.unplaced import count_waiting
from tests import builders
from tests.support import site
from tests.support.station_phone import make_built_class

pytestmark = pytest.mark.django_db


@pytest.fixture
def challenge() -> Any:
    return make_built_class()


@pytest.fixture
def team(challenge: Any) -> Team:
    found: Team = challenge.classroom.teams.order_by("place").first()
    return found


@pytest.fixture
def teacher(challenge: Any) -> Client:
    return builders.teacher_client(challenge.classroom)


def path(challenge: Any, *parts: object) -> str:
    return "/".join(["/classes", challenge.classroom.code, "unplaced", *map(str, parts), ""])


def times(challenge: Any, team: Team) -> list[tuple[int, int, bool]]:
    record = load_class(challenge).team(team.pk).rounds[1]
    return [
        (drop.trial, drop.reading.hundredths if drop.reading else 0, drop.counts) for drop in record.drops
    ]


def test_the_list_says_what_the_phone_said_and_why_it_has_no_drop(
    challenge: Any, team: Team, teacher: Client
) -> None:
    site.leave_unplaced(team)
    page = teacher.get(path(challenge)).content.decode()
    for words in ("3.77", "Gannet", "Its station was withdrawn"):
        assert words in page
    assert (
        "1 reading fits no drop"
        in teacher.get(f"/classes/{challenge.classroom.code}/dashboard/").content.decode()
    )


def test_a_reading_is_given_to_a_drop_and_the_row_it_came_in_stays(
    challenge: Any, team: Team, teacher: Client
) -> None:
    reading = site.leave_unplaced(team)
    other = challenge.classroom.teams.last()
    place = f"{other.iterations.get().pk}-2"
    answer = teacher.post(path(challenge, reading.pk), {"place": place})
    assert answer.headers["Location"] == path(challenge)
    assert times(challenge, other) == [(2, 377, True)]
    kept = Reading.objects.get(pk=reading.pk)
    assert (kept.drop, kept.hundredths) == (None, 377)
    assert kept.moved_to.get().drop.trial == 2
    assert count_waiting(challenge) == 0
    assert teacher.post(path(challenge, reading.pk), {"place": place}).status_code == 404
    rows = [row.reason for row in exports.trial_rows(exports.load_export(challenge)) if row.trial is None]
    assert rows == ["given to another drop"]


def test_what_was_called_at_the_station_goes_with_it(challenge: Any, team: Team, teacher: Client) -> None:
    reading = site.leave_unplaced(team)
    Judgement.objects.create(reading=reading, counts=True, reason="not_open")
    assert "Called at the station: did not open." in teacher.get(path(challenge, reading.pk)).content.decode()
    teacher.post(path(challenge, reading.pk), {"place": f"{team.iterations.get().pk}-1"})
    drop = load_class(challenge).team(team.pk).rounds[1].trials[1]
    assert (drop.mark, drop.counted) == ("not_open", True)


def test_beside_a_time_that_stands_it_is_a_second_stopwatch(
    challenge: Any, team: Team, teacher: Client
) -> None:
    builders.drop_round(challenge, team, hundredths=(400,))
    reading = site.leave_unplaced(team)
    page = teacher.get(path(challenge, reading.pk)).content.decode()
    assert "Drop 1: one more stopwatch beside 4.00 s" in page
    teacher.post(path(challenge, reading.pk), {"place": f"{team.iterations.get().pk}-1"})
    assert times(challenge, team) == [(1, 389, True)]
    counted = [row for row in exports.trial_rows(exports.load_export(challenge)) if row.counts]
    assert [(row.hundredths, row.source) for row in counted] == [(389, "mean of two stopwatches")]


def test_a_reading_on_a_wrong_drop_is_moved_and_that_drop_is_done_again(
    challenge: Any, team: Team, teacher: Client
) -> None:
    builders.drop_round(challenge, team, hundredths=(400, 410))
    wrong = Reading.objects.get(hundredths=410)
    other = challenge.classroom.teams.last()
    answer = teacher.post(path(challenge, wrong.pk), {"place": f"{other.iterations.get().pk}-1"})
    assert answer.headers["Location"] == f"/classes/{challenge.classroom.code}/teams/{team.pk}/work/"
    assert times(challenge, team) == [(1, 400, True), (2, 0, False)]
    assert times(challenge, other) == [(1, 410, True)]
    work = teacher.get(answer.headers["Location"]).content.decode()
    assert "given to another drop" in work


def test_setting_aside_needs_a_reason_and_keeps_the_time(challenge: Any, team: Team, teacher: Client) -> None:
    reading = site.leave_unplaced(team)
    answer = teacher.post(path(challenge, reading.pk, "aside"), {"reason": ""})
    assert answer.status_code == 422
    assert "Say in a few words why" in answer.content.decode()
    teacher.post(path(challenge, reading.pk, "aside"), {"reason": "nobody dropped then"})
    assert count_waiting(challenge) == 0
    assert Reading.objects.get().hundredths == 377
    assert Judgement.objects.get().note == "nobody dropped then"


def test_a_place_must_be_chosen(challenge: Any, team: Team, teacher: Client) -> None:
    reading = site.leave_unplaced(team)
    for place in ("", "9-9"):
        assert teacher.post(path(challenge, reading.pk), {"place": place}).status_code == 422


def test_a_void_drop_s_next_attempt_takes_it(challenge: Any, team: Team, teacher: Client) -> None:
    iteration = team.iterations.get()
    builders.enter(challenge, lambda author: saving.void_drop(iteration, 1, "hit", author))
    teacher.post(path(challenge, site.leave_unplaced(team).pk), {"place": f"{iteration.pk}-1"})
    assert times(challenge, team) == [(1, 0, False), (1, 377, True)]

"""Lessons and the substitute's card: what starting, ending and coming in do, and what they refuse."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from classroom.models import Classroom, Device, Lesson, SubstitutePass
from design_challenges.services import lessons as service
from design_challenges.services import saving
from design_challenges.services.records import find_challenge
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def classroom() -> Classroom:
    return builders.make_class(teams=3)


@pytest.fixture
def teacher(classroom: Classroom) -> Client:
    return builders.teacher_client(classroom)


def url(name: str, classroom: Classroom, *more: Any) -> str:
    return reverse(f"design_challenges:{name}", args=[classroom.code, *more])


def test_starting_opens_joining_and_starting_twice_starts_one(classroom: Classroom, teacher: Client) -> None:
    Classroom.objects.update(joining_open=False, wrong_codes=7)
    for _ in range(2):
        assert teacher.post(url("lesson_start", classroom)).status_code == 302
    classroom.refresh_from_db()
    assert (classroom.joining_open, classroom.wrong_codes) == (True, 0)
    assert [lesson.number for lesson in classroom.lessons.all()] == [1]


def test_ending_signs_tablets_out_and_says_where_each_team_is(classroom: Classroom, teacher: Client) -> None:
    challenge = builders.make_challenge(classroom)
    gannet, heron, _plover = classroom.teams.all()
    builders.plan_round(challenge, gannet)
    iteration = builders.plan_round(challenge, heron)
    builders.clear_round(challenge, heron)
    builders.build_round(challenge, heron)
    builders.drop_round(challenge, heron, hundredths=(412,))
    tablet = builders.team_client(heron)
    teacher.post(url("lesson_start", classroom))
    response = teacher.post(url("lesson_end", classroom), follow=True)
    page = response.content.decode()
    assert "timed 1 of 3 drops" in page
    assert "time drop 2" in page
    assert "check that you are ready" in page
    assert "start your plan" in page
    lesson = Lesson.objects.get()
    assert lesson.ended_at is not None
    assert lesson.report["order"] == ["Heron"]
    assert not Device.objects.filter(revoked_at__isnull=True).exists()
    classroom.refresh_from_db()
    assert not classroom.joining_open
    assert tablet.get("/team/").status_code == 302
    assert iteration.drops.count() == 1


def test_ending_asks_first_and_a_get_ends_nothing(classroom: Classroom, teacher: Client) -> None:
    teacher.post(url("lesson_start", classroom))
    assert "End this lesson?" in teacher.get(url("lesson_end", classroom)).content.decode()
    assert Lesson.objects.get().ended_at is None


def test_ending_twice_keeps_the_first_report(classroom: Classroom) -> None:
    lesson = service.start_lesson(classroom, None)
    service.end_lesson(lesson)
    first = Lesson.objects.get().ended_at
    service.end_lesson(lesson)
    assert Lesson.objects.get().ended_at == first


def test_another_team_drops_first_the_next_time(classroom: Classroom) -> None:
    challenge = builders.make_challenge(classroom)
    for team in classroom.teams.all():
        builders.plan_round(challenge, team)
        builders.clear_round(challenge, team)
        builders.build_round(challenge, team)
    orders = []
    for _ in range(3):
        orders.append(service.end_lesson(service.start_lesson(classroom, None))["order"][0])
    assert orders == ["Gannet", "Heron", "Plover"]


def test_a_team_in_the_middle_of_its_drops_goes_first(classroom: Classroom) -> None:
    challenge = builders.make_challenge(classroom)
    for team in classroom.teams.all():
        builders.plan_round(challenge, team)
        builders.clear_round(challenge, team)
        builders.build_round(challenge, team)
    plover = classroom.teams.get(name="Plover")
    iteration = saving.start_round(challenge, plover, 1)
    builders.enter(challenge, lambda author: saving.save_reading(iteration, 1, 412, author))
    assert service.end_lesson(service.start_lesson(classroom, None))["order"] == ["Plover", "Gannet", "Heron"]


def test_attendance_is_kept_for_every_child_of_the_class_only(classroom: Classroom, teacher: Client) -> None:
    teacher.post(url("lesson_start", classroom))
    other = builders.make_class(teams=1).students.first()
    here = classroom.students.first()
    assert here is not None
    assert other is not None
    teacher.post(url("attendance", classroom), {"present": [here.pk, other.pk, "x", "²"]})
    lesson = Lesson.objects.get()
    assert lesson.attendance.filter(present=True).get().student == here
    assert lesson.attendance.count() == classroom.students.count()


def test_attendance_without_a_lesson_says_what_to_do(classroom: Classroom, teacher: Client) -> None:
    response = teacher.post(url("attendance", classroom), {}, follow=True)
    assert "No lesson is on" in response.content.decode()


def test_somebody_elses_class_does_not_exist(classroom: Classroom) -> None:
    stranger = builders.teacher_client(builders.make_class(teams=1))
    for name in ("lessons", "lesson_end", "substitute_cards"):
        assert stranger.get(url(name, classroom)).status_code == 404
    assert stranger.post(url("lesson_start", classroom)).status_code == 404


def test_a_substitutes_card_runs_lessons_and_nothing_else(classroom: Classroom, teacher: Client) -> None:
    page = teacher.post(url("substitute_new", classroom), {"days": "1"}).content.decode()
    path = re.search(r"http://testserver(/substitute/[^/]+/)", page)
    assert path is not None
    assert "<svg" in page
    visitor = Client()
    assert "Come in" in visitor.get(path[1]).content.decode()
    assert visitor.get(url("lessons", classroom)).status_code == 302
    visitor.post(path[1])
    assert visitor.get(url("lessons", classroom)).status_code == 200
    assert visitor.post(url("lesson_start", classroom)).status_code == 302
    assert Lesson.objects.count() == 1
    assert visitor.get(url("substitute_cards", classroom)).status_code == 302
    other = builders.make_class(teams=1)
    assert visitor.get(url("lessons", other)).status_code == 302


def test_a_withdrawn_card_is_out_at_once(classroom: Classroom, teacher: Client) -> None:
    page = teacher.post(url("substitute_new", classroom), {"days": "2"}).content.decode()
    path = re.search(r"http://testserver(/substitute/[^/]+/)", page)
    assert path is not None
    visitor = Client()
    visitor.post(path[1])
    card = SubstitutePass.objects.get()
    teacher.post(url("substitute_withdraw", classroom, card.pk))
    assert visitor.get(url("lessons", classroom)).status_code == 302
    assert visitor.get(path[1]).status_code == 410


def test_a_card_runs_out(classroom: Classroom, teacher: Client) -> None:
    teacher.post(url("substitute_new", classroom), {"days": "1"})
    SubstitutePass.objects.update(expires_at=timezone.now() - timedelta(minutes=1))
    assert not SubstitutePass.objects.get().works


def test_an_unknown_card_does_not_exist() -> None:
    assert Client().get("/substitute/nothing/").status_code == 404


def test_a_card_needs_a_number_of_days_from_the_list(classroom: Classroom, teacher: Client) -> None:
    teacher.post(url("substitute_new", classroom), {"days": "999"})
    assert not SubstitutePass.objects.exists()


def test_a_team_is_welcomed_back_with_what_comes_next(classroom: Classroom) -> None:
    challenge = builders.make_challenge(classroom)
    gannet = classroom.teams.get(name="Gannet")
    builders.plan_round(challenge, gannet)
    service.end_lesson(service.start_lesson(classroom, None))
    service.start_lesson(classroom, None)
    page = builders.team_client(gannet).get("/team/welcome/").content.decode()
    assert "Last time you made your plan." in page
    assert "Next you check that you are ready." in page


def test_in_the_first_lesson_there_is_nothing_to_welcome_back_to(classroom: Classroom) -> None:
    builders.make_challenge(classroom)
    service.start_lesson(classroom, None)
    response = builders.team_client(classroom.teams.get(name="Gannet")).get("/team/welcome/")
    assert response.status_code == 302
    assert response["Location"] == "/team/"


def test_whoever_watches_is_told_of_a_lessons_start_its_end_and_who_is_there(classroom):
    builders.make_challenge(classroom)

    def revision():
        return find_challenge(classroom).revision.number

    seen = [revision()]
    lesson = service.start_lesson(classroom, None)
    seen.append(revision())
    service.start_lesson(classroom, None)
    assert revision() == seen[-1], "it was on already"
    service.save_attendance(lesson, set())
    seen.append(revision())
    service.end_lesson(lesson)
    seen.append(revision())
    assert seen == sorted(set(seen))
    assert len(seen) == 4


def test_a_class_without_a_challenge_has_lessons_all_the_same():
    classroom = builders.make_class(teams=1)
    service.end_lesson(service.start_lesson(classroom, None))
    assert classroom.lessons.count() == 1

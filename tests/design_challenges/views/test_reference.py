"""The reference device: drops kept by day, taken out by a row of their own, and the shift of the day."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from classroom.models import Lesson
from design_challenges.models import Drop, ReferenceDrop
from design_challenges.services.class_analysis import class_analysis
from design_challenges.services.records import find_challenge, load_class
from design_challenges.services.reference import read_reference, save_reference_drops
from tests import builders
from tests.support.small_rounds import drop_only

pytestmark = pytest.mark.django_db


@pytest.fixture
def classroom():
    return builders.make_class(teams=2)


@pytest.fixture
def challenge(classroom):
    return builders.make_challenge(classroom, sums_by="software")


@pytest.fixture
def teacher(classroom):
    return builders.teacher_client(classroom)


@pytest.fixture
def yesterday(classroom):
    started = timezone.now() - timedelta(days=1)
    return Lesson.objects.create(
        classroom=classroom, number=1, started_at=started, ended_at=started + timedelta(hours=1)
    )


@pytest.fixture
def today(classroom):
    return Lesson.objects.create(classroom=classroom, number=2, started_at=timezone.now())


def url(classroom, more=""):
    return f"/classes/{classroom.code}/lessons/reference/{more}"


def typed(*times, entry=None):
    fields = {f"time_{place}": time for place, time in enumerate(times, start=1)}
    return fields | {"entry_id": str(entry or uuid.uuid4())}


def test_drops_are_saved_once_under_the_lesson_s_day(classroom, challenge, today, teacher):
    body = typed("3.50", "3,52", "")
    before = find_challenge(classroom).revision.number
    for _again in range(2):
        assert teacher.post(url(classroom), body).status_code == 302
    assert list(ReferenceDrop.objects.values_list("hundredths", flat=True)) == [350, 352]
    assert find_challenge(classroom).revision.number > before
    page = teacher.get(url(classroom)).content.decode()
    assert "3.50" in page
    assert "3.52" in page


def test_what_is_no_time_is_asked_about_and_nothing_is_saved(classroom, challenge, today, teacher):
    answer = teacher.post(url(classroom), typed("3.50", "soon"))
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "data-error-summary" in page
    assert 'href="#id_time_2"' in page
    assert 'value="3.50"' in page
    assert teacher.post(url(classroom), typed("", "")).status_code == 422
    assert not ReferenceDrop.objects.exists()


def test_without_a_lesson_there_is_no_day_to_put_them_under(classroom, challenge, teacher):
    assert teacher.post(url(classroom), typed("3.50")).status_code == 422
    assert not ReferenceDrop.objects.exists()
    assert "No lesson is on" in teacher.get(url(classroom)).content.decode()


def test_a_mistyped_drop_is_taken_out_once_and_its_row_stays(classroom, challenge, today, teacher):
    teacher.post(url(classroom), typed("35.0", "3.52"))
    wrong = ReferenceDrop.objects.get(hundredths=3500)
    for _again in range(2):
        assert teacher.post(url(classroom, f"{wrong.pk}/take-out/")).status_code == 302
    assert ReferenceDrop.objects.filter(takes_out=wrong).count() == 1
    assert list(read_reference(challenge).readings.values()) == [[352]]
    assert teacher.post(url(classroom, "999999/take-out/")).status_code == 404


def test_the_database_keeps_no_row_that_is_both_or_neither(classroom, challenge, today):
    for fields in ({}, {"hundredths": 0}):
        with pytest.raises(IntegrityError), transaction.atomic():
            ReferenceDrop.objects.create(class_challenge=challenge, lesson=today, **fields)


def test_another_class_s_teacher_may_not(classroom, challenge, today):
    stranger = builders.teacher_client(builders.make_class(teams=0, name="Another"))
    assert stranger.get(url(classroom)).status_code == 404
    assert stranger.post(url(classroom), typed("3.50")).status_code == 404


def test_the_shift_of_the_day_is_shown_on_the_board_and_taken_out_for_the_teacher(
    classroom, challenge, yesterday, today, teacher
):
    gannet, heron = classroom.teams.all()
    for team, first in ((gannet, (300, 304, 296)), (heron, (330, 335, 325))):
        drop_only(challenge, team, 1, first)
        Drop._base_manager.update(made_at=yesterday.started_at + timedelta(minutes=5))
    for team, second in ((gannet, (330, 334, 326)), (heron, (363, 369, 357))):
        drop_only(challenge, team, 2, second)
    plain = class_analysis(load_class(find_challenge(classroom)))
    for lesson, times in ((yesterday, (400, 402, 398)), (today, (440, 442, 438))):
        builders.enter(
            challenge, lambda author, on=lesson, at=times: save_reference_drops(challenge, on, at, author)
        )
    found = class_analysis(load_class(find_challenge(classroom)))
    assert found.data.shifts.by_day
    assert abs(plain.teacher.gain.average) > 0.3
    assert abs(found.teacher.gain.average) < 0.02
    board = teacher.get(f"/classes/{classroom.code}/board/changes/?view=day").content.decode()
    assert "our teacher’s device took longer every time" in board
    page = teacher.get(f"/classes/{classroom.code}/numbers/").content.decode()
    assert "The shift of the day, as the reference device shows it, is taken out" in page
    # What the children see stays what was timed.
    changes = teacher.get(f"/classes/{classroom.code}/board/changes/").content.decode()
    assert "All 3 drops of build 2 took longer" in changes

"""Loading the invented class: by seed, once, never beside real classes, and how to come in."""

from __future__ import annotations

import io

import pytest
from django.contrib.auth import authenticate
from django.core.management import CommandError, call_command
from django.db import transaction

from classroom.models import Classroom, Installation, Student
from design_challenges.models import Reading, Submission
from design_challenges.services.demo import DemoRefusedError, load_demo
from design_challenges.services.records import find_challenge, load_class

pytestmark = pytest.mark.django_db


def readings_of(seed: int) -> list[int]:
    with transaction.atomic():
        load_demo(seed)
        found = list(Reading.objects.order_by("pk").values_list("hundredths", flat=True))
        transaction.set_rollback(True)
    return found


def test_a_seed_gives_the_same_readings_and_another_seed_gives_others() -> None:
    first = readings_of(7)
    assert readings_of(7) == first
    assert readings_of(8) != first


def test_another_seed_in_metric_works_as_well() -> None:
    load_demo(3, unit_system="metric")
    challenge = find_challenge(Classroom.objects.get())
    assert challenge is not None
    assert all(team.rounds[1].figure for team in load_class(challenge).teams)


def test_a_second_call_leaves_the_class_alone_and_makes_a_new_password() -> None:
    first = load_demo()
    entries = Submission.objects.count()
    second = load_demo()
    assert (second.class_code, second.teams) == (first.class_code, first.teams)
    assert Submission.objects.count() == entries
    assert second.teacher_password != first.teacher_password
    assert authenticate(username=second.teacher_username, password=second.teacher_password)
    assert authenticate(username=first.teacher_username, password=first.teacher_password) is None


def test_it_leaves_a_database_with_real_classes_alone() -> None:
    Classroom.objects.create(name="A real class")
    with pytest.raises(DemoRefusedError, match="real classes"):
        load_demo()
    with pytest.raises(CommandError, match="real classes"):
        call_command("load_demo")
    assert Classroom.objects.count() == 1
    assert not Installation.get().demo
    assert not Student.objects.exists()


def test_the_command_says_how_to_come_in() -> None:
    out = io.StringIO()
    call_command("load_demo", stdout=out)
    classroom = Classroom.objects.get()
    assert classroom.code in out.getvalue()
    assert all(team.code in out.getvalue() for team in classroom.teams.all())
    assert "demo-teacher" in out.getvalue()

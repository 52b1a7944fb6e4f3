"""The technician's page: a school's package into many classes, by staff accounts alone."""

from __future__ import annotations

import io
import re

import pytest
from django.core.management import CommandError, call_command
from django.test import Client

from classroom.models import Classroom, Student
from tests import builders
from tests.support.oneroster import small_school

pytestmark = pytest.mark.django_db
PAGE, PLACES = "/technician/roster/", "/technician/roster/classes/"


@pytest.fixture
def staff():
    user = builders.make_teacher("tess")
    user.is_staff = True
    user.save()
    client = Client()
    client.force_login(user)
    client.user = user
    return client


def sent_file(content, name="school.zip"):
    file = io.BytesIO(content)
    file.name = name
    return {"file": file}


def package():
    return small_school().zipped()


def field_of(page, name):
    found = re.search(rf'name="{name}" value="([^"]*)"', page)
    assert found, name
    return found[1]


def places_of(page):
    """Return each class of the package by its title, with the name of its field."""
    return dict(re.findall(r'<label[^>]*for="id_(place_\d+)"[^>]*>([^<]+)', page))


def begin(staff):
    page = staff.post(PAGE, sent_file(package())).content.decode()
    return field_of(page, "carried"), places_of(page)


def test_a_new_class_is_made_from_the_package_and_again_nothing_is_doubled(staff):
    carried, places = begin(staff)
    chosen = {"carried": carried, "teacher": staff.user.pk, next(iter(places)): "new"}
    checked = staff.post(PLACES, chosen)
    assert "What would change" in checked.content.decode()
    assert not Classroom.objects.exists()
    assert staff.post(PLACES, {**chosen, "sure": "yes"}).status_code == 302
    room = Classroom.objects.get()
    names = set(room.students.values_list("source_id", flat=True))
    assert names
    assert room.memberships.get().user == staff.user
    # The same package again finds its class by itself.
    page = staff.post(PAGE, sent_file(package())).content.decode()
    assert re.search(rf'<option value="{room.code}" selected', page)
    again = {"carried": field_of(page, "carried"), next(iter(places)): room.code, "sure": "yes"}
    staff.post(PLACES, again)
    assert set(room.students.values_list("source_id", flat=True)) == names
    assert Classroom.objects.count() == 1


def test_a_class_that_is_left_out_is_not_touched(staff):
    carried, places = begin(staff)
    room = builders.make_class(1, name="Left out")
    before = list(room.students.values())
    staff.post(
        PLACES, {"carried": carried, "teacher": staff.user.pk, next(iter(places)): "new", "sure": "yes"}
    )
    assert list(room.students.values()) == before


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({}, "Choose at least one class"),
        ({"first": "new"}, "Choose who teaches"),
        ({"first": "NOWHERE"}, "Choose a class from the list"),
    ],
)
def test_what_cannot_be_done_is_said_and_nothing_is_changed(staff, more, said):
    carried, places = begin(staff)
    chosen = {next(iter(places)): more["first"]} if more else {}
    answer = staff.post(PLACES, {"carried": carried, **chosen, "sure": "yes"})
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not Classroom.objects.exists()


def test_two_classes_of_the_file_cannot_go_into_one(staff):
    room = builders.make_class(1)
    carried, places = begin(staff)
    answer = staff.post(PLACES, {"carried": carried, **dict.fromkeys(places, room.code), "sure": "yes"})
    assert answer.status_code == 422
    assert "Two classes of the file go here." in answer.content.decode()


@pytest.mark.parametrize(
    ("content", "said"), [(b"First name\nAna\n", "one list, not a OneRoster package"), (b"", "empty")]
)
def test_another_file_is_refused_with_what_to_do(staff, content, said):
    answer = staff.post(PAGE, sent_file(content, "list.csv"))
    assert answer.status_code == 422
    assert said in answer.content.decode()


def test_what_was_carried_for_a_class_does_not_open_this_page(staff):
    answer = staff.post(PLACES, {"carried": "forged", "sure": "yes"})
    assert answer.status_code == 422
    assert not Student.objects.exists()


def test_teachers_who_are_no_technicians_are_not_let_in():
    teacher = Client()
    teacher.force_login(builders.make_teacher("plain"))
    assert teacher.get(PAGE).status_code == 404
    assert teacher.post(PAGE, sent_file(package())).status_code == 404
    assert Client().get(PAGE).status_code == 302
    assert "The school’s roster" not in teacher.get("/classes/").content.decode()


def test_the_command_lets_an_account_in_and_takes_it_away(capsys):
    user = builders.make_teacher("plain")
    call_command("technician", "PLAIN")
    user.refresh_from_db()
    assert user.is_staff
    call_command("technician", "plain", "--no")
    user.refresh_from_db()
    assert not user.is_staff
    with pytest.raises(CommandError, match="Nobody here signs in as nobody"):
        call_command("technician", "nobody")


def test_the_page_leads_there_for_a_technician(staff):
    assert PAGE in staff.get("/classes/").content.decode()

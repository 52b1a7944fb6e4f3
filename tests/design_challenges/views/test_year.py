"""The year's round at its pages: typed confirmations, copies, sharing, handing over, settings copied."""

from __future__ import annotations

import re
import zipfile
from datetime import timedelta
from io import BytesIO
from urllib.parse import unquote

import pytest
from django.test import Client
from django.utils import timezone

from classroom.models import Classroom, Membership, Student
from design_challenges.models import ClassChallenge
from tests import builders
from tests.support.hard_names import HARD_NAMES

pytestmark = pytest.mark.django_db
SURE = {"copied": "on"}


@pytest.fixture
def challenge():
    return builders.make_challenge(builders.make_class(teams=2), values={"limit": "400"})


@pytest.fixture
def classroom(challenge):
    return challenge.classroom


@pytest.fixture
def teacher(classroom):
    return builders.teacher_client(classroom)


@pytest.fixture
def colleague(classroom):
    user = builders.make_teacher("mr-colleague")
    client = Client()
    client.force_login(user)
    client.user = user
    return client


def url(classroom, rest):
    return f"/classes/{classroom.code}/{rest}"


def test_a_class_is_erased_once_its_name_is_typed(teacher, classroom):
    page = teacher.get(url(classroom, "erase/"))
    assert "Save a copy first" in page.content.decode()
    done = teacher.post(url(classroom, "erase/"), {**SURE, "typed": " room 5 "})
    assert done.status_code == 302
    assert not Classroom.objects.filter(pk=classroom.pk).exists()


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({"copied": "on", "typed": "Room 6"}, "That is another name."),
        ({"copied": "on", "typed": ""}, "Type the name as it stands above."),
        ({"typed": "Room 5"}, "Save a copy first, or tick"),
        ({}, "Type the name"),
    ],
)
def test_anything_less_erases_nothing_and_says_why(teacher, classroom, sent, said):
    answer = teacher.post(url(classroom, "erase/"), sent)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert Classroom.objects.filter(pk=classroom.pk).exists()


def test_a_child_is_erased_once_its_name_is_typed(teacher, classroom):
    child = classroom.students.first()
    address = url(classroom, f"students/{child.pk}/erase/")
    wrong = teacher.post(address, {**SURE, "typed": "Ana"})
    assert wrong.status_code == 422
    assert teacher.post(address, {**SURE, "typed": str(child)}).status_code == 302
    assert not Student.objects.filter(pk=child.pk).exists()
    assert teacher.get(address).status_code == 404


def test_a_class_in_the_archive_can_be_erased(teacher, classroom):
    Classroom.objects.filter(pk=classroom.pk).update(archived_at=timezone.now())
    assert teacher.post(url(classroom, "erase/"), {**SURE, "typed": "Room 5"}).status_code == 302
    assert not Classroom.objects.filter(pk=classroom.pk).exists()


def test_copies_come_as_files_with_the_class_or_the_child_in_their_name(teacher, classroom):
    child = classroom.students.first()
    for address, name in (
        (url(classroom, "erase/copy.zip"), "Room 5"),
        (url(classroom, f"students/{child.pk}/erase/copy.zip"), "Ana A"),
    ):
        answer = teacher.get(address)
        assert answer.status_code == 200
        assert answer.headers["Content-Type"] == "application/zip"
        assert name in answer.headers["Content-Disposition"]


@pytest.mark.parametrize(
    "name", [*HARD_NAMES, "../../evil", "..\\..\\evil", "C:\\evil", "/evil", "a\u202egnp"]
)
def test_no_name_becomes_part_of_a_path_or_a_header(teacher, classroom, name):
    Classroom.objects.filter(pk=classroom.pk).update(name=name[:60])
    child = classroom.students.first()
    Student.objects.filter(pk=child.pk).update(given_name=name[:40])
    for address in (url(classroom, "erase/copy.zip"), url(classroom, f"students/{child.pk}/erase/copy.zip")):
        answer = teacher.get(address)
        said = answer.headers["Content-Disposition"].removeprefix("attachment; ")
        _kind, _equals, quoted = said.partition("=")
        saved_as = unquote(quoted.strip('"').removeprefix("utf-8''"))
        assert re.fullmatch(r"([\w-]+ )*\d{4}-\d\d-\d\d\.zip", saved_as), saved_as
        with zipfile.ZipFile(BytesIO(answer.content)) as copy:
            assert all(re.fullmatch(r"(drawings/)?[\w.-]+", member) for member in copy.namelist())


@pytest.mark.parametrize("rest", ["erase/", "erase/copy.zip", "people/"])
def test_a_colleague_runs_the_class_and_can_neither_erase_it_nor_give_it_away(colleague, classroom, rest):
    Membership.objects.create(user=colleague.user, classroom=classroom, role=Membership.Role.COLLEAGUE)
    assert colleague.get(url(classroom, "dashboard/")).status_code == 200
    assert colleague.get(url(classroom, rest)).status_code == 403
    child = classroom.students.first()
    assert colleague.post(url(classroom, f"students/{child.pk}/erase/"), SURE).status_code == 403
    assert classroom.students.filter(pk=child.pk).exists()


def test_what_is_old_is_shown_first_and_erased_after_its_day_is_typed(teacher, classroom):
    day = (timezone.localdate() - timedelta(days=30)).isoformat()
    assert "There is nothing to erase." in teacher.get("/older/", {"before": day}).content.decode()
    child = classroom.students.first()
    Student.objects.filter(pk=child.pk).update(left_at=timezone.now() - timedelta(days=60))
    page = teacher.get("/older/", {"before": day}).content.decode()
    assert str(child) in page
    assert teacher.post(f"/older/?before={day}", {**SURE, "typed": "2020-01-01"}).status_code == 422
    assert Student.objects.filter(pk=child.pk).exists()
    assert teacher.post(f"/older/?before={day}", {**SURE, "typed": day}).status_code == 302
    assert not Student.objects.filter(pk=child.pk).exists()
    assert Classroom.objects.filter(pk=classroom.pk).exists()


def test_a_day_that_is_to_come_is_refused(teacher):
    tomorrow = (timezone.localdate() + timedelta(days=1)).isoformat()
    answer = teacher.get("/older/", {"before": tomorrow})
    assert answer.status_code == 422
    assert "a day that is over" in answer.content.decode()


# --- sharing --------------------------------------------------------------------------------------------


def test_a_colleague_stands_in_for_two_days(teacher, colleague, classroom):
    assert colleague.get(url(classroom, "")).status_code == 404
    teacher.post(url(classroom, "people/"), {"username": "MR-colleague", "role": "day"})
    assert colleague.get(url(classroom, "")).status_code == 200
    row = classroom.memberships.get(user=colleague.user)
    assert timezone.now() + timedelta(days=1) < row.until < timezone.now() + timedelta(days=2, hours=1)
    classroom.memberships.filter(pk=row.pk).update(until=timezone.now())
    assert colleague.get(url(classroom, "")).status_code == 404


def test_a_colleague_who_shares_can_be_taken_out_again(teacher, colleague, classroom):
    teacher.post(url(classroom, "people/"), {"username": "mr-colleague", "role": "share"})
    row = classroom.memberships.get(user=colleague.user)
    assert row.until is None
    assert "mr-colleague" in teacher.get(url(classroom, "people/")).content.decode()
    teacher.post(url(classroom, f"people/{row.pk}/out/"))
    assert colleague.get(url(classroom, "")).status_code == 404


def test_a_class_that_is_handed_over_has_a_new_teacher_and_the_old_one_is_out(teacher, colleague, classroom):
    sent = {"username": "mr-colleague", "role": "hand"}
    asked = teacher.post(url(classroom, "people/"), sent)
    assert "You are out at once." in asked.content.decode()
    assert not classroom.memberships.filter(user=colleague.user).exists()
    done = teacher.post(url(classroom, "people/"), {**sent, "sure": "yes"})
    assert done.status_code == 302
    assert teacher.get(url(classroom, "")).status_code == 404
    assert colleague.get(url(classroom, "erase/")).status_code == 200


@pytest.mark.parametrize(
    ("name", "said"),
    [("nobody-here", "Nobody here signs in"), ("", "Type the user name"), ("me", "That is you")],
)
def test_a_name_that_will_not_do_is_said_and_kept(teacher, classroom, name, said):
    name = classroom.memberships.first().user.username if name == "me" else name
    answer = teacher.post(url(classroom, "people/"), {"username": name, "role": "share"})
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert classroom.memberships.count() == 1


def test_a_second_teacher_is_not_made_less_by_sharing(teacher, colleague, classroom):
    Membership.objects.create(user=colleague.user, classroom=classroom)
    teacher.post(url(classroom, "people/"), {"username": "mr-colleague", "role": "day"})
    assert classroom.memberships.get(user=colleague.user).role == Membership.Role.TEACHER


# --- settings -------------------------------------------------------------------------------------------


def mine(classroom, name, **options):
    """Make another class of the same teacher."""
    return builders.make_class(1, teacher=classroom.memberships.first().user, name=name, **options)


def test_settings_are_copied_to_a_class_without_a_challenge(teacher, challenge, classroom):
    target = mine(classroom, "Room 7")
    address = url(classroom, "settings/copy/")
    assert "Room 7" in teacher.get(address).content.decode()
    shown = teacher.post(address, {"target": target.code}).content.decode()
    assert "That class has no challenge yet" in shown
    assert not ClassChallenge.objects.filter(classroom=target).exists()
    teacher.post(address, {"target": target.code, "sure": "yes", "seen": "0"})
    copied = ClassChallenge.objects.get(classroom=target)
    assert copied.settings_versions.get().values["limit"] == "400"


def test_a_class_with_a_challenge_gets_a_new_version_and_begun_rounds_keep_theirs(teacher, classroom):
    target = mine(classroom, "Room 7")
    there = builders.make_challenge(target)
    builders.plan_round(there, target.teams.get())
    address = url(classroom, "settings/copy/")
    shown = teacher.post(address, {"target": target.code}).content.decode()
    assert "Material limit" in shown
    assert "Rounds up to 1 have begun there" in shown
    teacher.post(address, {"target": target.code, "sure": "yes", "seen": "1"})
    newest = there.settings_versions.order_by("-version").first()
    assert (newest.version, newest.values["limit"]) == (2, "400")
    assert target.teams.get().iterations.get().settings.version == 1
    # Sent again from the same page it adds nothing.
    teacher.post(address, {"target": target.code, "sure": "yes", "seen": "1"})
    assert there.settings_versions.count() == 2


def test_another_teachers_class_is_no_choice(teacher, classroom):
    foreign = builders.make_class(1, name="Foreign")
    answer = teacher.post(
        url(classroom, "settings/copy/"), {"target": foreign.code, "sure": "yes", "seen": "0"}
    )
    assert answer.status_code == 422
    assert not ClassChallenge.objects.filter(classroom=foreign).exists()

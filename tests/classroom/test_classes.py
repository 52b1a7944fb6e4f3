"""Classes: making, renaming, archiving, joining, and that nobody sees another teacher's."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.http import HttpResponse
from django.test import Client
from django.utils import timezone

from classroom.access import SUBSTITUTE_COOKIE, TEAM_COOKIE, classrooms_of, let_substitute_in
from classroom.codes import in_groups
from classroom.models import Classroom, Membership, Student, SubstitutePass
from classroom.overview import class_rows
from design_challenges.services.saving import start_round
from tests.builders import make_challenge, make_class, make_teacher, teacher_client, team_client

pytestmark = pytest.mark.django_db

PAGES = ["", "rename/", "archive/", "students/", "students/paste/", "students/new/", "teams/", "teams/seat/"]
PAGES += ["teams/shuffle/", "teams/add/", "settings/", "settings/change/"]
CHANGES = {
    "rename/": {"name": "Taken over"},
    "archive/": {"archived": "yes"},
    "joining/": {"open": "yes"},
    "students/paste/": {"names": "Ana P."},
    "students/add/": {"form-TOTAL_FORMS": "0", "form-INITIAL_FORMS": "0"},
    "students/new/": {"given_name": "Ana"},
    "teams/shuffle/": {"size": "4", "who": "everyone", "use": "1"},
    "teams/add/": {"count": "2"},
    "teams/seat/": {},
    "settings/": {"kind": "soft-landing", "unit_system": "us", "preset": "older", "usual": "1"},
    "settings/change/": {},
}


def test_a_class_is_made_with_a_code_and_its_teacher(client) -> None:
    teacher = make_teacher()
    client.force_login(teacher)
    answer = client.post("/classes/new/", {"name": "  Room   12 "})
    classroom = Classroom.objects.get()
    assert classroom.name == "Room 12"
    assert len(classroom.code) == 5
    assert answer.headers["Location"] == f"/classes/{classroom.code}/"
    assert Membership.objects.get().user == teacher


@pytest.mark.parametrize(
    ("name", "message"), [("", "Type a name"), ("   ", "Type a name"), ("x" * 61, "too long")]
)
def test_a_class_without_a_usable_name_is_not_made(client, name, message) -> None:
    client.force_login(make_teacher())
    answer = client.post("/classes/new/", {"name": name})
    assert answer.status_code == 422
    assert message in answer.content.decode()
    assert not Classroom.objects.exists()


def test_a_class_that_is_sent_twice_is_made_once(client) -> None:
    client.force_login(make_teacher())
    newest = client.get("/classes/new/").context["newest"]
    answers = [client.post("/classes/new/", {"name": "Room 12", "newest": newest}) for _turn in range(2)]
    assert answers[0].headers["Location"] == answers[1].headers["Location"]
    assert Classroom.objects.count() == 1
    newest = client.get("/classes/new/").context["newest"]
    client.post("/classes/new/", {"name": "Room 12", "newest": newest})
    assert Classroom.objects.count() == 2


def test_a_teacher_sees_their_own_classes_only(client) -> None:
    mine, other = make_class(1, name="Mine"), make_class(1, name="Somebody else’s")
    page = teacher_client(mine).get("/classes/").content.decode()
    assert mine.name in page
    assert other.name not in page
    assert other.code not in page


@pytest.mark.parametrize("page", PAGES)
def test_another_teachers_class_is_not_there(page) -> None:
    mine, other = make_class(1), make_class(1)
    assert teacher_client(mine).get(f"/classes/{other.code}/{page}").status_code == 404


@pytest.mark.parametrize(("page", "data"), CHANGES.items())
def test_another_teachers_class_cannot_be_changed(page, data) -> None:
    mine, other = make_class(1), make_class(1, joining=False)
    before = _everything(other)
    assert teacher_client(mine).post(f"/classes/{other.code}/{page}", data).status_code == 404
    assert _everything(other) == before


@pytest.mark.parametrize(("page", "data"), CHANGES.items())
def test_nobody_changes_a_class_signed_out_or_from_a_teams_tablet(page, data) -> None:
    classroom = make_class(1, joining=False)
    before = _everything(classroom)
    for visitor in (Client(), team_client(classroom.teams.get())):
        answer = visitor.post(f"/classes/{classroom.code}/{page}", data)
        assert answer.headers["Location"].startswith("/sign-in/")
    assert _everything(classroom) == before


@pytest.mark.parametrize(("page", "data"), [pair for pair in CHANGES.items() if pair[0] != "archive/"])
def test_a_class_in_the_archive_is_read_only(page, data) -> None:
    classroom = make_class(1, joining=False)
    Classroom.objects.update(archived_at=timezone.now())
    before = _everything(classroom)
    answer = teacher_client(classroom).post(f"/classes/{classroom.code}/{page}", data)
    assert answer.status_code == 422
    assert "in the archive" in answer.content.decode()
    assert _everything(classroom) == before


@pytest.mark.parametrize("page", ["", "students/", "teams/", "settings/"])
def test_a_class_in_the_archive_can_be_looked_at(page) -> None:
    classroom = make_class(2)
    make_challenge(classroom)
    Classroom.objects.update(archived_at=timezone.now())
    assert teacher_client(classroom).get(f"/classes/{classroom.code}/{page}").status_code == 200


def _everything(classroom: Classroom) -> list:
    classroom = Classroom.objects.get(pk=classroom.pk)
    return [
        (classroom.name, classroom.archived_at, classroom.joining_open),
        list(Student.objects.filter(classroom=classroom).values_list("given_name", "initial", "left_at")),
        list(classroom.teams.values_list("name", "code", "retired_at")),
        classroom.challenges.count(),
    ]


def test_a_membership_that_has_ended_opens_nothing() -> None:
    classroom = make_class(1)
    client = teacher_client(classroom)
    classroom.memberships.update(until=timezone.now())
    assert client.get(f"/classes/{classroom.code}/").status_code == 404
    assert classroom.name not in client.get("/classes/").content.decode()


def test_a_class_is_renamed() -> None:
    classroom = make_class(1)
    teacher_client(classroom).post(f"/classes/{classroom.code}/rename/", {"name": "The Gulls"})
    classroom.refresh_from_db()
    assert classroom.name == "The Gulls"


def test_archiving_is_asked_about_signs_tablets_out_and_can_be_undone() -> None:
    classroom = make_class(1)
    make_challenge(classroom)
    client, tablet = teacher_client(classroom), team_client(classroom.teams.get())
    page = f"/classes/{classroom.code}/archive/"
    assert "Nothing is lost" in client.get(page).content.decode()
    assert Classroom.objects.get().archived_at is None
    client.post(page, {"archived": "yes"})
    classroom.refresh_from_db()
    assert classroom.archived_at is not None
    assert classroom.joining_open is False
    assert tablet.get("/team/").headers["Location"].startswith("/join/")
    assert client.get("/classes/").context["rows"] == []
    assert classroom.name in client.get("/classes/?archived").content.decode()
    client.post(page, {"archived": "no"})
    assert Classroom.objects.get().archived_at is None


def test_opening_joining_begins_the_count_of_wrong_codes_anew() -> None:
    classroom = make_class(1, joining=False)
    Classroom.objects.update(wrong_codes=7)
    client = teacher_client(classroom)
    page = f"/classes/{classroom.code}/"
    client.post(f"{page}joining/", {"open": "yes"})
    classroom.refresh_from_db()
    assert (classroom.joining_open, classroom.wrong_codes) == (True, 0)
    Classroom.objects.update(wrong_codes=3)
    assert "3 wrong codes" in client.get(page).content.decode()
    client.post(f"{page}joining/", {"open": "yes"})
    assert Classroom.objects.get().wrong_codes == 3
    client.post(f"{page}joining/", {"open": "no"})
    classroom.refresh_from_db()
    assert (classroom.joining_open, classroom.wrong_codes) == (False, 3)


def test_the_joining_switch_leads_to_no_other_host() -> None:
    classroom = make_class(1)
    client = teacher_client(classroom)
    for place, back in (("https://example.com/", f"/classes/{classroom.code}/"), ("/classes/", "/classes/")):
        answer = client.post(f"/classes/{classroom.code}/joining/", {"open": "yes", "next": place})
        assert answer.headers["Location"] == back


def test_a_substitute_opens_joining_and_changes_nothing_else() -> None:
    classroom = make_class(1, joining=False)
    card = SubstitutePass.objects.create(
        classroom=classroom, token_hash="card", expires_at=timezone.now() + timedelta(hours=1)
    )
    response = HttpResponse()
    let_substitute_in(response, card)
    client = Client()
    client.cookies[SUBSTITUTE_COOKIE] = response.cookies[SUBSTITUTE_COOKIE].value
    before = _everything(classroom)
    for page, data in CHANGES.items():
        if page != "joining/":
            answer = client.post(f"/classes/{classroom.code}/{page}", data)
            assert answer.headers["Location"].startswith("/sign-in/")
    assert _everything(classroom) == before
    client.post(f"/classes/{classroom.code}/joining/", {"open": "yes"})
    assert Classroom.objects.get().joining_open is True


def test_the_map_says_what_comes_next() -> None:
    classroom = make_class(0, joining=False)
    client = teacher_client(classroom)

    def next_step() -> str:
        answer = client.get(f"/classes/{classroom.code}/")
        return answer.context["overview"].next_step

    assert next_step() == "students"
    Student.objects.create(classroom=classroom, given_name="Ana", initial="P")
    assert next_step() == "teams"
    client.post(f"/classes/{classroom.code}/teams/shuffle/", {"size": "4", "who": "everyone"})
    assert next_step() == "teams"
    client.post(
        f"/classes/{classroom.code}/teams/shuffle/",
        {"size": "4", "who": "everyone", "seed": "1", "use": "1", "children": str(Student.objects.get().pk)},
    )
    assert next_step() == "challenge"
    make_challenge(classroom)
    assert next_step() == "joining"
    client.post(f"/classes/{classroom.code}/joining/", {"open": "yes"})
    assert next_step() == "run"


def test_codes_stand_on_the_class_page() -> None:
    classroom = make_class(2)
    page = teacher_client(classroom).get(f"/classes/{classroom.code}/").content.decode()
    for code in [classroom.code, *classroom.teams.values_list("code", flat=True)]:
        assert in_groups(code) in page


def test_pages_ask_the_same_number_of_questions_at_8_and_at_40_teams(django_assert_max_num_queries) -> None:
    pages = ["", "students/", "teams/", "teams/seat/", "settings/", "settings/change/"]
    counts: dict[int, list[int]] = {}
    for teams in (8, 40):
        classroom = make_class(teams)
        challenge = make_challenge(classroom)
        for team in classroom.teams.all():
            start_round(challenge, team, 1)
        client = teacher_client(classroom)
        for page in pages:
            with django_assert_max_num_queries(20) as asked:
                assert client.get(f"/classes/{classroom.code}/{page}").status_code == 200
            counts.setdefault(teams, []).append(len(asked))
    assert counts[8] == counts[40]


def test_the_list_of_classes_asks_the_same_number_of_questions_for_one_and_for_ten(
    client, django_assert_max_num_queries
) -> None:
    teacher = make_teacher()
    client.force_login(teacher)
    counts = []
    for more in (1, 9):
        for _turn in range(more):
            make_class(2, teacher=teacher)
        with django_assert_max_num_queries(20) as asked:
            client.get("/classes/")
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_a_teams_cookie_alone_opens_no_teachers_page() -> None:
    classroom = make_class(1)
    tablet = team_client(classroom.teams.get())
    assert tablet.cookies[TEAM_COOKIE].value
    assert tablet.get(f"/classes/{classroom.code}/").headers["Location"].startswith("/sign-in/")


def test_the_list_counts_each_class_s_children_and_teams_of_today() -> None:
    teacher = make_teacher("counting")
    large, empty = make_class(4, teacher=teacher, name="Large"), make_class(0, teacher=teacher, name="New")
    large.students.filter(pk=large.students.first().pk).update(left_at=timezone.now())
    large.teams.filter(place=4).update(retired_at=timezone.now())

    rows = {row.classroom: (row.students, row.teams) for row in class_rows(classrooms_of(teacher))}

    assert rows == {large: (11, 3), empty: (0, 0)}

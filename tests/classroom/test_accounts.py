"""Adults' accounts: the one-time link, signing in and out, passwords, a colleague, entries that are held."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from django.contrib.auth import get_user_model
from django.contrib.auth.tokens import default_token_generator
from django.test import Client
from django.urls import reverse

from classroom.codes import hash_token
from classroom.models import Classroom, Installation
from tests.builders import make_class, make_teacher, teacher_client

pytestmark = pytest.mark.django_db
User = get_user_model()
TOKEN = "the-token-that-the-server-printed"
FIRST = {
    "username": "m.okafor",
    "new_password1": "paper wings glide",
    "new_password2": "paper wings glide",
    "time_zone": "Pacific/Auckland",
}


@pytest.fixture
def link() -> str:
    installation = Installation.get()
    installation.first_teacher_token_hash = hash_token(TOKEN)
    installation.save()
    return reverse("classroom:first_teacher", args=[TOKEN])


def test_the_first_teachers_link_makes_an_account_signs_in_and_sets_the_time_zone(client, link) -> None:
    assert "time zone" in client.get(link).content.decode()
    answer = client.post(link, FIRST)
    assert answer.headers["Location"] == reverse("classroom:classes")
    assert client.get(answer.headers["Location"]).status_code == 200
    assert User.objects.get().username == "m.okafor"
    assert User.objects.get().is_staff  # who sets the computer up sees the technician's pages
    assert Installation.get().time_zone == "Pacific/Auckland"


def test_the_first_teachers_link_works_once(client, link) -> None:
    client.post(link, FIRST)
    for answer in (Client().get(link), Client().post(link, {**FIRST, "username": "second"})):
        assert answer.status_code == 404
        assert "works no more" in answer.content.decode()
    assert User.objects.count() == 1


@pytest.mark.parametrize("token", ["", "wrong"])
def test_a_wrong_token_opens_nothing(client, link, token) -> None:
    answer = client.post(f"/first-teacher/{token or 'x'}/", FIRST)
    assert answer.status_code == 404
    assert not User.objects.exists()


def test_the_link_of_an_installation_that_never_made_one_opens_nothing(client) -> None:
    assert client.post("/first-teacher/x/", FIRST).status_code == 404
    assert not User.objects.exists()


def test_the_link_is_dead_once_anybody_has_an_account(client, link) -> None:
    make_teacher()
    assert client.post(link, FIRST).status_code == 404


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"username": ""}, "Type a user name"),
        ({"username": "a b"}, "without blanks"),
        ({"username": "a" * 61}, "too long"),
        ({"new_password1": "", "new_password2": ""}, "Type a password."),
        ({"new_password2": "something else"}, "differ"),
        ({"new_password1": "12345678", "new_password2": "12345678"}, "too common"),
        ({"new_password1": "m.okafor1", "new_password2": "m.okafor1"}, "too similar"),
        ({"time_zone": ""}, "Choose the time zone"),
        ({"time_zone": "Coast/Nowhere"}, "from the list"),
    ],
)
def test_what_cannot_be_an_account_is_explained_and_leaves_the_link(client, link, changed, message) -> None:
    answer = client.post(link, {**FIRST, **changed})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert message in page
    assert 'id="error-summary"' in page
    assert not User.objects.exists()
    assert client.post(link, FIRST).status_code == 302


def test_signing_in_leads_to_the_classes_and_back_to_where_one_came_from(client) -> None:
    make_teacher("lea", "a long pass phrase")
    wanted = reverse("classroom:class_new")
    to_sign_in = client.get(wanted).headers["Location"]
    assert to_sign_in == f"/sign-in/?next={wanted}"
    answer = client.post(to_sign_in, {"username": "lea", "password": "a long pass phrase", "next": wanted})
    assert answer.headers["Location"] == wanted


def test_signing_in_never_leads_to_another_host(client) -> None:
    make_teacher("lea", "a long pass phrase")
    answer = client.post(
        "/sign-in/",
        {"username": "lea", "password": "a long pass phrase", "next": "https://example.com/"},
    )
    assert answer.headers["Location"] == reverse("classroom:classes")


def test_a_wrong_password_is_refused_with_what_was_typed_but_the_password(client) -> None:
    make_teacher("lea", "a long pass phrase")
    answer = client.post("/sign-in/", {"username": "lea", "password": "not this one"})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "do not go together" in page
    assert 'value="lea"' in page
    assert "not this one" not in page


def test_signing_out_needs_a_post(client) -> None:
    client.force_login(make_teacher())
    assert client.get("/sign-out/").status_code == 405
    assert client.get("/classes/").status_code == 200
    client.post("/sign-out/")
    assert client.get("/classes/").status_code == 302


def test_a_password_is_changed_with_the_present_one_only(client) -> None:
    teacher = make_teacher("lea", "a long pass phrase")
    client.force_login(teacher)
    wrong = {"old_password": "no", "new_password1": "wind over reeds", "new_password2": "wind over reeds"}
    answer = client.post("/password/", wrong)
    assert answer.status_code == 422
    assert "not your present password" in answer.content.decode()
    client.post("/password/", {**wrong, "old_password": "a long pass phrase"})
    teacher.refresh_from_db()
    assert teacher.check_password("wind over reeds")
    assert client.get("/classes/").status_code == 200


def test_the_password_page_is_for_those_who_are_signed_in(client) -> None:
    assert client.get("/password/").headers["Location"].startswith("/sign-in/")


def _invite(client: Client, name: str) -> str:
    answer = client.post("/teachers/new/", {"username": name})
    return str(answer.context["link"]).removeprefix("http://testserver")


def test_a_colleague_gets_a_link_that_works_once(client) -> None:
    client.force_login(make_teacher())
    link = _invite(client, "noor")
    visitor = Client()
    assert "noor" in visitor.get(link).content.decode()
    password = {"new_password1": "wind over reeds", "new_password2": "wind over reeds"}
    assert visitor.post(link, password).headers["Location"] == "/classes/"
    assert visitor.get("/classes/").status_code == 200
    assert Client().post(link, password).status_code == 404
    assert Client().get(link).status_code == 404


def test_a_colleagues_link_ends_after_three_days(client, monkeypatch) -> None:
    client.force_login(make_teacher())
    link = _invite(client, "noor")
    made = datetime.now()  # noqa: DTZ005 - as the generator counts
    for days, status in ((2.9, 200), (3.1, 404)):
        late = made + timedelta(days=days)
        monkeypatch.setattr(default_token_generator, "_now", lambda late=late: late)
        assert Client().get(link).status_code == status


def test_a_colleague_who_has_chosen_no_password_cannot_sign_in(client) -> None:
    client.force_login(make_teacher())
    _invite(client, "noor")
    assert Client().post("/sign-in/", {"username": "noor", "password": ""}).status_code == 422


def test_a_link_that_was_lost_is_made_anew_until_one_was_used(client) -> None:
    client.force_login(make_teacher())
    _invite(client, "noor")
    link = _invite(client, "Noor")
    password = {"new_password1": "wind over reeds", "new_password2": "wind over reeds"}
    assert Client().post(link, password).status_code == 302
    assert User.objects.filter(username__iexact="noor").count() == 1
    assert client.post("/teachers/new/", {"username": "noor"}).status_code == 422


def test_a_colleagues_link_cannot_be_made_for_somebody_who_has_an_account(client) -> None:
    client.force_login(make_teacher("lea"))
    answer = client.post("/teachers/new/", {"username": "LEA"})
    assert answer.status_code == 422
    assert "already" in answer.content.decode()


@pytest.mark.parametrize("link", ["/welcome/MQ/wrong/", "/welcome/%FF/wrong/", "/welcome/99999/x-y/"])
def test_a_made_up_welcome_link_opens_nothing(client, link) -> None:
    make_teacher()
    assert client.get(link).status_code == 404


def test_adding_a_teacher_is_for_those_who_are_signed_in(client) -> None:
    answer = client.post("/teachers/new/", {"username": "stranger"})
    assert answer.headers["Location"].startswith("/sign-in/")
    assert not User.objects.exists()


# --- what was typed while signed out ---------------------------------------------------------


def test_a_form_sent_while_signed_out_comes_back_after_signing_in() -> None:
    classroom = make_class(1)
    teacher = classroom.memberships.get().user
    client = Client()
    page = reverse("classroom:class_rename", args=[classroom.code])
    to_sign_in = client.post(page, {"name": "The Gulls"}).headers["Location"]
    assert "What you typed is kept" in client.get(to_sign_in).content.decode()
    teacher.set_password("a long pass phrase")
    teacher.save()
    answer = client.post(
        to_sign_in, {"username": teacher.username, "password": "a long pass phrase", "next": page}
    )
    shown = client.get(answer.headers["Location"]).content.decode()
    assert 'value="The Gulls"' in shown
    assert "We kept what you typed" in shown
    assert Classroom.objects.get().name == "Room 5"
    client.post(page, {"name": "The Gulls"})
    assert Classroom.objects.get().name == "The Gulls"


def test_what_was_held_is_shown_once() -> None:
    classroom = make_class(1)
    client = Client()
    page = reverse("classroom:class_rename", args=[classroom.code])
    client.post(page, {"name": "The Gulls"})
    client.force_login(classroom.memberships.get().user)
    session = client.session
    session["held_entry"] = {"path": page, "owner": "", "fields": "name=The+Gulls"}
    session.save()
    assert "The Gulls" in client.get(page).content.decode()
    assert "The Gulls" not in client.get(page).content.decode()


def test_what_was_held_is_not_shown_on_another_class() -> None:
    mine, other = make_class(1), make_class(1)
    client = teacher_client(other)
    session = client.session
    page = reverse("classroom:class_rename", args=[mine.code])
    session["held_entry"] = {"path": page, "owner": "", "fields": "name=The+Gulls"}
    session.save()
    assert client.get(page).status_code == 404
    own = reverse("classroom:class_rename", args=[other.code])
    assert "The Gulls" not in client.get(own).content.decode()

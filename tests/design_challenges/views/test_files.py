"""The files page and its downloads: a teacher of the class gets them, nobody else does."""

from __future__ import annotations

import io
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone
from openpyxl import load_workbook

from classroom.access import SUBSTITUTE_COOKIE
from classroom.codes import hash_token, make_token
from classroom.models import Classroom, Device, SubstitutePass
from design_challenges.models import ClassChallenge
from design_challenges.services.exports import COLUMNS
from tests.builders import make_challenge, make_class, make_teacher, play_round, teacher_client, team_client

pytestmark = pytest.mark.django_db

FILES = ["", "gradebook.xlsx", "teams.csv", "measurements.csv", "trials.csv", "results.csv"]


@pytest.fixture
def classroom() -> Classroom:
    return make_class(teams=2)


@pytest.fixture
def challenge(classroom: Classroom) -> ClassChallenge:
    challenge = make_challenge(classroom)
    play_round(challenge, classroom.teams.order_by("place")[0])
    return challenge


def address(classroom: Classroom, name: str) -> str:
    return f"/classes/{classroom.code}/files/{name}"


def substitute_client(classroom: Classroom) -> Client:
    tomorrow, token = timezone.now() + timedelta(days=1), make_token()
    card = SubstitutePass.objects.create(
        classroom=classroom, token_hash=hash_token(make_token()), expires_at=tomorrow
    )
    Device.objects.create(
        token_hash=hash_token(token),
        classroom=classroom,
        role=Device.Role.SUBSTITUTE,
        substitute_pass=card,
        expires_at=tomorrow,
    )
    client = Client()
    client.cookies[SUBSTITUTE_COOKIE] = token
    return client


def test_the_page_lists_every_file_with_its_columns(classroom: Classroom, challenge: ClassChallenge) -> None:
    page = teacher_client(classroom).get(address(classroom, ""))
    text = page.content.decode()
    for name in FILES[1:]:
        assert address(classroom, name) in text
    for columns in COLUMNS.values():
        assert ", ".join(columns) in text


def test_the_teacher_saves_the_gradebook(classroom: Classroom, challenge: ClassChallenge) -> None:
    answer = teacher_client(classroom).get(address(classroom, "gradebook.xlsx"))
    assert answer.status_code == 200
    assert answer["Content-Disposition"] == f'attachment; filename="{classroom.code}-gradebook.xlsx"'
    assert answer["Content-Type"].startswith("application/vnd.openxmlformats")
    assert "no-store" in answer["Cache-Control"]
    assert load_workbook(io.BytesIO(answer.content)).sheetnames[0] == "Students"


@pytest.mark.parametrize("name", list(COLUMNS))
def test_the_teacher_saves_each_table(classroom: Classroom, challenge: ClassChallenge, name: str) -> None:
    answer = teacher_client(classroom).get(address(classroom, f"{name}.csv"))
    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    lines = answer.content.decode("utf-8").split("\r\n")
    assert lines[0] == ",".join(COLUMNS[name])
    assert lines[1].startswith("Gannet")


def test_what_was_saved_a_moment_ago_is_in_the_file(classroom: Classroom, challenge: ClassChallenge) -> None:
    client = teacher_client(classroom)
    before = client.get(address(classroom, "results.csv")).content
    play_round(challenge, classroom.teams.order_by("place")[1])
    after = client.get(address(classroom, "results.csv")).content
    assert b"Heron" not in before
    assert b"Heron" in after


@pytest.mark.parametrize("name", FILES)
def test_another_teacher_finds_nothing(classroom: Classroom, challenge: ClassChallenge, name: str) -> None:
    other = Client()
    other.force_login(make_teacher("somebody else"))
    assert other.get(address(classroom, name)).status_code == 404


@pytest.mark.parametrize("name", FILES)
def test_a_substitute_and_a_tablet_are_sent_to_sign_in(
    classroom: Classroom, challenge: ClassChallenge, name: str
) -> None:
    for client in (substitute_client(classroom), team_client(classroom.teams.first()), Client()):
        answer = client.get(address(classroom, name))
        assert answer.status_code == 302
        assert "/sign-in/" in answer["Location"]


@pytest.mark.parametrize("name", ["nothing.csv", "gradebook.csv", "teams.xlsx", "../teams.csv"])
def test_a_file_that_does_not_exist_answers_404(
    classroom: Classroom, challenge: ClassChallenge, name: str
) -> None:
    assert teacher_client(classroom).get(address(classroom, name)).status_code == 404


@pytest.mark.parametrize("name", FILES)
def test_files_are_only_read(classroom: Classroom, challenge: ClassChallenge, name: str) -> None:
    assert teacher_client(classroom).post(address(classroom, name)).status_code == 405


def test_before_a_challenge_is_set_up_the_page_says_so(classroom: Classroom) -> None:
    client = teacher_client(classroom)
    assert b"Nothing to save yet" in client.get(address(classroom, "")).content
    for name in FILES[1:]:
        answer = client.get(address(classroom, name), follow=True)
        assert answer.redirect_chain == [(address(classroom, ""), 302)]
        assert b"no challenge yet" in answer.content


@pytest.mark.parametrize("name", FILES)
def test_a_file_takes_at_most_twenty_queries(
    classroom: Classroom, challenge: ClassChallenge, name: str, django_assert_max_num_queries: Any
) -> None:
    client = teacher_client(classroom)
    with django_assert_max_num_queries(20):
        client.get(address(classroom, name))

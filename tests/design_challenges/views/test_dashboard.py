"""The teacher's live page: what it shows, what it switches, and how little it asks the database."""

from __future__ import annotations

import pytest

from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def classroom():
    return builders.make_class(teams=2)


def test_it_shows_every_team(classroom):
    challenge = builders.make_challenge(classroom)
    builders.play_round(challenge, classroom.teams.first())
    page = builders.teacher_client(classroom).get(f"/classes/{classroom.code}/dashboard/")
    assert page.status_code == 200
    assert "Gannet" in page.content.decode()
    print(page.content.decode()[:200])
    page = builders.teacher_client(classroom).get(f"/classes/{classroom.code}/board/")
    assert page.status_code == 200
    page = builders.teacher_client(classroom).get(f"/classes/{classroom.code}/teams/{classroom.teams.first().pk}/work/")
    assert page.status_code == 200

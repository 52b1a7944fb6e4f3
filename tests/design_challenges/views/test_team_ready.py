"""The Ready step on a team's tablet: the checklist with its numbers, and being cleared to build."""

from __future__ import annotations

from typing import Any

import pytest

from classroom.models import Team
from design_challenges.models import ClassChallenge, Clearance
from design_challenges.services.saving import clear_team, start_round
from tests.builders import enter, make_challenge, make_class, plan_round, record_of
from tests.support.tablet import Tablet, at, hidden_fields, main_part, words

pytestmark = pytest.mark.django_db


def planned(radius: str = "7", **settings: Any) -> tuple[ClassChallenge, Team]:
    challenge = make_challenge(make_class(1), **settings)
    team = challenge.classroom.teams.get()
    plan_round(challenge, team, radius=radius)
    return challenge, team


def test_the_checklist_shows_what_holds_with_its_numbers() -> None:
    _challenge, team = planned()

    text = words(Tablet(team).get("/team/1/ready/"))

    assert "Everything is ready" in text
    assert "310 of 375 points: 65 to spare." in text
    assert "We are ready" in text


def test_a_missing_line_says_what_to_do_and_where() -> None:
    _challenge, team = planned("9", drawing_required=True)

    page = Tablet(team).get("/team/1/ready/")

    assert "411 of 375 points: 36 too many. Make something smaller." in words(page)
    assert 'href="/team/1/plan/sizes/"' in main_part(page)
    assert "Draw it, label it, then tick it off." in words(page)
    assert 'href="/team/1/plan/drawing/"' in main_part(page)
    assert "We are ready" not in words(page)


def test_a_team_that_is_not_ready_is_not_cleared() -> None:
    _challenge, team = planned("9")

    page = Tablet(team).post("/team/1/ready/")

    assert page.status_code == 422
    assert "Not ready yet" in words(page)
    assert "data-error-summary" in main_part(page)
    assert not Clearance.objects.exists()


def test_a_team_that_is_ready_is_cleared_once_with_the_figure_used() -> None:
    _challenge, team = planned()
    tablet = Tablet(team)
    fields = hidden_fields(tablet.get("/team/1/ready/"))

    page = tablet.post("/team/1/ready/", **fields)
    tablet.post("/team/1/ready/", **fields)
    tablet.post("/team/1/ready/")

    assert "Cleared to build!" in words(page)
    assert "310 of 375 points." in words(page)
    assert "Your teacher’s rules come first" in words(page)
    assert "Scissors" in words(page)
    clearance = Clearance.objects.get()
    assert (clearance.by, clearance.figure, clearance.figure_from, clearance.limit) == (
        "check",
        "310",
        "team",
        "375",
    )
    assert clearance.plan == {"canopy_radius": "7", "line_length": "13"}


def test_the_class_figure_counts_where_it_alone_is_inside_the_limit() -> None:
    _challenge, team = planned(values={"limit": "374"})
    tablet = Tablet(team)
    tablet.fill("/team/1/plan/sizes/", canopy_radius="9", line_length="10")
    tablet.fill("/team/1/plan/sums/", answer="255")
    tablet.fill("/team/1/plan/sums/", answer="375")

    tablet.fill("/team/1/ready/")

    clearance = Clearance.objects.get()
    assert (clearance.figure, clearance.figure_from) == ("374", "class")


def test_a_clearance_by_hand_shows_the_teacher_s_reason_and_opens_the_build() -> None:
    challenge = make_challenge(make_class(1))
    team = challenge.classroom.teams.get()
    start_round(challenge, team, 1)
    record = record_of(challenge, team)
    enter(
        challenge,
        lambda author: clear_team(
            record, "teacher", author, figure=None, figure_from="", reason="Told me aloud."
        ),
    )

    page = Tablet(team).get("/team/1/ready/")

    assert "Cleared to build!" in words(page)
    assert "Told me aloud." in words(page)
    assert at(Tablet(team).get("/team/")) == "/team/1/build/"


def test_ready_waits_for_the_plan() -> None:
    challenge = make_challenge(make_class(1))
    team = challenge.classroom.teams.get()
    start_round(challenge, team, 1)

    page = Tablet(team).get("/team/1/ready/")

    assert "Ready comes later" in words(page)

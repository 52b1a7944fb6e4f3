"""A team's way through the rounds: where it is, starting a round, help, jobs, the quiet check for changes."""

from __future__ import annotations

from typing import Any

import pytest
from django.utils import timezone

from classroom.models import Attendance, Device, Lesson, Team
from design_challenges.models import ClassChallenge, DesignIteration, HelpCall, Revision, StepGate, Submission
from design_challenges.services.entries import bump_revision
from design_challenges.services.help_calls import answer_call
from design_challenges.services.saving import start_round
from design_challenges.steps import Step
from tests.builders import clear_round, make_challenge, make_class, plan_round, play_round
from tests.support.tablet import Tablet, at, main_part, words

pytestmark = pytest.mark.django_db


@pytest.fixture
def challenge() -> ClassChallenge:
    return make_challenge(make_class(2))


@pytest.fixture
def team(challenge: ClassChallenge) -> Team:
    start_round(challenge, challenge.classroom.teams.get(place=1), 1)
    return challenge.classroom.teams.get(place=1)


@pytest.fixture
def tablet(team: Team) -> Tablet:
    return Tablet(team)


def open_round_two(challenge: ClassChallenge, *, team: Team | None = None) -> None:
    StepGate.objects.create(class_challenge=challenge, team=team, round=2, step=Step.PLAN, open=True)


# --- where the team is ------------------------------------------------------------------------


def test_it_goes_to_the_step_the_team_is_at(tablet: Tablet, challenge: ClassChallenge, team: Team) -> None:
    assert at(tablet.get("/team/")) == "/team/1/plan/purpose/"
    plan_round(challenge, team)
    tablet.post("/team/1/plan/drawing/", how="later")
    assert at(tablet.get("/team/")) == "/team/1/ready/"
    clear_round(challenge, team)
    assert at(tablet.get("/team/")) == "/team/1/build/"


def test_round_two_waits_until_the_teacher_opens_it(
    tablet: Tablet, challenge: ClassChallenge, team: Team
) -> None:
    play_round(challenge, team, 1)

    waiting = tablet.get("/team/")
    assert at(waiting) == "/team/2/start/"
    assert "Round 2 is not open yet" in words(waiting)
    assert tablet.post("/team/2/start/").status_code == 422
    assert DesignIteration.objects.filter(number=2).count() == 0
    open_round_two(challenge)
    assert "Start round 2" in words(tablet.get("/team/"))

    assert at(tablet.post("/team/2/start/")) == "/team/2/plan/change/"
    assert DesignIteration.objects.get(number=2).team == team


def test_round_two_can_be_open_for_one_team_alone(challenge: ClassChallenge) -> None:
    one, other = challenge.classroom.teams.all()
    play_round(challenge, one, 1)
    play_round(challenge, other, 1)
    open_round_two(challenge, team=other)

    assert "is not open yet" in words(Tablet(one).get("/team/2/start/"))
    assert "Start round 2" in words(Tablet(other).get("/team/2/start/"))


def test_a_round_cannot_be_skipped_or_started_past_the_last(
    tablet: Tablet, challenge: ClassChallenge, team: Team
) -> None:
    open_round_two(challenge)
    StepGate.objects.create(class_challenge=challenge, round=3, step=Step.PLAN, open=True)

    tablet.post("/team/2/start/")
    tablet.post("/team/3/start/")

    assert DesignIteration.objects.count() == 1


def test_after_the_last_round_it_says_so_and_leads_back(
    tablet: Tablet, challenge: ClassChallenge, team: Team
) -> None:
    play_round(challenge, team, 1)
    open_round_two(challenge)
    play_round(challenge, team, 2, radius="8")

    page = tablet.get("/team/")

    assert at(page) == "/team/finished/"
    assert "You have done it all" in words(page)
    assert 'href="/team/1/plan/"' in main_part(page)


def test_a_round_that_is_not_there_leads_back(tablet: Tablet) -> None:
    assert at(tablet.get("/team/7/plan/")) == "/team/1/plan/purpose/"


# --- help and jobs ----------------------------------------------------------------------------


def test_help_is_asked_for_once_and_called_off(tablet: Tablet, challenge: ClassChallenge) -> None:
    here = "/team/1/plan/purpose/"
    asked = tablet.post("/team/help/", asked="yes", next=here)
    tablet.post("/team/help/", asked="yes", next=here)

    assert at(asked) == here
    assert "Help is coming" in asked.content.decode()
    assert HelpCall.objects.filter(answered_at__isnull=True).count() == 1
    assert Revision.objects.get(class_challenge=challenge).number == 1
    fine = tablet.post("/team/help/", asked="no", next=here)
    tablet.post("/team/help/", asked="no", next=here)
    assert "We need help" in fine.content.decode()
    assert not HelpCall.objects.filter(answered_at__isnull=True).exists()
    assert Revision.objects.get(class_challenge=challenge).number == 2
    # Each tap is an entry, and is kept.
    assert Submission.objects.count() == 4


def test_help_can_be_asked_for_again_after_it_was_answered(
    tablet: Tablet, challenge: ClassChallenge, team: Team
) -> None:
    tablet.post("/team/help/", asked="yes")
    answer_call(challenge, team)

    tablet.post("/team/help/", asked="yes")

    assert HelpCall.objects.count() == 2


def test_the_jobs_are_passed_round_by_one_tap(tablet: Tablet) -> None:
    def jobs() -> str:
        return tablet.get("/team/1/plan/purpose/").content.decode().split('class="jobs"')[1].split("</ul>")[0]

    assert "measures</span> <strong>Ana A.</strong>" in jobs()

    tablet.post("/team/jobs/", next="/team/1/plan/purpose/")

    assert "measures</span> <strong>Bo A.</strong>" in jobs()


def test_a_child_who_is_away_has_no_job(tablet: Tablet, challenge: ClassChallenge, team: Team) -> None:
    lesson = Lesson.objects.create(classroom=challenge.classroom, number=1, started_at=timezone.now())
    away = team.members.get(student__given_name="Ana").student
    Attendance.objects.create(lesson=lesson, student=away, present=False)

    page = tablet.get("/team/1/plan/purpose/").content.decode()

    assert "Ana A." not in page
    assert "Bo A." in page


def test_buttons_go_back_to_pages_of_this_site_only(tablet: Tablet) -> None:
    response = tablet.client.post("/team/help/", {"asked": "yes", "next": "//elsewhere.example/"})

    assert response.headers["Location"] == "/team/"


@pytest.mark.parametrize("path", ["/team/help/", "/team/jobs/"])
def test_buttons_take_a_post_only(tablet: Tablet, path: str) -> None:
    assert tablet.client.get(path).status_code == 405


# --- the quiet check --------------------------------------------------------------------------


def pulse(tablet: Tablet, revision: int | str, was: str) -> Any:
    return tablet.client.get(
        "/team/pulse/",
        {"revision": revision, "was": was},
        headers={"HX-Request": "true", "HX-Current-URL": "http://testserver/team/1/plan/purpose/"},
    )


def state_of(tablet: Tablet) -> tuple[int, str]:
    context = tablet.get("/team/1/plan/purpose/").context
    return context["revision"], context["watched"]


def test_nothing_new_is_one_query_and_touches_nothing(
    tablet: Tablet, challenge: ClassChallenge, django_assert_num_queries: Any
) -> None:
    revision, was = state_of(tablet)

    with django_assert_num_queries(1):
        response = pulse(tablet, revision, was)

    assert response.status_code == 204
    assert response.content == b""


def test_another_team_s_save_is_no_news(tablet: Tablet, challenge: ClassChallenge) -> None:
    revision, was = state_of(tablet)
    bump_revision(challenge.pk)

    response = pulse(tablet, revision, was)

    assert response.status_code == 200
    assert "notice" not in response.content.decode()
    assert f"revision={revision + 1}" in response.content.decode()


def test_a_pause_is_told_with_a_way_on(tablet: Tablet, challenge: ClassChallenge) -> None:
    revision, was = state_of(tablet)
    ClassChallenge.objects.update(paused_at=timezone.now())
    bump_revision(challenge.pk)

    text = pulse(tablet, revision, was).content.decode()

    assert "Your teacher paused the tablets." in text
    assert 'href="/team/1/plan/purpose/"' in text
    assert 'data-announce="Your teacher paused the tablets."' in text


def test_an_open_step_a_clearance_and_an_answer_are_told(
    tablet: Tablet, challenge: ClassChallenge, team: Team
) -> None:
    tablet.post("/team/help/", asked="yes")
    plan_round(challenge, team)
    revision, was = state_of(tablet)
    answer_call(challenge, team)
    assert "Your teacher has seen your call." in pulse(tablet, revision, was).content.decode()

    open_round_two(challenge)
    bump_revision(challenge.pk)
    assert "Your teacher opened a step." in pulse(tablet, revision, was).content.decode()

    clear_round(challenge, team)
    assert "You are cleared to build!" in pulse(tablet, revision, was).content.decode()


def test_news_stays_until_the_page_is_opened_again(tablet: Tablet, challenge: ClassChallenge) -> None:
    revision, was = state_of(tablet)
    ClassChallenge.objects.update(paused_at=timezone.now())
    bump_revision(challenge.pk)
    pulse(tablet, revision, was)
    bump_revision(challenge.pk)

    again = pulse(tablet, revision + 1, was)

    assert "Your teacher paused the tablets." in again.content.decode()


def test_a_nonsense_state_is_no_news(tablet: Tablet, challenge: ClassChallenge) -> None:
    response = pulse(tablet, "x", "<script>")

    assert response.status_code == 200
    assert "notice" not in response.content.decode()
    assert "<script>" not in response.content.decode()


def test_a_signed_out_tablet_is_sent_to_the_door_by_htmx(tablet: Tablet) -> None:
    Device.objects.update(revoked_at=timezone.now())

    response = pulse(tablet, 0, "")

    assert response.status_code == 200
    assert response.headers["HX-Redirect"].startswith("/join/?next=%2Fteam%2F1%2Fplan%2Fpurpose%2F")


# --- looking back -----------------------------------------------------------------------------


def test_every_page_of_round_two_leads_back_to_look_at_round_one(
    tablet: Tablet, challenge: ClassChallenge, team: Team
) -> None:
    play_round(challenge, team, 1)
    assert "Look at our results" not in tablet.get("/team/1/plan/").content.decode()
    open_round_two(challenge)
    tablet.post("/team/2/start/")

    page = tablet.get("/team/2/plan/change/").content.decode()

    assert 'href="/team/1/plan/"' in page
    assert 'href="/team/1/results/"' in page
    back = tablet.get("/team/1/plan/").content.decode()
    assert "Back to where we are" in back
    assert "Canopy radius 7" in words(tablet.get("/team/1/plan/"))

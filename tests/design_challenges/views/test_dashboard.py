"""The teacher's live page: who may see it, what its taps do, and how little a poll asks of the database."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from classroom.access import SUBSTITUTE_COOKIE
from classroom.codes import hash_token, make_token
from classroom.models import Classroom, Device, SubstitutePass
from design_challenges.models import HelpCall, StepGate
from design_challenges.services import saving
from design_challenges.services.records import find_challenge
from tests import builders

pytestmark = pytest.mark.django_db
HTMX = {"HTTP_HX_REQUEST": "true"}


@pytest.fixture
def classroom() -> Classroom:
    return builders.make_class(teams=2)


@pytest.fixture
def challenge(classroom: Classroom) -> Any:
    return builders.make_challenge(classroom)


@pytest.fixture
def teacher(classroom: Classroom) -> Client:
    return builders.teacher_client(classroom)


def url(classroom: Classroom, more: str = "") -> str:
    return f"/classes/{classroom.code}/dashboard/{more}"


def text_of(response: Any) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode()))


def poll_url(page: Any) -> str:
    found = re.search(r'id="live" hx-get="([^"]+)"', page.content.decode())
    assert found
    return found[1].replace("&amp;", "&")


def substitute_client(classroom: Classroom) -> Client:
    until = timezone.now() + timedelta(hours=3)
    card = SubstitutePass.objects.create(classroom=classroom, token_hash="x" * 64, expires_at=until)
    token = make_token()
    Device.objects.create(
        token_hash=hash_token(token),
        classroom=classroom,
        role=Device.Role.SUBSTITUTE,
        substitute_pass=card,
        expires_at=until,
        last_seen_at=timezone.now(),
    )
    client = Client()
    client.cookies[SUBSTITUTE_COOKIE] = token
    return client


def played(teams: int) -> Classroom:
    """Return a class in which every team has finished round 1 and planned round 2."""
    classroom = builders.make_class(teams=teams)
    challenge = builders.make_challenge(classroom, sums_by="software")
    for team in classroom.teams.all():
        builders.play_round(challenge, team)
        builders.plan_round(challenge, team, 2, line="12")
    return classroom


# --- who may see it ---


def test_a_signed_out_visitor_is_sent_to_sign_in(classroom, challenge, client):
    response = client.get(url(classroom))
    assert response.status_code == 302
    assert "/sign-in/" in response["Location"]


def test_a_teacher_of_another_class_finds_nothing(classroom, challenge):
    other = builders.teacher_client(builders.make_class(teams=0))
    assert other.get(url(classroom)).status_code == 404
    assert other.post(url(classroom, "pause/"), {"paused": "yes"}).status_code == 404


def test_a_teams_tablet_does_not_get_in(classroom, challenge):
    tablet = builders.team_client(classroom.teams.first())
    assert tablet.get(url(classroom)).status_code == 302
    assert tablet.post(url(classroom, "pause/"), {"paused": "yes"}).status_code == 302
    challenge.refresh_from_db()
    assert challenge.paused_at is None


def test_a_substitute_sees_it_without_the_gradebook(classroom, challenge):
    page = substitute_client(classroom).get(url(classroom))
    assert page.status_code == 200
    assert "Gannet" in text_of(page)
    assert "gradebook" not in page.content.decode()


def test_taps_refuse_get(classroom, challenge, teacher):
    team = classroom.teams.first()
    for more in ("pause/", "joining/", "gate/", f"help/{team.pk}/"):
        assert teacher.get(url(classroom, more)).status_code == 405


# --- what it shows ---


def test_every_team_stands_there_in_team_order(classroom, challenge, teacher):
    builders.play_round(challenge, classroom.teams.first())
    text = text_of(teacher.get(url(classroom)))
    assert text.index("Gannet") < text.index("Heron")
    assert "1 of 2 teams in" in text
    assert "Cleared: 310 of 375 points" in text
    assert "Fall speed 3.7 ft/s" in text
    assert "3.7 ft/s in round 1, round 2 still to come" in text


def test_before_a_challenge_is_set_up_it_leads_to_the_setup(classroom, teacher):
    page = teacher.get(url(classroom))
    assert "No challenge is set up yet" in text_of(page)
    assert 'id="live"' not in page.content.decode()


def test_before_there_are_teams_it_leads_to_the_teams():
    classroom = builders.make_class(teams=0)
    builders.make_challenge(classroom)
    page = builders.teacher_client(classroom).get(url(classroom))
    assert "There are no teams yet" in text_of(page)


def test_wrong_codes_are_counted_there(classroom, challenge, teacher):
    Classroom.objects.update(wrong_codes=3)
    assert "3 wrong codes typed" in text_of(teacher.get(url(classroom)))


def test_the_picture_can_be_put_in_another_order(classroom, challenge, teacher):
    gannet, heron = classroom.teams.all()
    builders.play_round(challenge, gannet, hundredths=(300, 300, 300))
    builders.play_round(challenge, heron, hundredths=(420, 420, 420))
    for order, first in (("first", "Heron"), ("team", "Gannet"), ("no such", "Gannet")):
        page = teacher.get(url(classroom, f"?order={order}"))
        table = page.content.decode().split('id="both-rounds-table"')[1]
        assert re.search(r'<tbody><tr><th scope="row">(\w+)', table)[1] == first


def test_without_a_figure_the_picture_says_so(classroom, challenge, teacher):
    page = teacher.get(url(classroom))
    assert "The picture is drawn as soon as one team’s drops are in." in text_of(page)
    assert "data-figure" not in page.content.decode()


# --- polling ---


def test_a_poll_with_nothing_new_is_a_204_in_three_queries(
    classroom, challenge, teacher, half_minute, django_assert_num_queries
):
    poll = poll_url(teacher.get(url(classroom)))
    with django_assert_num_queries(3):
        response = teacher.get(poll, **HTMX)
    assert (response.status_code, response.content) == (204, b"")


def test_a_substitutes_poll_with_nothing_new_is_a_204_in_three_queries(
    classroom, challenge, half_minute, django_assert_max_num_queries
):
    substitute = substitute_client(classroom)
    poll = poll_url(substitute.get(url(classroom)))
    with django_assert_max_num_queries(3):
        assert substitute.get(poll, **HTMX).status_code == 204


def test_a_poll_after_an_entry_brings_the_live_part_alone(classroom, challenge, teacher, half_minute):
    poll = poll_url(teacher.get(url(classroom)))
    saving_team = classroom.teams.first()
    builders.plan_round(challenge, saving_team)
    page = teacher.get(poll, **HTMX)
    assert page.status_code == 200
    assert page.content.decode().startswith('<div id="live"')
    assert "<html" not in page.content.decode()
    assert "All ready, not cleared yet" in text_of(page)
    assert poll_url(page) != poll
    assert teacher.get(poll_url(page), **HTMX).status_code == 204


def test_wrong_codes_come_with_a_poll_though_no_entry_was_made(classroom, challenge, teacher):
    poll = poll_url(teacher.get(url(classroom)))
    Classroom.objects.update(wrong_codes=1)
    assert "1 wrong code typed" in text_of(teacher.get(poll, **HTMX))


def test_the_times_on_it_are_brought_up_to_date_every_half_minute(classroom, challenge, teacher, monkeypatch):
    HelpCall.objects.create(class_challenge=challenge, team=classroom.teams.first())
    poll = poll_url(teacher.get(url(classroom)))
    from design_challenges.views import live

    later = live.time() + live.CLOCK_GRAIN_S
    monkeypatch.setattr(live, "time", lambda: later)
    assert teacher.get(poll, **HTMX).status_code == 200


def test_a_poll_keeps_the_order_of_the_picture(classroom, challenge, teacher):
    assert "order=first" in poll_url(teacher.get(url(classroom, "?order=first")))


def test_a_signed_out_poll_is_sent_to_sign_in_as_a_whole(classroom, challenge, teacher):
    poll = poll_url(teacher.get(url(classroom)))
    response = Client().get(poll, **HTMX, HTTP_HX_CURRENT_URL=f"http://testserver{url(classroom)}")
    assert response.status_code == 200
    assert "/sign-in/" in response["HX-Redirect"]


def test_it_asks_at_most_twenty_queries_the_same_at_8_and_at_40_teams():
    asked = []
    for teams in (8, 40):
        classroom = played(teams)
        teacher = builders.teacher_client(classroom)
        with CaptureQueriesContext(connection) as queries:
            assert teacher.get(url(classroom)).status_code == 200
        asked.append(len(queries))
    assert asked[0] == asked[1] <= 20, asked


# --- taps ---


def test_pausing_and_going_on(classroom, challenge, teacher):
    before = challenge.revision.number
    assert teacher.post(url(classroom, "pause/"), {"paused": "yes"}).status_code == 302
    challenge = find_challenge(classroom)
    assert challenge.paused_at is not None
    assert challenge.revision.number == before + 1
    since = challenge.paused_at
    teacher.post(url(classroom, "pause/"), {"paused": "yes"})
    assert find_challenge(classroom).paused_at == since
    assert "All tablets are paused" in text_of(teacher.get(url(classroom)))
    teacher.post(url(classroom, "pause/"), {"paused": "no"})
    assert find_challenge(classroom).paused_at is None


def test_a_tap_from_a_live_page_swaps_nothing_and_lets_it_fetch(classroom, challenge, teacher):
    response = teacher.post(url(classroom, "pause/"), {"paused": "yes"}, **HTMX)
    assert (response.status_code, response["HX-Trigger"]) == (204, "changed")


def test_a_tap_goes_back_to_the_page_it_stands_on_and_never_to_another_host(classroom, challenge, teacher):
    for wanted, found in (
        (f"/classes/{classroom.code}/board/", f"/classes/{classroom.code}/board/"),
        ("https://elsewhere.example/", url(classroom)),
    ):
        response = teacher.post(url(classroom, "pause/"), {"paused": "no", "next": wanted})
        assert response["Location"] == found


def test_closing_and_opening_a_step_for_the_class(classroom, challenge, teacher):
    teacher.post(url(classroom, "gate/"), {"gate": "1:build:close"})
    gate = StepGate.objects.get()
    assert (gate.team, gate.round, gate.step, gate.open) == (None, 1, "build", False)
    teacher.post(url(classroom, "gate/"), {"gate": "1:build:open"})
    assert [gate.open for gate in StepGate.objects.all()] == [True]


def test_opening_round_2_opens_its_six_steps(classroom, challenge, teacher):
    assert "Open round 2" in text_of(teacher.get(url(classroom)))
    teacher.post(url(classroom, "gate/"), {"gate": "2:all:open"})
    assert StepGate.objects.filter(round=2, open=True).count() == 6
    assert "Close all of round 2" in text_of(teacher.get(url(classroom)))


def test_a_step_can_be_closed_for_one_team_alone(classroom, challenge, teacher):
    team = classroom.teams.last()
    teacher.post(url(classroom, "gate/"), {"gate": "1:test:close", "team": team.pk})
    gate = StepGate.objects.get()
    assert (gate.team, gate.step, gate.open) == (team, "test", False)


@pytest.mark.parametrize("gate", ["", "1:test", "9:test:open", "x:test:open", "1:none:open", "1:test:ajar"])
def test_a_gate_that_no_button_names_is_refused(classroom, challenge, teacher, gate):
    assert teacher.post(url(classroom, "gate/"), {"gate": gate}).status_code == 404
    assert not StepGate.objects.exists()


def test_a_team_of_another_class_cannot_be_switched(classroom, challenge, teacher):
    stranger = builders.make_class(teams=1).teams.get()
    data = {"gate": "1:test:close", "team": stranger.pk}
    assert teacher.post(url(classroom, "gate/"), data).status_code == 404
    assert teacher.post(url(classroom, f"help/{stranger.pk}/")).status_code == 404
    assert not StepGate.objects.exists()


def test_answering_help_ends_the_call(classroom, challenge, teacher):
    team = classroom.teams.first()
    HelpCall.objects.create(class_challenge=challenge, team=team)
    assert "1 team asks for help" in text_of(teacher.get(url(classroom)))
    teacher.post(url(classroom, f"help/{team.pk}/"))
    assert HelpCall.objects.get().answered_at is not None
    assert "asks for help" not in text_of(teacher.get(url(classroom)))


def test_opening_joining_begins_a_new_count_of_wrong_codes(classroom, challenge, teacher):
    Classroom.objects.update(joining_open=True, wrong_codes=4)
    teacher.post(url(classroom, "joining/"), {"open": "no"})
    classroom.refresh_from_db()
    assert (classroom.joining_open, classroom.wrong_codes) == (False, 4)
    teacher.post(url(classroom, "joining/"), {"open": "yes"})
    classroom.refresh_from_db()
    assert (classroom.joining_open, classroom.wrong_codes) == (True, 0)


def test_an_archived_class_can_be_read_and_not_switched(classroom, challenge, teacher):
    Classroom.objects.update(archived_at=timezone.now())
    assert teacher.get(url(classroom)).status_code == 200
    assert teacher.post(url(classroom, "pause/"), {"paused": "yes"}).status_code == 422
    assert find_challenge(classroom).paused_at is None


def test_a_team_name_is_never_markup(classroom, challenge, teacher):
    team = classroom.teams.first()
    team.name = "<b>'\"&amp;"
    team.save()
    builders.play_round(challenge, team)
    page = teacher.get(url(classroom)).content.decode()
    assert "<b>'" not in page
    assert "&lt;b&gt;" in page


def test_two_times_for_one_drop_are_said(classroom, challenge, teacher):
    team = classroom.teams.first()
    iteration = builders.plan_round(challenge, team)
    builders.clear_round(challenge, team)
    builders.build_round(challenge, team)
    for time in (412, 421):
        builders.enter(challenge, lambda author, t=time: saving.save_reading(iteration, 1, t, author, seen=0))
    assert "1 second time to settle" in text_of(teacher.get(url(classroom)))


def test_a_kept_card_carries_the_token_of_whoever_asks_and_changes_with_its_team(
    classroom: Classroom, challenge: Any, teacher: Client
) -> None:
    team = classroom.teams.order_by("place")[0]
    builders.play_round(challenge, team, 1)

    def card(client: Client) -> str:
        page = client.get(url(classroom)).content.decode()
        return page[page.index(f'id="team-{team.pk}"') :].partition("</details>")[0]

    strict = Client(enforce_csrf_checks=True)
    strict.cookies = substitute_client(classroom).cookies
    tokens = [re.findall(r'csrfmiddlewaretoken" value="(\w{64})"', card(one)) for one in (teacher, strict)]
    assert [len(found) for found in tokens] == [1, 1]
    assert tokens[0] != tokens[1]
    body = {"gate": "1:plan:close", "team": str(team.pk), "csrfmiddlewaretoken": tokens[0][0]}
    gate = url(classroom, "gate/")
    assert strict.post(gate, body).status_code == 403
    assert strict.post(gate, body | {"csrfmiddlewaretoken": tokens[1][0]}).status_code == 302
    assert "Plan is closed" not in card(teacher)
    assert 'value="1:plan:open"' in card(teacher)
    HelpCall.objects.create(class_challenge=challenge, team=team)
    assert "pill-help" in card(teacher)

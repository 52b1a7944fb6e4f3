"""The front door: two codes or a team card's link, while joining is open."""

from __future__ import annotations

from typing import Any

import pytest
from django.utils import timezone

from classroom.access import TEAM_COOKIE
from classroom.models import Classroom, Device, Team, WrongTry
from design_challenges.models import DesignIteration, Revision
from tests.builders import make_challenge, make_class, teacher_client, team_client
from tests.support.tablet import words

pytestmark = pytest.mark.django_db


@pytest.fixture
def classroom() -> Classroom:
    return make_class(2)


@pytest.fixture
def team(classroom: Classroom) -> Team:
    return classroom.teams.get(place=1)


def codes(team: Team, **more: str) -> dict[str, str]:
    return {"class_code": team.classroom.code, "team_code": team.code, **more}


def test_home_has_a_door_for_teams_and_one_for_teachers(client: Any) -> None:
    page = client.get("/")

    assert page.status_code == 200
    assert 'name="class_code"' in page.content.decode()
    assert 'href="/sign-in/"' in page.content.decode()


def test_the_code_fields_leave_codes_alone(client: Any) -> None:
    page = client.get("/join/").content.decode()

    for switch in (
        'autocapitalize="characters"',
        'autocorrect="off"',
        'autocomplete="off"',
        'spellcheck="false"',
    ):
        assert page.count(switch) == 2


def test_both_codes_let_a_tablet_into_its_team(client: Any, team: Team) -> None:
    response = client.post("/join/", codes(team))

    assert response.status_code == 302
    cookie = response.cookies[TEAM_COOKIE]
    assert cookie["httponly"]
    assert cookie["samesite"] == "Lax"
    assert Device.objects.get().team == team
    assert cookie.value not in str(Device.objects.values().get()), "only the token's digest is kept"


@pytest.mark.parametrize(
    "change", [str.lower, lambda code: f" {code[:2]} {code[2:]} ", lambda code: f"{code[:3]}-{code[3:]}"]
)
def test_codes_are_tidied_up(client: Any, team: Team, change: Any) -> None:
    response = client.post(
        "/join/", {"class_code": change(team.classroom.code), "team_code": change(team.code)}
    )

    assert response.status_code == 302
    assert Device.objects.get().team == team


def test_joining_begins_round_one_and_tells_whoever_watches(client: Any, team: Team) -> None:
    challenge = make_challenge(team.classroom)

    client.post("/join/", codes(team))

    assert DesignIteration.objects.get().number == 1
    assert Revision.objects.get(class_challenge=challenge).number == 1
    client.post("/join/", codes(team))
    assert DesignIteration.objects.count() == 1


def test_joining_before_the_challenge_is_set_up_waits_for_it(client: Any, team: Team) -> None:
    page = client.post("/join/", codes(team), follow=True)

    assert "The challenge is not ready yet" in words(page)
    make_challenge(team.classroom)
    assert client.get("/team/", follow=True).request["PATH_INFO"] == "/team/1/start/"
    started = client.post("/team/1/start/", follow=True)
    assert started.request["PATH_INFO"] == "/team/1/plan/purpose/"


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({"class_code": "", "team_code": ""}, "Type the class code from your team card."),
        ({"class_code": "NOSUCH", "team_code": "NOSUCH"}, "No class has this code."),
        ({"class_code": "A" * 200, "team_code": "B"}, "That is too long for a code."),
    ],
)
def test_a_code_that_will_not_do_is_said_beside_it_and_above_and_kept(
    client: Any, sent: dict[str, str], said: str
) -> None:
    response = client.post("/join/", sent)

    assert response.status_code == 422
    assert words(response).count(said) >= 2
    assert "data-error-summary" in response.content.decode()
    assert f'value="{sent["class_code"]}"' in response.content.decode() or not sent["class_code"]


def test_a_wrong_team_code_is_counted_and_locks_nobody_out(client: Any, team: Team) -> None:
    challenge = make_challenge(team.classroom)
    for _try in range(30):
        response = client.post("/join/", codes(team, team_code="WRNG-WRNG-WRNG"))
        assert response.status_code == 422
        WrongTry.objects.filter(door="pace").delete()  # a child is not as fast as this test

    assert f"No team of {team.classroom.name} has this code." in words(response)
    team.classroom.refresh_from_db()
    assert team.classroom.wrong_codes == 30
    assert Revision.objects.get(class_challenge=challenge).number == 30, "the teacher's page shows it"
    assert client.post("/join/", codes(team)).status_code == 302


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("ACDEFG", "ask your teacher for a new one"),
        ("ACDE FGHJ KMN", "A team code has 12 letters and numbers, this has 11."),
        ("ACDE FGHJ KMNPQ", "this has 13. Look at your card, letter by letter."),
    ],
)
def test_a_code_of_another_length_is_told_so(client: Any, team: Team, typed: str, said: str) -> None:
    response = client.post("/join/", codes(team, team_code=typed))

    assert response.status_code == 422
    assert said in words(response)
    assert f'value="{typed}"' in response.content.decode()


def test_the_code_of_another_class_s_team_lets_nobody_in(client: Any, team: Team) -> None:
    stranger = make_class(1, name="Room 6").teams.get()

    response = client.post("/join/", codes(team, team_code=stranger.code))

    assert response.status_code == 422
    assert not Device.objects.exists()


def test_joining_is_refused_while_it_is_closed(client: Any, team: Team) -> None:
    Classroom.objects.update(joining_open=False)

    response = client.post("/join/", codes(team))

    assert response.status_code == 422
    assert "Ask your teacher to open joining" in words(response)
    assert team.code in response.content.decode(), "what was typed is kept"
    assert not Device.objects.exists()
    Classroom.objects.update(joining_open=True)
    assert client.post("/join/", codes(team)).status_code == 302


def test_a_wrong_code_while_joining_is_closed_is_not_counted(client: Any, team: Team) -> None:
    Classroom.objects.update(joining_open=False)

    client.post("/join/", codes(team, team_code="WRONG1"))

    team.classroom.refresh_from_db()
    assert team.classroom.wrong_codes == 0


def test_an_archived_class_and_a_retired_team_are_gone(client: Any, team: Team) -> None:
    Team.objects.filter(pk=team.pk).update(retired_at=timezone.now())
    assert client.post("/join/", codes(team)).status_code == 422
    Team.objects.update(retired_at=None)
    Classroom.objects.update(archived_at=timezone.now())
    assert "No class has this code" in words(client.post("/join/", codes(team)))


# --- the link on the card ---------------------------------------------------------------------


def test_a_card_s_link_asks_first_and_joins_by_a_post(client: Any, team: Team) -> None:
    link = f"/join/{team.classroom.code}/{team.code}/"

    asked = client.get(link)

    assert f"You are {team.name}" in words(asked)
    assert team.classroom.name in words(asked)
    assert not Device.objects.exists(), "a link that is only opened lets nobody in"
    assert client.post(link).status_code == 302
    assert Device.objects.get().team == team


def test_a_card_s_link_that_does_not_fit_offers_the_codes(client: Any, team: Team) -> None:
    page = client.get(f"/join/{team.classroom.code}/ACDEFGHJKMNP/")

    assert "has this code" in words(page)
    assert f'value="{team.classroom.code}"' in page.content.decode()
    team.classroom.refresh_from_db()
    assert team.classroom.wrong_codes == 1, "a guess by a link is a guess"


def test_the_link_of_the_team_it_is_in_goes_straight_on(team: Team) -> None:
    response = team_client(team).get(f"/join/{team.classroom.code}/{team.code}/")

    assert response.headers["Location"] == "/team/"


# --- going on and leaving -----------------------------------------------------------------------


def test_after_joining_it_goes_on_where_it_was(client: Any, team: Team) -> None:
    response = client.post("/join/", codes(team, next="/team/1/plan/idea-a/"))

    assert response.headers["Location"] == "/team/1/plan/idea-a/"


@pytest.mark.parametrize(
    "evil", ["https://elsewhere.example/", "//elsewhere.example/", "javascript:alert(1)", "team"]
)
def test_it_goes_on_to_pages_of_this_site_only(client: Any, team: Team, evil: str) -> None:
    response = client.post("/join/", codes(team, next=evil))

    assert response.headers["Location"] == "/team/welcome/"


def test_a_tablet_in_a_team_goes_from_home_to_its_team(team: Team) -> None:
    assert team_client(team).get("/").headers["Location"] == "/team/"


def test_a_signed_in_teacher_goes_from_home_to_the_classes(classroom: Classroom) -> None:
    assert teacher_client(classroom).get("/").headers["Location"] == "/classes/"


def test_a_browser_that_is_both_is_shown_both_doors(classroom: Classroom, team: Team) -> None:
    both = teacher_client(classroom)
    both.cookies[TEAM_COOKIE] = team_client(team).cookies[TEAM_COOKIE].value

    page = both.get("/")

    assert page.status_code == 200
    assert f"This tablet is with team {team.name}" in words(page)
    assert 'href="/classes/"' in page.content.decode()


def test_not_us_asks_first_and_then_leaves(team: Team) -> None:
    tablet = team_client(team)

    assert f"Are you not {team.name}?" in words(tablet.get("/leave/"))
    assert Device.objects.get().revoked_at is None
    left = tablet.post("/leave/")

    assert left.headers["Location"] == "/"
    assert Device.objects.get().revoked_at is not None
    assert tablet.get("/team/").headers["Location"].startswith("/join/")


def test_joining_another_team_takes_the_tablet_out_of_the_first(classroom: Classroom, team: Team) -> None:
    tablet = team_client(team)

    tablet.post("/join/", codes(classroom.teams.get(place=2)))

    assert Device.objects.get(team=team).revoked_at is not None
    assert tablet.cookies[TEAM_COOKIE].value


def test_a_teacher_stays_signed_in_when_the_browser_joins_and_leaves(
    classroom: Classroom, team: Team
) -> None:
    browser = teacher_client(classroom)
    browser.post("/join/", codes(team))
    browser.post("/leave/")

    assert browser.get(f"/classes/{classroom.code}/").status_code == 200

"""The children's page of changes, twins, the day and how sure: what is said, and what is not shown yet."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from classroom.access import SUBSTITUTE_COOKIE
from design_challenges.services import saving
from design_challenges.services.records import find_challenge
from tests import builders
from tests.support import site
from tests.support.small_rounds import drop_only

pytestmark = pytest.mark.django_db
HTMX = {"headers": {"HX-Request": "true"}}
LONGER = "All 3 drops of build 2 took longer than all 3 of build 1."


@pytest.fixture
def classroom():
    return builders.make_class(teams=2)


@pytest.fixture
def challenge(classroom):
    return builders.make_challenge(classroom, sums_by="software")


@pytest.fixture
def teacher(classroom):
    return builders.teacher_client(classroom)


@pytest.fixture
def both(classroom, challenge):
    gannet, heron = classroom.teams.all()
    drop_only(challenge, gannet, 1, (300, 304, 296))
    drop_only(challenge, gannet, 2, (350, 356, 361), line="11")
    drop_only(challenge, heron, 1, (330, 334, 326))
    drop_only(challenge, heron, 2, (331, 338, 320), line="10")
    return challenge


def url(classroom, more=""):
    return f"/classes/{classroom.code}/board/changes/{more}"


def text_of(answer):
    return answer.content.decode()


def test_a_class_s_adults_see_it_and_nobody_else(client, classroom, both, teacher):
    assert teacher.get(url(classroom)).status_code == 200
    assert client.get(url(classroom)).status_code == 302
    stranger = builders.teacher_client(builders.make_class(teams=0, name="Another"))
    assert stranger.get(url(classroom)).status_code == 404
    client.cookies[SUBSTITUTE_COOKIE] = site.let_substitute_in(classroom)
    assert client.get(url(classroom)).status_code == 200


def test_each_drop_is_a_dot_and_what_is_seen_is_said(classroom, both, teacher):
    page = text_of(teacher.get(url(classroom)))
    assert page.count('class="dot-1"') == page.count('class="dot-2"') == 6
    assert LONGER in page
    assert "The drops overlap. That is normal with 3." in page
    assert "Gannet: Build 1: 3.00, 3.04, 2.96 s. Build 2: 3.50, 3.56, 3.61 s." in page
    for jargon in ("interval", "p =", "p &lt;", "better"):
        assert jargon not in page.split('id="changes-live"')[1]


def test_with_two_drops_against_three_only_the_dots_stand(classroom, challenge, teacher):
    team = classroom.teams.first()
    drop_only(challenge, team, 1, (300, 304))
    drop_only(challenge, team, 2, (350, 356, 361))
    builders.enter(
        challenge,
        lambda author: saving.save_note(
            builders.record_of(challenge, team, 1).iteration, "broke", "no_more", author
        ),
    )
    page = text_of(teacher.get(url(classroom)))
    assert (page.count('class="dot-1"'), page.count('class="dot-2"')) == (2, 3)
    assert "took longer" not in page


def test_a_team_that_has_not_worked_its_figure_out_is_not_shown(classroom, teacher):
    challenge = builders.make_challenge(classroom)
    gannet, heron = classroom.teams.all()
    for team in (gannet, heron):
        drop_only(challenge, team, 1, (300, 304, 296))
        drop_only(challenge, team, 2, (350, 356, 361))
    assert "No team has finished both rounds yet." in text_of(teacher.get(url(classroom)))
    assert "No two teams have made" in text_of(teacher.get(url(classroom, "?view=twins")))
    for number in (1, 2):
        builders.work_results(challenge, gannet, number)
    page = text_of(teacher.get(url(classroom)))
    assert "Gannet: Build 1" in page
    assert "Heron: Build 1" not in page
    assert "No two teams have made" in text_of(teacher.get(url(classroom, "?view=twins")))


def test_it_is_covered_with_the_figure_and_shown_with_it(classroom, both, teacher):
    cover = f"/classes/{classroom.code}/board/cover/"
    teacher.post(cover, {"column": "figure", "covered": "yes"})
    for view in ("changes", "twins", "sure", "day"):
        page = text_of(teacher.get(url(classroom, f"?view={view}")))
        assert "guess first" in page
        assert "dot-1" not in page
        assert "3.50" not in page
    teacher.post(cover, {"column": "figure", "covered": "no"})
    assert LONGER in text_of(teacher.get(url(classroom)))


def test_a_covered_team_is_guessed_first_and_is_no_twin(classroom, both, teacher):
    gannet, _heron = classroom.teams.all()
    cover = f"/classes/{classroom.code}/board/cover/"
    teacher.post(cover, {"column": f"team-{gannet.pk}", "covered": "yes"})
    page = text_of(teacher.get(url(classroom)))
    assert "<strong>Gannet</strong>" in page
    assert "Covered for now: guess first." in page
    assert "3.50" not in page
    assert page.count('class="dot-1"') == 3
    assert "No two teams have made" in text_of(teacher.get(url(classroom, "?view=twins")))
    teacher.post(cover, {"column": f"team-{gannet.pk}", "covered": "no"})
    assert LONGER in text_of(teacher.get(url(classroom)))


def test_twins_stand_side_by_side_with_the_spread_of_their_drops(classroom, both, teacher):
    page = text_of(teacher.get(url(classroom, "?view=twins")))
    assert "Gannet’s build 1 and Heron’s build 1 made the same design" in page
    assert page.count('class="line-span"') == 2
    assert "Canopy diameter 14" in page
    cover = f"/classes/{classroom.code}/board/cover/"
    teacher.post(cover, {"column": "canopy_diameter", "covered": "yes"})
    assert "Canopy diameter 14" not in text_of(teacher.get(url(classroom, "?view=twins")))


def test_how_sure_is_three_by_the_class_s_own_scatter(classroom, both, teacher):
    page = text_of(teacher.get(url(classroom, "?view=sure")))
    for count in ("1 drop", "mean of 2 drops", "mean of 3 drops", "mean of 5 drops", "mean of 10 drops"):
        assert f"<strong>{count}</strong>" in page
    assert "The mean of 3 drops wanders" in page


def test_teams_are_letters_where_that_is_asked_for(classroom, both, teacher):
    for address in (url(classroom, "?letters=yes"), f"/classes/{classroom.code}/board/?letters=yes"):
        page = text_of(teacher.get(address))
        assert "Gannet" not in page
        assert "<strong>A</strong>" in page or '<th scope="row">A</th>' in page
    assert "Gannet" in text_of(teacher.get(url(classroom)))


def test_before_anything_is_there_it_says_so(classroom, teacher):
    assert "No challenge is set up yet" in text_of(teacher.get(url(classroom)))
    builders.make_challenge(classroom)
    said = {
        "changes": "No team has finished both rounds yet.",
        "twins": "No two teams have made the same design yet.",
        "sure": "No device was dropped twice yet",
        "day": "has not been dropped yet",
    }
    for view, sentence in said.items():
        assert sentence in text_of(teacher.get(url(classroom, f"?view={view}")))


def test_a_poll_with_nothing_new_is_a_204_in_three_queries(
    classroom, both, teacher, django_assert_num_queries
):
    revision = find_challenge(classroom).revision.number
    with django_assert_num_queries(3):
        answer = teacher.get(url(classroom, f"?revision={revision}"), **HTMX)
    assert (answer.status_code, answer.content) == (204, b"")
    news = teacher.get(url(classroom, "?revision=0"), **HTMX)
    assert text_of(news).startswith('<div id="changes-live"')


def test_more_teams_than_fit_a_wall_go_on_pages_with_one_axis(classroom, both):
    other = builders.make_class(teams=8, name="Many")
    builders.make_challenge(other, sums_by="software")
    site.add_to_class(other, classroom.teams.first(), list(other.teams.all()))
    reader = builders.teacher_client(other)
    with CaptureQueriesContext(connection) as queries:
        first = text_of(reader.get(url(other)))
    assert len(queries) <= 20
    second = text_of(reader.get(url(other, "?page=2")))
    assert first.count(LONGER) == second.count(LONGER) == 4
    axis = 'text-anchor="middle">'
    assert [part[:4] for part in first.split(axis)] != []
    assert [part[:4] for part in first.split(axis)][1:] == [part[:4] for part in second.split(axis)][1:]

"""The class board's page: who may open it, what is covered, its pages, its taps and its polls."""

from __future__ import annotations

import json
import re
from html import unescape
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from classroom.models import Classroom
from design_challenges.models import ClassChallenge
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
    return f"/classes/{classroom.code}/board/{more}"


def poll_url(page: Any) -> str:
    found = re.search(r'id="board-live" hx-get="([^"]+)"', page.content.decode())
    assert found
    return found[1].replace("&amp;", "&")


def table_of(page: Any) -> str:
    return page.content.decode().split("<tbody>")[1].split("</tbody>")[0]


def teams_of(page: Any) -> list[str]:
    return re.findall(r'<th scope="row">([^<]+)<', table_of(page))


def test_only_the_class_s_own_adults_open_it(classroom, challenge, teacher, client):
    assert teacher.get(url(classroom)).status_code == 200
    assert client.get(url(classroom)).status_code == 302
    assert builders.teacher_client(builders.make_class(0)).get(url(classroom)).status_code == 404
    assert builders.team_client(classroom.teams.first()).get(url(classroom)).status_code == 302


def test_it_shows_figure_sizes_and_round_of_each_team(classroom, challenge, teacher):
    builders.play_round(challenge, classroom.teams.first(), hundredths=(366, 366, 366))
    page = teacher.get(url(classroom))
    assert teams_of(page) == ["Gannet", "Heron"]
    row = table_of(page).split("</tr>")[0]
    assert re.findall(r'<td class="num">([^<]+)<', row) == ["1", "4.1", "14", "13"]
    assert page.content.decode().count("data-figure=") == 2


def test_a_covered_figure_is_nowhere_in_the_page(classroom, challenge, teacher):
    builders.play_round(challenge, classroom.teams.first(), hundredths=(420, 420, 420))
    response = teacher.post(url(classroom, "cover/"), {"column": "figure", "covered": "yes"})
    assert response.status_code == 302
    page = teacher.get(url(classroom)).content.decode()
    assert "3.6" not in page
    assert "data-figure=" not in page
    assert 'class="covered"' in page
    teacher.post(url(classroom, "cover/"), {"column": "figure", "covered": "no"})
    assert "3.6" in teacher.get(url(classroom)).content.decode()


def test_all_columns_are_covered_and_shown_at_once(classroom, challenge, teacher):
    teacher.post(url(classroom, "cover/"), {"column": "all", "covered": "yes"})
    assert set(find_challenge(classroom).board_hidden) == {"figure", "canopy_diameter", "line_length"}
    teacher.post(url(classroom, "cover/"), {"column": "all", "covered": "no"})
    assert find_challenge(classroom).board_hidden == []


def test_covered_axes_tell_neither_what_they_are_nor_a_number(classroom, challenge, teacher):
    builders.play_round(challenge, classroom.teams.first(), hundredths=(366, 366, 366))
    teacher.post(url(classroom, "cover/"), {"column": "axes", "covered": "yes"})
    for view in ("all", "line_length"):
        page = teacher.get(url(classroom, f"?view={view}&line=yes")).content.decode()
        charts = [json.loads(unescape(text)) for text in re.findall(r'data-figure="([^"]+)"', page)]
        assert charts
        for chart in charts:
            assert chart["layout"]["xaxis"]["title"]["text"] == "?"
            assert set(chart["layout"]["yaxis"]["ticktext"]) == {""}
            assert all(said == "Gannet, round 1" for trace in chart["data"] for said in trace.get("text", []))
        assert "Fall speed by" not in page
        assert "Draw a trend line" not in page
        assert ">Chart 2</a>" in page
    teacher.post(url(classroom, "cover/"), {"column": "axes", "covered": "no"})
    assert "Fall speed by line length" in teacher.get(url(classroom)).content.decode()


def test_a_covered_team_s_numbers_are_nowhere_until_it_is_shown(classroom, challenge, teacher):
    gannet, heron = classroom.teams.all()
    builders.play_round(challenge, gannet, hundredths=(300, 300, 300))
    builders.play_round(challenge, heron, hundredths=(420, 420, 420))
    teacher.post(url(classroom, "order/"), {"order": "figure"})
    teacher.post(url(classroom, "cover/"), {"column": f"team-{heron.pk}", "covered": "yes"})
    page = teacher.get(url(classroom))
    assert teams_of(page) == ["Gannet", "Heron"], "its place would tell its figure"
    assert table_of(page).count('class="covered"') == 3
    text = page.content.decode()
    assert "Heron, round 1" not in text
    assert "3.6" not in text
    assert "Show Heron" in text
    teacher.post(url(classroom, "cover/"), {"column": f"team-{heron.pk}", "covered": "no"})
    page = teacher.get(url(classroom))
    assert teams_of(page) == ["Heron", "Gannet"]
    assert "Heron, round 1" in page.content.decode()


def test_only_the_class_s_own_teams_can_be_covered(classroom, challenge, teacher):
    other = builders.make_class(teams=1).teams.get()
    taken = teacher.post(url(classroom, "cover/"), {"column": f"team-{other.pk}", "covered": "yes"})
    assert taken.status_code == 404


def test_a_trend_line_is_drawn_on_a_tap_and_never_by_itself():
    classroom = builders.make_class(teams=3)
    challenge, teacher = builders.make_challenge(classroom), builders.teacher_client(classroom)
    for team, size, time in zip(classroom.teams.all(), ("12", "14", "16"), (300, 366, 420), strict=True):
        builders.play_round(challenge, team, across=(size, size), hundredths=(time,) * 3)
    page = teacher.get(url(classroom, "?view=canopy_diameter")).content.decode()
    assert "Trend line" not in page
    assert "&amp;line=yes" in page
    page = teacher.get(url(classroom, "?view=canopy_diameter&line=yes"))
    assert "Trend line" in page.content.decode()
    assert "It is no proof." in page.content.decode()
    assert "line=yes" in poll_url(page)
    # Both have the same lines: there is no line through one size.
    assert "Trend line" not in teacher.get(url(classroom, "?view=line_length&line=yes")).content.decode()


def test_an_unknown_column_order_or_length_is_refused(classroom, challenge, teacher):
    assert teacher.post(url(classroom, "cover/"), {"column": "x", "covered": "yes"}).status_code == 404
    assert teacher.post(url(classroom, "order/"), {"order": "best"}).status_code == 404
    assert teacher.post(url(classroom, "timer/"), {"minutes": "soon"}).status_code == 404


def test_it_is_in_team_order_until_the_teacher_sorts(classroom, challenge, teacher):
    gannet, heron = classroom.teams.all()
    builders.play_round(challenge, gannet, hundredths=(300, 300, 300))
    builders.play_round(challenge, heron, hundredths=(420, 420, 420))
    assert teams_of(teacher.get(url(classroom))) == ["Gannet", "Heron"]
    teacher.post(url(classroom, "order/"), {"order": "figure"})
    assert teams_of(teacher.get(url(classroom))) == ["Heron", "Gannet"]
    teacher.post(url(classroom, "order/"), {"order": "team"})
    assert teams_of(teacher.get(url(classroom))) == ["Gannet", "Heron"]


def test_sixteen_teams_a_view_then_pages():
    classroom = builders.make_class(teams=18)
    builders.make_challenge(classroom)
    teacher = builders.teacher_client(classroom)
    first, second = teacher.get(url(classroom)), teacher.get(url(classroom, "?page=2"))
    assert (len(teams_of(first)), len(teams_of(second))) == (16, 2)
    assert "page=2" in poll_url(second)
    assert len(teams_of(teacher.get(url(classroom, "?page=99")))) == 2


def test_the_timer_runs_from_the_servers_clock_and_is_taken_off(classroom, challenge, teacher):
    teacher.post(url(classroom, "timer/"), {"minutes": "3"})
    left = (find_challenge(classroom).timer_ends_at - timezone.now()).total_seconds()
    assert 170 < left <= 180
    assert "data-ends-at=" in teacher.get(url(classroom)).content.decode()
    teacher.post(url(classroom, "timer/"), {"minutes": "0"})
    assert find_challenge(classroom).timer_ends_at is None
    assert "data-ends-at=" not in teacher.get(url(classroom)).content.decode()


def test_each_chart_has_a_view_of_its_own_with_names(classroom, challenge, teacher):
    builders.play_round(challenge, classroom.teams.first())
    page = teacher.get(url(classroom, "?view=line_length")).content.decode()
    assert page.count("data-figure=") == 1
    assert "&quot;text&quot;:&quot;Gannet&quot;" in page
    assert "<tbody>" not in page


def test_a_view_or_round_that_does_not_exist_shows_everything(classroom, challenge, teacher):
    builders.play_round(challenge, classroom.teams.first())
    page = teacher.get(url(classroom, "?view=nothing&round=7&page=x"))
    assert teams_of(page) == ["Gannet", "Heron"]
    assert page.content.decode().count("data-figure=") == 2


def test_before_anything_is_there_it_says_so(classroom, teacher):
    assert "No challenge is set up yet" in teacher.get(url(classroom)).content.decode()
    builders.make_challenge(classroom)
    page = teacher.get(url(classroom)).content.decode()
    assert "No team has a figure yet." in page
    empty = builders.make_class(teams=0)
    builders.make_challenge(empty)
    assert "There are no teams yet." in builders.teacher_client(empty).get(url(empty)).content.decode()


def test_a_poll_with_nothing_new_is_a_204_in_three_queries(
    classroom, challenge, teacher, django_assert_num_queries
):
    poll = poll_url(teacher.get(url(classroom)))
    with django_assert_num_queries(3):
        response = teacher.get(poll, **HTMX)
    assert (response.status_code, response.content) == (204, b"")


def test_a_poll_after_a_reveal_from_a_phone_brings_the_live_part_alone(classroom, challenge, teacher):
    ClassChallenge.objects.update(board_hidden=["figure"])
    builders.play_round(challenge, classroom.teams.first(), hundredths=(366, 366, 366))
    poll = poll_url(teacher.get(url(classroom)))
    builders.teacher_client(classroom).post(url(classroom, "cover/"), {"column": "figure", "covered": "no"})
    page = teacher.get(poll, **HTMX)
    assert page.content.decode().startswith('<div id="board-live"')
    assert "4.1" in table_of(page)


def test_it_asks_at_most_twenty_queries_the_same_at_8_and_at_40_teams():
    asked = []
    for teams in (8, 40):
        classroom = builders.make_class(teams=teams)
        challenge = builders.make_challenge(classroom, sums_by="software")
        for team in classroom.teams.all():
            builders.play_round(challenge, team)
        teacher = builders.teacher_client(classroom)
        with CaptureQueriesContext(connection) as queries:
            assert teacher.get(url(classroom)).status_code == 200
        asked.append(len(queries))
    assert asked[0] == asked[1] <= 20, asked

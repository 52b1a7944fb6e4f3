"""What the numbers say, for the teacher: who may read it, its sentences, its files, what is refused."""

from __future__ import annotations

import csv
import io

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from design_challenges.services import class_analysis
from design_challenges.services.records import find_challenge, load_class
from tests import builders
from tests.support import site
from tests.support.small_rounds import drop_only

pytestmark = pytest.mark.django_db
HTMX = {"headers": {"HX-Request": "true"}}


@pytest.fixture
def classroom():
    return builders.make_class(teams=2)


@pytest.fixture
def challenge(classroom):
    return builders.make_challenge(classroom, sums_by="software")


@pytest.fixture
def dropped(classroom, challenge):
    gannet, heron = classroom.teams.all()
    drop_only(challenge, gannet, 1, (300, 304, 296))
    drop_only(challenge, gannet, 2, (350, 356, 361), line="11")
    drop_only(challenge, heron, 1, (400, 404, 396), across="15")
    return challenge


@pytest.fixture
def teacher(classroom):
    return builders.teacher_client(classroom)


def url(classroom, more=""):
    return f"/classes/{classroom.code}/numbers/{more}"


def text_of(response):
    return response.content.decode().replace("&nbsp;", " ").replace("\N{NO-BREAK SPACE}", " ")


def test_only_the_class_s_own_teacher_reads_it(client, classroom, dropped):
    assert client.get(url(classroom)).status_code == 302
    stranger = builders.teacher_client(builders.make_class(teams=0, name="Another"))
    assert stranger.get(url(classroom)).status_code == 404
    assert stranger.get(url(classroom, "builds.csv")).status_code == 404
    client.cookies["substitute"] = site.let_substitute_in(classroom)
    assert client.get(url(classroom)).status_code != 200


def test_each_part_says_its_sentences_and_cites_their_numbers(classroom, dropped, teacher):
    page = text_of(teacher.get(url(classroom)))
    for heading in (
        "Did the second build do better?",
        "What goes with what",
        "How sure",
        "What these numbers cannot tell",
        "What to try next",
    ):
        assert heading in page
    assert "Heron has no drop of round 2 yet." in page
    assert "Gannet: −0.78 ft/s in fall speed, better" in page
    assert "3 drops against 3 cannot tell by rearranging them" in page
    assert "No two-by-two experiment" in page
    assert "<dt>change, round 2 less round 1</dt><dd>−0.78 ft/s</dd>" in page
    for broken in ("NaN", "None", "{", "nan "):
        assert broken not in page.split('id="numbers-live"')[1].split("data-figure")[0]


def test_before_anything_is_there_it_says_so(classroom, teacher):
    assert "No challenge is set up yet" in text_of(teacher.get(url(classroom)))
    builders.make_challenge(classroom)
    page = text_of(teacher.get(url(classroom)))
    assert "No team has a drop that counts yet." in page
    assert "data-figure" not in page
    assert teacher.get(url(classroom, "changes.csv")).status_code == 404


def test_the_teachers_margin_is_answered_in_drops(classroom, dropped, teacher):
    assert "of the true one would take" not in text_of(teacher.get(url(classroom)))
    page = text_of(teacher.get(url(classroom, "?within=0.01")))
    assert "a mean within 0.01 ft/s of the true one would take" in page
    assert "are enough for a mean within 2.00 ft/s" in text_of(teacher.get(url(classroom, "?within=2")))


@pytest.mark.parametrize(("field", "typed"), [("within", "near"), ("within", "0"), ("largest", "wide")])
def test_what_cannot_be_read_is_asked_about_and_kept(classroom, dropped, teacher, field, typed):
    answer = teacher.get(url(classroom, f"?{field}={typed}"))
    page = text_of(answer)
    assert answer.status_code == 422
    assert "data-error-summary" in page
    assert f'href="#id_{field}"' in page
    assert f'value="{typed}"' in page
    assert "Did the second build do better?" in page


def test_a_trend_line_is_drawn_only_where_it_was_asked_for(classroom, dropped, teacher):
    plain = text_of(teacher.get(url(classroom)))
    assert "Trend line" not in plain
    assert 'href="?line=line_length#part-goes-with"' in plain
    drawn = text_of(teacher.get(url(classroom, "?line=line_length")))
    assert drawn.count("&quot;Trend line&quot;") == 1
    assert "Take the trend line away" in drawn


def test_every_table_comes_as_a_file_with_plain_numbers(classroom, dropped, teacher):
    answer = teacher.get(url(classroom, "changes.csv"))
    assert answer["Content-Type"].startswith("text/csv")
    assert f"{classroom.code}-changes.csv" in answer["Content-Disposition"]
    rows = list(csv.reader(io.StringIO(answer.content.decode())))
    assert rows[0][:2] == ["Team", "Fall speed, round 1 (ft/s)"]
    assert rows[1][0] == "Gannet"
    assert [float(cell) for cell in rows[1][1:4]] == [5.0, 4.22, -0.78]
    assert rows[2] == ["Heron", "3.75", "", "", "", "", ""]
    assert teacher.get(url(classroom, "secrets.csv")).status_code == 404


def test_a_poll_with_nothing_new_is_a_204_and_news_is_the_live_part_alone(
    classroom, dropped, teacher, django_assert_num_queries
):
    revision = find_challenge(classroom).revision.number
    with django_assert_num_queries(3):
        answer = teacher.get(url(classroom, f"?revision={revision}"), **HTMX)
    assert (answer.status_code, answer.content) == (204, b"")
    drop_only(dropped, classroom.teams.last(), 2, (410, 412, 414), across="15")
    news = text_of(teacher.get(url(classroom, f"?revision={revision}"), **HTMX))
    assert news.startswith('<div class="stack" id="numbers-live"')
    assert "Heron has no drop of round 2 yet." not in news


def test_a_class_that_has_not_changed_is_not_analysed_again(classroom, dropped):
    first = class_analysis.class_analysis(load_class(find_challenge(classroom)))
    again = class_analysis.class_analysis(load_class(find_challenge(classroom)))
    assert again is first
    assert class_analysis.class_analysis(load_class(find_challenge(classroom)), 0.2) is not first
    drop_only(dropped, classroom.teams.last(), 2, (410,), across="15")
    assert class_analysis.class_analysis(load_class(find_challenge(classroom))) is not first


def test_a_renamed_team_has_its_new_name(classroom, dropped, teacher):
    assert "Heron has no drop" in text_of(teacher.get(url(classroom)))
    classroom.teams.filter(name="Heron").update(name="Curlew")
    assert "Curlew has no drop" in text_of(teacher.get(url(classroom)))


@pytest.mark.parametrize("teams", [8, 40])
def test_it_asks_at_most_twenty_queries_at_8_and_at_40_teams(teams, classroom, dropped):
    source = classroom.teams.first()
    other = builders.make_class(teams=teams, name="Many")
    builders.make_challenge(other, sums_by="software")
    site.add_to_class(other, source, list(other.teams.all()))
    reader = builders.teacher_client(other)
    with CaptureQueriesContext(connection) as queries:
        assert reader.get(url(other)).status_code == 200
    print(f"\n{teams} teams: {len(queries)} queries")
    assert len(queries) == EXPECTED_QUERIES


EXPECTED_QUERIES = 14

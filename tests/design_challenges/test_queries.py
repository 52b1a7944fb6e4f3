"""How many queries pages make: few, as many at 8 teams as at 40; a poll that finds nothing, hardly any."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from classroom.access import STATION_COOKIE, SUBSTITUTE_COOKIE, TEAM_COOKIE
from classroom.models import Device
from tests import builders
from tests.support import site, stages
from tests.support.inventory import (
    CLASS_PAGES,
    NO_PAGES,
    NOBODY,
    PAGES,
    STATION,
    SUBSTITUTE,
    TABLET,
    TEAM_PAGES,
    Row,
    every_address,
)

MOST = {TABLET: 12, NOBODY: 12}
MOST_OF_A_TEACHER = 20
POLL = 3
SIZES = (8, 40)


@pytest.fixture
def teacher(db):
    return builders.make_teacher()


class School:
    """A class of a size, and one browser for each kind of visitor."""

    def __init__(self, size, teacher):
        self.size, self.teacher = size, teacher
        self.classroom = site.make_class(size, teacher, site.played_team(teacher))
        self.challenge = self.classroom.challenges.get()
        self.focus = self.classroom.teams.first()
        self.known = site.known_of(self.classroom) | {"second": 0}
        self.clients = {who: Client() for who in (NOBODY, SUBSTITUTE, STATION, TABLET, "teacher")}
        self.clients["teacher"].force_login(teacher)
        self.clients[SUBSTITUTE].cookies[SUBSTITUTE_COOKIE] = site.let_substitute_in(self.classroom)
        self.clients[STATION].cookies[STATION_COOKIE] = site.let_station_in(self.classroom)
        self.clients[TABLET].cookies[TEAM_COOKIE] = site.let_in(self.focus)

    def count(self, row: Row) -> tuple[int, list[str]]:
        """Open a page and return its number of queries, and the queries."""
        client = self.clients[row.who]
        url = row.url(self.known)
        client.get(url)  # the first visit may fill what is kept for the process
        # The dearest visit of all: that which notes when the device was last seen.
        Device.objects.update(last_seen_at=timezone.now() - timedelta(minutes=1))
        with CaptureQueriesContext(
            connection,
        ) as queries:
            answer = client.get(url)
        assert answer.status_code == row.status, (row.label, answer.status_code, answer.headers)
        return len(queries), [query["sql"] for query in queries.captured_queries]


def counts(size, teacher):
    """Return the queries of every page of a class of `size` teams, by the page's label."""
    school = School(size, teacher)
    found = {row.label: school.count(row) for row in CLASS_PAGES}
    by_stage: dict[str, list[Row]] = {}
    for row in TEAM_PAGES:
        by_stage.setdefault(row.stage, []).append(row)
    for stage in stages.walk(school.challenge, school.focus):
        if stage == "which":
            school.known["second"] = stages.second_reading(school.focus)
        for row in by_stage.pop(stage, []):
            found[row.label] = school.count(row)
    assert not by_stage
    return found


def test_every_address_of_the_project_is_a_row_of_the_inventory():
    addresses = set(every_address())
    pages = {row.name for row in PAGES}
    sent_on = {"design_challenges:team_now"}  # a row shows it for a class without a challenge
    assert addresses == pages | set(NO_PAGES) | sent_on
    assert not pages & set(NO_PAGES)
    labels = [row.label for row in PAGES]
    assert len(labels) == len(set(labels)), sorted({label for label in labels if labels.count(label) > 1})


def test_every_page_makes_as_many_queries_at_40_teams_as_at_8_and_no_more_than_it_may(teacher):
    few, many = (counts(size, teacher) for size in SIZES)
    table = [
        f"{few[label][0]:3} {many[label][0]:3}  {label}"
        for label in sorted(few, key=lambda one: -few[one][0])
    ]
    print("\n  8  40  page\n" + "\n".join(table))
    wrong = []
    for label, (number, queries) in few.items():
        most = MOST.get(label.partition("-")[0], MOST_OF_A_TEACHER)
        if number != many[label][0]:
            more = "\n    ".join(_not_in(many[label][1], queries)[:6])
            wrong.append(f"{label}: {number} at 8 teams, {many[label][0]} at 40\n    {more}")
        if many[label][0] > most:
            wrong.append(f"{label}: {many[label][0]} queries, {most} at most")
    assert not wrong, "\n".join(wrong)


def _not_in(more: list[str], fewer: list[str]) -> list[str]:
    """Return the queries that stand more often in one list than in the other, by their shape."""
    shapes = [_shape(query) for query in fewer]
    left = []
    for query in more:
        shape = _shape(query)
        if shape in shapes:
            shapes.remove(shape)
        else:
            left.append(query[:300])
    return left


def _shape(query: str) -> str:
    return re.sub(r"\([\d, ]+\)", "(…)", re.sub(r"\b\d+\b", "n", query))


# --- polls -------------------------------------------------------------------------------------


@pytest.fixture
def school(teacher):
    return School(8, teacher)


HTMX = {"HX-Request": "true"}


def poll_address(client, url, element):
    """Return the address that a part of a page asks again and again, as the page says it."""
    page = client.get(url).content.decode()
    found = re.search(rf'id="{element}" hx-get="([^"]+)"', page)
    assert found, f"{url} asks for nothing"
    return found[1].replace("&amp;", "&")


@pytest.mark.parametrize(
    ("who", "page", "element", "most"),
    [
        ("teacher", "/classes/{code}/dashboard/", "live", POLL),
        ("teacher", "/classes/{code}/board/", "board-live", POLL),
        ("teacher", "/classes/{code}/board/changes/", "changes-live", POLL),
        ("teacher", "/classes/{code}/numbers/", "numbers-live", POLL),
        ("teacher", "/classes/{code}/measuring/", "live", POLL),
        (SUBSTITUTE, "/classes/{code}/dashboard/", "live", POLL),
        (SUBSTITUTE, "/classes/{code}/board/", "board-live", POLL),
        (TABLET, "/team/1/plan/purpose/", "pulse", 1),
    ],
    ids=[
        *("dashboard", "board", "changes", "numbers", "measuring"),
        *("dashboard-substitute", "board-substitute", "tablet"),
    ],
)
def test_a_poll_with_nothing_new_is_an_empty_204_and_hardly_asks_the_database(
    school, half_minute, who, page, element, most
):
    stages.play_to(school.challenge, school.focus, "purpose")
    client = school.clients[who]
    address = poll_address(client, page.format(**school.known), element)
    with CaptureQueriesContext(connection) as queries:
        answer = client.get(address, headers=HTMX)
    assert answer.status_code == 204
    assert answer.content == b""
    print(f"\n{element}: {len(queries)} queries")
    assert len(queries) <= most, [query["sql"] for query in queries.captured_queries]
    assert not [query for query in queries.captured_queries if not query["sql"].startswith("SELECT")]


@pytest.mark.parametrize("page", ["dashboard", "board"])
def test_a_poll_brings_what_was_saved_since(school, half_minute, page):
    stages.play_to(school.challenge, school.focus, "purpose")
    client = school.clients["teacher"]
    element = {"dashboard": "live", "board": "board-live"}[page]
    address = poll_address(client, f"/classes/{school.known['code']}/{page}/", element)
    builders.enter(school.challenge, str)
    answer = client.get(address, headers=HTMX)
    assert answer.status_code == 200
    assert f'id="{element}"' in answer.content.decode()
    assert "<html" not in answer.content.decode()
    again = poll_address(client, address, element)
    assert again != address
    assert client.get(again, headers=HTMX).status_code == 204

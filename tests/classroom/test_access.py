"""Who may do what: every address, every visitor, GET and POST, own and foreign things, against one table."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

import pytest
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from tests.support import access
from tests.support.access import (
    FORBIDDEN,
    IN,
    JOIN,
    NO_METHOD,
    NOT_FOUND,
    ROWS,
    SIGN_IN,
    VISITORS,
    Row,
)
from tests.support.two_classes import OneClass, TwoClasses

METHODS = ("GET", "POST")
THING = re.compile(r"\{(\w+)\}")
# What is a key by itself, with no class around it, or names the class: nothing to swap for another class's.
NOT_A_THING_OF_A_CLASS = {"code", "team_code", "invited", "invitation", "card_token", "station_token"}
USUAL = {"code": "{code}", "number": 1}
# A refused visitor's form is held in a session, a tablet was seen: that changes nothing of a class.
_HARMLESS = re.compile(r'"(django_session|classroom_device)"|SAVEPOINT')
_WRITES = re.compile(r"\s*(INSERT|UPDATE|DELETE)", re.IGNORECASE)


def patterns(resolver: URLResolver | None = None, space: str = "") -> Iterator[tuple[str, URLPattern]]:
    """Yield every address of the project by its name with its namespace."""
    for pattern in (resolver or get_resolver()).url_patterns:
        if isinstance(pattern, URLResolver):
            inner = f"{space}{pattern.namespace}:" if pattern.namespace else space
            yield from patterns(pattern, inner)
        else:
            yield f"{space}{pattern.name}", pattern


PATTERNS = dict(patterns())
BY_NAME = {row.name: row for row in ROWS}


def arguments(row: Row) -> dict[str, Any]:
    """Return the values of the address's arguments, things in braces."""
    wanted = PATTERNS[row.name].pattern.converters
    values = {name: row.ids[name] if name in row.ids else USUAL.get(name) for name in wanted}
    missing = [name for name, value in values.items() if value is None]
    assert not missing, f"The row of {row.name} in tests/support/access.py must give {missing}."
    return values


def address(row: Row, this: OneClass, foreign: str = "", other: OneClass | None = None) -> str:
    """Return the address with this class's things; `foreign` is one that is taken from another class."""

    def fill(name: str, value: Any) -> Any:
        if not isinstance(value, str):
            return value
        source = other if other is not None and name == foreign else this
        return THING.sub(lambda found: str(source.ids[found[1]]), value)

    return reverse(row.name, kwargs={name: fill(name, value) for name, value in arguments(row).items()})


def foreign_arguments(row: Row) -> list[str]:
    """Return the arguments that name a thing of a class."""
    return [
        name
        for name, value in arguments(row).items()
        if isinstance(value, str) and (set(THING.findall(value)) - NOT_A_THING_OF_A_CLASS)
    ]


def ask(client: Client, method: str, url: str, sent: Mapping[str, str]) -> tuple[str, list[str]]:
    """Ask, undo whatever it did, and return the answer in the table's words and what it wrote."""
    with transaction.atomic(), CaptureQueriesContext(connection) as queries:
        cookies = client.cookies.copy()
        answer = client.get(url) if method == "GET" else client.post(url, sent)
        answer.close()
        client.cookies = cookies
        transaction.set_rollback(True)
    asked = [query["sql"] for query in queries.captured_queries]
    undone = max((place for place, sql in enumerate(asked) if sql.startswith("ROLLBACK TO")), default=-1)
    wrote = [sql for sql in asked[undone + 1 :] if _WRITES.match(sql) and not _HARMLESS.search(sql)]
    return told(answer), wrote


def body(row: Row, this: OneClass) -> dict[str, str]:
    """Return what a POST to the address carries."""
    return {name: str(value).format(**this.ids) for name, value in row.sent.items()}


def told(answer: Any) -> str:
    """Return an answer in the table's words."""
    if answer.status_code == 302:
        where = answer.headers["Location"]
        if where.startswith("/sign-in/?next="):
            return SIGN_IN
        return JOIN if where.startswith("/join/?next=") else IN
    if answer.status_code in (200, 204, 422):
        return IN
    return str(answer.status_code)


def suggestion(name: str) -> str:
    return (
        f"    {name} has no row. Add one to ROWS in tests/support/access.py: _team(…) for a page of a team's"
        " tablet, _shown(…), _changed(…) or _by_hand(…) for a teacher's page that a substitute may use,"
        " _own(…) for one that only the class's teacher may, else _row(name, door for GET, door for POST)."
        " An argument that is a thing of a class goes in braces: pk='{student}'."
    )


def test_every_address_of_the_project_has_one_row_in_the_table() -> None:
    missing = [name for name in PATTERNS if name not in BY_NAME]
    assert not missing, "\n" + "\n".join(map(suggestion, missing))
    unknown = [name for name in BY_NAME if name not in PATTERNS]
    assert not unknown, f"Rows without an address: {unknown}"
    assert len(ROWS) == len(BY_NAME), "one row an address"


def test_every_door_says_what_it_answers_each_visitor() -> None:
    answers = {IN, JOIN, SIGN_IN, NO_METHOD, NOT_FOUND, FORBIDDEN}
    for row in ROWS:
        for door in (row.get, row.post):
            assert set(door) == set(VISITORS), row.name
            assert set(door.values()) <= answers, row.name


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.django_db
def test_every_visitor_gets_at_every_address_what_the_table_says(method: str) -> None:
    school = TwoClasses()
    wrong = []
    for row in ROWS:
        door = row.get if method == "GET" else row.post
        for visitor in VISITORS:
            url, sent = address(row, school.this), body(row, school.this)
            got, wrote = ask(school.visitors[visitor], method, url, sent)
            if got != door[visitor]:
                wrong.append(f"{method} {row.name} ({url}) as {visitor}: {got}; table: {door[visitor]}")
            elif wrote and (got != IN or method == "GET"):
                wrong.append(f"{method} {row.name} as {visitor}: {got}, and wrote {wrote[0][:120]}")
            wrong += things_of_others(school, row, visitor, method)
    assert not wrong, "\n".join(wrong)


def things_of_others(school: TwoClasses, row: Row, visitor: str, method: str) -> list[str]:
    """Ask this class's address for a thing of another class: it is not there, for anybody."""
    wrong = []
    door = row.get if method == "GET" else row.post
    for foreign in foreign_arguments(row):
        if visitor == access.OTHER_CLASS and row.name == "design_challenges:team_photo":
            continue  # for that tablet it is its own
        url = address(row, school.this, foreign, school.other)
        want = NOT_FOUND if door[visitor] == IN else door[visitor]
        got, wrote = ask(school.visitors[visitor], method, url, body(row, school.this))
        if got != want or wrote:
            wrong.append(f"{method} {row.name} ({url}) as {visitor}: {got}, not {want}; wrote {wrote[:1]}")
    return wrong


def test_the_table_names_things_of_classes_to_try_with_another_class_s() -> None:
    assert sum(len(foreign_arguments(row)) for row in ROWS) > 20

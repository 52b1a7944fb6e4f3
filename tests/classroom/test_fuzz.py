"""Ten thousand odd values over every form and query: no 500, no row changed that was not asked for."""

from __future__ import annotations

import random
import re
import time
import uuid
from collections import Counter
from html import unescape
from typing import Any

import pytest
from django.apps import apps
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext

from design_challenges.models import HelpCall
from design_challenges.services.erasing.graph import hanging_on
from tests.classroom.test_access import address, body
from tests.support import access
from tests.support.access import IN, ROWS, Row
from tests.support.two_classes import OneClass, TwoClasses

VALUES = 10_000
SEED = 20_261_125
LONG = 1_000_000

# fmt: off
ODD: tuple[str, ...] = (
    *("", " ", "\t", "\n", "\r\n\r\n", "\x00", "\x01\x02\x1b[31m", "\x7f", "\u0085", "\u2028", "\ufeff"),
    *("\u202eevil\u202c", "\u200f\u200e", "\u0301" * 40, "\ud83d", "👩‍🚀" * 20, "Ⅳ", "٣", "½", "１２", "²"),
    *("NaN", "nan", "sNaN", "inf", "-inf", "Infinity", "1e309", "1e-400", "1E+9999999999", "0x1F", "1_000"),
    *(
        "-1",
        "-0",
        "0",
        "00",
        "+1",
        "1.",
        ".5",
        "1..2",
        "1,5",
        "1/0",
        "0/0",
        "-3/4",
        "1/999999999999",
        "1 1/2",
    ),
    *(
        "9" * 5_000,
        "9" * 400,
        "-" + "9" * 30,
        str(2**31),
        str(2**63),
        str(2**63 - 1),
        str(-(2**63)),
        "9" * 19,
    ),
    *("0." + "9" * 200, "1" + "0" * 300, "3.14159265358979323846264338327950288"),
    *("'; DROP TABLE x; --", "' OR '1'='1", "%s%n%d", "{{ 7*7 }}", "{% debug %}", "${7*7}", "__class__"),
    *("<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "</textarea><b>", "javascript:alert(1)"),
    *(
        "../../etc/passwd",
        "..\\..\\x",
        "/etc/passwd",
        "C:\\x",
        "con",
        "file:///x",
        "//evil.example/",
        "\\\\evil\\x",
    ),
    *("=1+1", "+1+1", "-1+1", "@SUM(A1)", "=cmd|' /C calc'!A0", "\t=1", "|x", '"', "'", "`", ",", ";"),
    *(
        "null",
        "None",
        "undefined",
        "true",
        "false",
        "yes",
        "no",
        "on",
        "[]",
        "{}",
        '{"a": 1}',
        "[1, 2]",
        "all",
    ),
    *(
        "2026-13-45",
        "99999-01-01",
        "25:61",
        "1:plan:open",
        "9:plan:open",
        "x:y:z",
        "::",
        "1:::",
        "٣:plan:open",
    ),
    *(str(uuid.UUID(int=0)), "not-a-uuid", "A" * 300, "a/b/c", "a&b=c", "%00", "%ff%fe", "é" * 3_000),
)
# fmt: on
FIELD = re.compile(r"<(?:input|textarea|select|button)\b[^>]*?\bname=\"([^\"]+)\"[^>]*>")
FORM = re.compile(r"<form\b([^>]*)>(.*?)</form>", re.DOTALL)
VALUE = re.compile(r"\bvalue=\"([^\"]*)\"")
QUERY = ("revision", "round", "view", "order", "page", "next", "child", "second", "letters", "within", "line")
QUERY += ("archived", "team", "unit", "typed", "covered", "step")
# What a form of ours sends beside the fields that are in the page as it is drawn now.
HIDDEN_NAMES = ("entry_id", "seen", "next", "gate", "team", "child", "saw", "not", "ask", "column", "covered")
HIDDEN_NAMES += (
    "order",
    "minutes",
    "paused",
    "open",
    "days",
    "drop",
    "do",
    "time",
    "mark",
    "trial",
    "attempt",
)
HIDDEN_NAMES += ("call", "code", "was", "seed", "use", "who", "size", "children", "carried", "data")
# A tablet was seen, a form is held, a wrong code is counted: none of these is a row of a class's work.
WATCHED = tuple(
    model._meta.db_table
    for model in apps.get_models()
    if model._meta.app_label in ("classroom", "design_challenges", "auth")
    and model._meta.model_name not in ("wrongtry", "device")
)
# Whoever has a class's codes comes in, and a wrong team code is counted in the class it was tried in.
ANY_CLASS = ("classroom:join", "classroom:join_link")
WRITES = re.compile(r"\s*(INSERT INTO|UPDATE|DELETE FROM) \"(\w+)\"", re.IGNORECASE)


class Fuzzer:
    """Sends odd values to every address as somebody who is let in, and undoes whatever came of it."""

    def __init__(self, school: TwoClasses, seed: int) -> None:
        self.school = school
        self.odd = random.Random(seed)
        self.sent = 0
        self.statuses: Counter[int] = Counter()
        self.wrong: list[str] = []
        self.slowest: tuple[float, str] = (0.0, "")
        self.known = self._known_fields()

    def _known_fields(self) -> dict[str, dict[str, str]]:
        """Return the fields of the forms that pages show to whoever is let in, with what stands in them."""
        known: dict[str, dict[str, str]] = {}
        for row in ROWS:
            visitor = inside(row, "GET")
            if visitor is None:
                continue
            answer = self.school.visitors[visitor].get(address(row, self.school.this))
            if not answer.headers.get("Content-Type", "").startswith("text/html"):
                continue
            page = answer.content.decode()
            for head, inner in FORM.findall(page):
                found = re.search(r'action="([^"]+)"', head)
                where = unescape(found[1]) if found else answer.request["PATH_INFO"]
                fields = known.setdefault(where, {})
                for tag in FIELD.finditer(inner):
                    value = VALUE.search(tag[0])
                    fields[unescape(tag[1])] = unescape(value[1]) if value else ""
        return known

    def value(self) -> str:
        """Return an odd value: one of the list, two put together, a stranger's id, rarely a megabyte."""
        turn = self.odd.random()
        if turn < 0.001:
            return self.odd.choice(("A", "9", "é", "\n", "=")) * LONG
        if turn < 0.12:
            return str(self.odd.choice(list(self.school.other.ids.values())))
        if turn < 0.25:
            return self.odd.choice(ODD) + self.odd.choice(ODD)
        return self.odd.choice(ODD)

    def fields(self, row: Row, url: str) -> list[tuple[str, str]]:
        """Return a form: mostly as the page has it, some of it odd, missing or there twice."""
        known = dict(self.known.get(url, {})) | body(row, self.school.this)
        known.pop("csrfmiddlewaretoken", None)
        for name in self.odd.sample(HIDDEN_NAMES, 2):
            known.setdefault(name, "")
        if "entry_id" in known:
            known["entry_id"] = str(uuid.UUID(int=self.odd.getrandbits(128)))
        names = list(known)
        picked = set(self.odd.sample(names, min(len(names), self.odd.randint(1, 4))))
        form: list[tuple[str, str]] = []
        for name in names:
            if name not in picked:
                form.append((name, known[name]))
            elif self.odd.random() > 0.1:
                for _time in range(self.odd.choice((1, 1, 1, 2, 3))):
                    form.append((name, self._odd()))
        if self.odd.random() < 0.1:
            form.append((self.value()[:50], self._odd()))
        return form

    def _odd(self) -> str:
        self.sent += 1
        return self.value()

    def post(self, row: Row) -> None:
        visitor = inside(row, "POST")
        if visitor is None:
            return
        url = address(row, self.school.this)
        data: dict[str, Any] = {}
        for name, value in self.fields(row, url):
            data.setdefault(name, []).append(value)
        if self.odd.random() < 0.05:
            name = self.odd.choice(["drawing", "file", "roster", *list(data)[:3]])
            called, content = (self.value().encode("utf-8", "replace")[:5_000] for _part in range(2))
            data[name] = SimpleUploadedFile(f"{called.decode(errors='ignore')[:60]}x", content)
            self.sent += 1
        self._send(row, visitor, "POST", url, data)

    def get(self, row: Row) -> None:
        visitor = inside(row, "GET")
        if visitor is None:
            return
        names = self.odd.sample(QUERY, self.odd.randint(1, 3))
        query = {name: [self._odd()[:2000] for _ in range(self.odd.choice((1, 1, 2)))] for name in names}
        self._send(row, visitor, "GET", address(row, self.school.this), query)

    def _send(self, row: Row, visitor: str, method: str, url: str, data: dict[str, Any]) -> None:
        client = self.school.visitors[visitor]
        client.raise_request_exception = False
        headers = {"hx-request": "true"} if self.odd.random() < 0.2 else {}
        began = time.perf_counter()
        with transaction.atomic(), CaptureQueriesContext(connection) as queries:
            cookies = client.cookies.copy()
            send = client.get if method == "GET" else client.post
            answer = send(url, clean(data), headers=headers)
            # A file is only read when it is asked for.
            b"".join(answer.streaming_content) if answer.streaming else answer.content
            answer.close()
            client.cookies = cookies
            changed = touched()
            transaction.set_rollback(True)
        self.slowest = max(self.slowest, (time.perf_counter() - began, f"{method} {row.name}"))
        self.statuses[answer.status_code] += 1
        asked = [one["sql"] for one in queries.captured_queries]
        self._judge(row, method, answer, asked, changed, data)

    def _judge(
        self, row: Row, method: str, answer: Any, asked: list[str], touched: list[str], data: dict[str, Any]
    ) -> None:
        told = f"{method} {row.name} {short(data)}: {answer.status_code}"
        if answer.status_code >= 500:
            self.wrong.append(f"{told} {(getattr(answer, 'exc_info', None) or ('',))[:2]!a}")
        writes = [found for found in map(WRITES.match, asked) if found and found[2] in WATCHED]
        if method == "GET" and writes:
            self.wrong.append(f"{told} wrote {writes[0][0]}")
        if touched and row.name not in ANY_CLASS:
            self.wrong.append(f"{told} changed another class: {touched}")
        if b"<script>alert(1)" in answer_body(answer) or b"onerror=alert(1)>" in answer_body(answer):
            self.wrong.append(f"{told} shows markup")


def watch_over(other: OneClass) -> None:
    """Let the database itself note whatever is changed in, taken out of or added to a class."""
    rows = hanging_on([other.classroom])
    with connection.cursor() as cursor:
        cursor.execute("CREATE TEMP TABLE touched (told TEXT)")
        for model in apps.get_models():
            table = model._meta.db_table
            own = {"OLD": {model._meta.pk.column: rows.get(model, set())}}
            own["NEW"] = {
                field.column: rows[field.related_model]
                for field in model._meta.concrete_fields
                if field.related_model in rows
            }
            for event, version in (
                ("UPDATE", "OLD"),
                ("DELETE", "OLD"),
                ("UPDATE", "NEW"),
                ("INSERT", "NEW"),
            ):
                for column, ids in own[version].items():
                    if ids and model._meta.model_name not in ("wrongtry", "device"):
                        listed = ", ".join(repr(getattr(pk, "hex", pk)) for pk in ids)
                        cursor.execute(
                            f'CREATE TEMP TRIGGER "{table}_{event}_{version}_{column}" AFTER {event}'  # noqa: S608
                            f' ON main."{table}" WHEN {version}."{column}" IN ({listed})'
                            f" BEGIN INSERT INTO touched VALUES ('{event} {table}'); END"
                        )


def touched() -> list[str]:
    """Return what of the watched class was changed since the transaction began."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT DISTINCT told FROM touched")
        return [told for (told,) in cursor.fetchall()]


def inside(row: Row, method: str) -> str | None:
    """Return somebody who is let in, the least mighty first."""
    door = row.get if method == "GET" else row.post
    order = (access.NOBODY, access.TABLET, access.SUBSTITUTE, access.TEACHER)
    return next((visitor for visitor in order if door[visitor] == IN), None)


def clean(data: dict[str, Any]) -> dict[str, Any]:
    """Return a form as a browser could send it: half a pair of characters has no bytes."""

    def one(text: str) -> str:
        return text.encode("utf-8", "replace").decode()

    return {
        one(name): [one(value) for value in values] if isinstance(values, list) else values
        for name, values in data.items()
    }


def answer_body(answer: Any) -> bytes:
    is_page = answer.headers.get("Content-Type", "").startswith("text/html")
    return answer.content if is_page and not answer.streaming else b""


def short(data: dict[str, Any]) -> str:
    return ascii({name: str(value)[:60] for name, value in data.items()})[:400]


@pytest.mark.django_db
def test_ten_thousand_odd_values_over_every_form_and_query_break_and_change_nothing(
    settings: Any, tmp_path: Any
) -> None:
    settings.PHOTO_DIR = settings.MEDIA_ROOT = tmp_path
    school = TwoClasses()
    fuzzer = Fuzzer(school, SEED)
    watch_over(school.other)
    while fuzzer.sent < VALUES:
        for row in ROWS:
            fuzzer.post(row)
            fuzzer.get(row)
    print(
        f"\n{fuzzer.sent} odd values in {sum(fuzzer.statuses.values())} requests: {dict(fuzzer.statuses)};"
        f" slowest {fuzzer.slowest[0]:.2f} s {fuzzer.slowest[1]}"
    )
    assert not fuzzer.wrong, f"{len(fuzzer.wrong)} wrong:\n" + "\n".join(fuzzer.wrong[:12])
    assert {200, 302, 404, 422} <= set(fuzzer.statuses), "values of all sorts were reached"


@pytest.mark.django_db
def test_what_the_fuzzer_sends_would_be_noticed() -> None:
    """The judge itself: a page that breaks, a GET that writes, a change in another class are all wrong."""
    school = TwoClasses()
    fuzzer = Fuzzer(school, 1)
    watch_over(school.other)
    row = ROWS[0]
    answer = Client().get("/healthz")
    for change in (
        lambda: school.other.classroom.teams.update(place=9),
        lambda: school.other.classroom.students.first().team_places.all().delete(),
        lambda: school.this.classroom.students.update(classroom=school.other.classroom),
        lambda: HelpCall.objects.create(class_challenge=school.other.challenge, team=school.other.team),
    ):
        with transaction.atomic():
            assert touched() == []
            change()
            fuzzer._judge(row, "POST", answer, [], touched(), {})
            transaction.set_rollback(True)
    with transaction.atomic():
        school.this.classroom.teams.filter(pk=school.this.team.pk).update(place=9)
        assert touched() == [], "its own class it may change"
        transaction.set_rollback(True)
    fuzzer._judge(row, "GET", answer, ['UPDATE "classroom_classroom" SET "name" = \'x\''], [], {})
    answer.status_code = 500
    fuzzer._judge(row, "POST", answer, [], [], {})
    assert len(fuzzer.wrong) == 6

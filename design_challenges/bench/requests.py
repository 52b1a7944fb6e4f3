"""What one save and one poll cost beside a bare view on the same server."""

from __future__ import annotations

import asyncio
import secrets
import uuid
from collections import Counter
from collections.abc import Iterator

from django.conf import settings

from classroom.access import TEAM_COOKIE
from design_challenges.bench import school
from design_challenges.bench.load import Ask, side_by_side
from design_challenges.bench.rows import Row
from design_challenges.models import Reading
from design_challenges.rehearsal.web import Answer, Browser

SAVE_TARGET, POLL_TARGET = 0.25, 0.5
BROWSERS = 4
CLASS = 8
# A browser's own secret: the form's token and the cookie's are the same, unmasked.
CSRF = "a" * 32


def _at_the_drops(teacher: object, name: str, teams: int) -> Iterator[tuple[str, int]]:
    """Return teams at the drop site, in classes of eight: each a tablet's cookie and a drop to time."""
    pattern = school.make_pattern(teacher)
    found: list[tuple[str, int]] = []
    for number in range(-(-teams // CLASS)):
        challenge = school.make_class(f"{name} {number}", CLASS, teacher, pattern)
        own = list(challenge.classroom.teams.order_by("pk"))
        cookie = dict(zip([team.pk for team in own], school.let_in(own), strict=True))
        found += [(cookie[team.pk], drop) for team, drop in school.call_drops(challenge, own, 3)]
    return iter(found)


async def _some(base_url: str, ask: Ask, times: int) -> list[int]:
    """Ask so many times, one after the other, and return the statuses."""
    browser = Browser(base_url)
    answers = [answer for _ in range(times) for answer in await ask(browser)]
    browser.close()
    return [answer.status for answer in answers]


def save_rows(base_url: str, teacher: object, *, seconds: float, turns: int, teams: int) -> list[Row]:
    """Measure saving a reading, with and without the page that comes after it, beside a bare commit."""

    async def bare(browser: Browser) -> list[Answer]:
        browser.cookies[settings.CSRF_COOKIE_NAME] = CSRF
        return [await browser.post("/bare/save/", [("csrfmiddlewaretoken", CSRF)])]

    rows = []
    for name, with_page in (
        ("Saving a reading and showing the next screen, a second", True),
        ("Saving a reading until it is acknowledged, a second", False),
    ):
        drops = _at_the_drops(teacher, name[:40], teams)
        before = Reading.objects.count()

        async def save(
            browser: Browser, drops: Iterator = drops, with_page: bool = with_page
        ) -> list[Answer]:
            found = next(drops, None)
            if found is None:
                return []
            cookie, drop = found
            browser.cookies = {TEAM_COOKIE: cookie, settings.CSRF_COOKIE_NAME: CSRF}
            fields = [
                ("csrfmiddlewaretoken", CSRF),
                ("entry_id", str(uuid.uuid4())),
                ("do", "time"),
                ("drop", str(drop)),
                ("time", f"3.{secrets.randbelow(90) + 10}"),
                ("mark", "opened"),
                ("sure", "on"),
            ]
            answers = [await browser.post("/team/1/test/", fields)]
            if with_page and answers[0].location:
                answers.append(await browser.get(answers[0].location))
            return answers

        # A server's first pages load what the later ones find there.
        warm = asyncio.run(_some(base_url, save, 2 * BROWSERS))
        value, baseline, statuses = side_by_side(
            base_url, save, bare, browsers=BROWSERS, seconds=seconds, turns=turns
        )
        seen = Counter([*warm, *statuses])
        stored = Reading.objects.count() - before
        if set(seen) - {200, 302} or stored != seen[302]:
            raise RuntimeError(f"{name}: answers {dict(seen)}, {stored} readings stored")
        note = f"every one of {stored} stored; moonshot 0.5" if with_page else f"all {stored} stored"
        rows.append(Row(name, value, "/s", baseline, SAVE_TARGET, "at least", note))
    return rows


def poll_rows(base_url: str, teacher: object, *, seconds: float, turns: int) -> list[Row]:
    """Measure a board's and a tablet's poll with nothing new beside a bare read of one row."""
    pattern = school.make_pattern(teacher)
    challenge = school.make_class("Polls", 8, teacher, pattern)
    session = school.sign_in(teacher)
    (cookie,) = school.let_in([challenge.classroom.teams.order_by("pk")[0]])
    challenge.refresh_from_db()
    number = challenge.revision.number
    code = challenge.classroom.code

    async def bare(browser: Browser) -> list[Answer]:
        return [await browser.get(f"/bare/read/{session}/", htmx=True)]

    async def board(browser: Browser) -> list[Answer]:
        browser.cookies[settings.SESSION_COOKIE_NAME] = session
        return [await browser.get(f"/classes/{code}/board/?revision={number}", htmx=True)]

    async def pulse(browser: Browser) -> list[Answer]:
        browser.cookies[TEAM_COOKIE] = cookie
        return [await browser.get(f"/team/pulse/?revision={number}&was=..", htmx=True)]

    rows = []
    for name, ask in (
        ("A board's poll with nothing new", board),
        ("A tablet's poll with nothing new", pulse),
    ):
        value, baseline, statuses = side_by_side(base_url, ask, bare, seconds=seconds, turns=turns)
        if set(statuses) - {204, 304}:
            raise RuntimeError(f"{name}: answers {dict(Counter(statuses))}")
        rows.append(Row(f"{name}, a second", value, "/s", baseline, POLL_TARGET, "at least"))
    return rows

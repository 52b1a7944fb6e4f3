"""Nothing that a thumb is on its way to moves: not while a child types, nor while news comes in above it.

A page that moves makes a tap come to nothing, or fall on something else.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, Response, Route, expect

from classroom.access import TEAM_COOKIE
from tests.browser.plays.screens import fill
from tests.support.browser import PHONE, TABLET, PageMaker
from tests.support.inventory import TEAM_PAGES, Row
from tests.support.server import ServedSite

SIZES = pytest.mark.parametrize("size", [TABLET, PHONE], ids=["tablet", "phone"])
TYPED_INTO = "main input[type=text]:visible"

# From now on every frame: how far what can be used has moved, on the screen or (scrolled or not) on the page.
WATCH = """on => {
    const things = [...document.querySelectorAll('main :is(button, input, select, textarea, a[href])')];
    const seen = things.filter(thing => thing.checkVisibility());
    const top = thing => thing.getBoundingClientRect().top + (on === 'page' ? scrollY : 0);
    const before = new Map(seen.map(thing => [thing, top(thing)]));
    window.moved = {};
    const look = () => {
        for (const [thing, at] of before) {
            const by = Math.abs(top(thing) - at);
            const name = thing.id || thing.textContent.trim();
            if (thing.isConnected && by > 1) moved[name] = Math.max(moved[name] ?? 0, Math.round(by));
        }
        requestAnimationFrame(look);
    };
    look();
    return seen.length;
}"""
PAUSE = """
from django.utils import timezone
from classroom.models import Team
from design_challenges.services.entries import bump_revision
challenge = Team.objects.get(pk={team}).classroom.challenges.get()
challenge.paused_at = timezone.now() if {paused} else None
challenge.save(update_fields=["paused_at"])
bump_revision(challenge.pk)
"""


def rows_of(*labels: str) -> list[Row]:
    found = {row.label: row for row in TEAM_PAGES}
    return [found[label] for label in labels]


WITH_TAPES = rows_of(
    "team-team_plan_part-1-idea-a-idea-a",
    "team-team_plan_part-1-sizes-over",
    "team-team_plan_part-2-sizes-new-sizes",
    "team-team_build-1-cleared",
    "team-team_build-1-lines",
)
WITH_NEWS = rows_of(
    "team-team_plan_part-1-limit-limit", "team-team_plan_part-1-purpose-purpose", "team-team_test-1-call"
)
SIGNED_OUT = rows_of("team-team_plan_part-2-change-change")[0]
STAGES = sorted({row.stage for row in [*WITH_TAPES, *WITH_NEWS, SIGNED_OUT]})


@pytest.fixture(scope="module")
def teams(served: ServedSite) -> Any:
    """A team at each stage: its id and a tablet's cookie."""
    return served.ask_python(
        "from tests.support.site import build_stages\n"
        f"print(json.dumps(build_stages('t.moves', 'hidden river bank', {STAGES!r})))"
    )


@pytest.fixture
def open_at(served: ServedSite, teams: Any, new_page: PageMaker) -> Callable[..., Page]:
    """Return a function that opens a team's page and waits until it is at rest."""

    def open_page(row: Row, size: tuple[int, int]) -> Page:
        page = new_page(size, service_workers="block")
        cookie = {"name": TEAM_COOKIE, "value": teams[row.stage]["cookie"], "url": served.base_url}
        page.context.add_cookies([cookie])
        page.goto(f"{served.base_url}{row.url({})}")
        page.evaluate("document.fonts.ready.then(() => true)")
        expect(page.locator("#outbox-line")).to_contain_text("Saved")
        return page

    return open_page


@SIZES
@pytest.mark.parametrize("row", WITH_TAPES, ids=lambda row: row.label)
def test_the_drawn_tape_has_its_place_before_a_length_is_typed(
    row: Row, size: tuple[int, int], open_at: Callable[..., Page]
) -> None:
    page = open_at(row, size)
    fields = page.locator(TYPED_INTO)
    assert page.locator(".tape").count() == fields.count() > 0
    assert page.evaluate(WATCH, "page") > fields.count()
    for place in range(fields.count()):
        tape = page.locator(".tape-place").nth(place)
        for typed in ("13", "40 3/4", "much"):
            with page.expect_response("**/team/tape/**"):
                fields.nth(place).fill(typed)
            shown = "" if typed == "much" else typed
            expect(tape.locator(".tape-length")).to_have_text([f"{shown} in"] if shown else [])
    page.wait_for_timeout(100)
    assert page.evaluate("moved") == {}


@SIZES
@pytest.mark.parametrize("row", WITH_NEWS, ids=lambda row: row.label)
def test_news_from_the_teacher_comes_in_above_and_moves_nothing_below(
    row: Row, size: tuple[int, int], served: ServedSite, teams: Any, open_at: Callable[..., Page]
) -> None:
    page = open_at(row, size)
    assert page.evaluate(WATCH, "screen") > 1
    team = teams[row.stage]["team"]
    news = page.locator("#pulse")
    served.run_python(PAUSE.format(team=team, paused=True))
    expect(news).to_contain_text("Your teacher paused the tablets.")
    expect(news.locator("p")).to_be_in_viewport(ratio=1)
    served.run_python(PAUSE.format(team=team, paused=False))
    expect(news).not_to_contain_text("paused the tablets.")
    page.wait_for_timeout(100)
    assert page.evaluate("moved") == {}


def test_a_tablet_that_was_signed_out_goes_to_the_join_page_once(
    served: ServedSite, teams: Any, open_at: Callable[..., Page]
) -> None:
    page = open_at(SIGNED_OUT, TABLET)
    left_for: list[Route] = []

    def hold_navigation(route: Route) -> None:
        if route.request.is_navigation_request():
            left_for.append(route)
        else:
            route.continue_()

    def hears_that_it_is_out(answer: Response) -> bool:
        return "/team/pulse/" in answer.url and "hx-redirect" in answer.headers

    page.route("**/*", hold_navigation)
    fill(page, {"change_why": "Because long lines let it open wider."})
    served.run_python(
        "from classroom.models import Device\nfrom django.utils import timezone\n"
        f"Device.objects.filter(team={teams[SIGNED_OUT.stage]['team']}).update(revoked_at=timezone.now())"
    )
    # The first poll sends it off; what the next ones say while the page is on its way must not do it again.
    for _ in range(3):
        with page.expect_response(hears_that_it_is_out):
            pass
    page.wait_for_timeout(500)
    assert len(left_for) == 1, [route.request.url for route in left_for]
    left_for[0].continue_()
    expect(page.get_by_role("heading", level=1)).to_have_text("Join your team")

"""What a team types is on its tablet at once, says so, and waits there for the server: in a real browser."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from playwright.sync_api import Error, Page, expect

from tests.support.bare_row import BARE_MS, SLOWED, hold_beside_bare_rows
from tests.support.browser import PageMaker
from tests.support.cut_line import CutLine
from tests.support.server import LAN_NAME, ServedSite

PURPOSE = "/team/1/plan/purpose/"
PRESSES = 20

SETUP = """
from tests import builders as b
from tests.support import site
room = b.make_class(teams=11)
challenge = b.make_challenge(room, sums_by="software")
teams = list(room.teams.order_by("place"))
for team in teams:
    b.saving.start_round(challenge, team, 1)
print(json.dumps({"tablets": [site.let_in(team) for team in teams], "names": [team.name for team in teams]}))
"""
NOTES = """
from design_challenges.models import Note
notes = Note.objects.filter(iteration__team__name=%r, prompt="purpose")
print(json.dumps([note.text for note in notes]))
"""
SAFE_MS = """() => performance.getEntriesByName("on this tablet").map((entry) => entry.duration)"""


@pytest.fixture(scope="module")
def room(served: ServedSite) -> Any:
    return served.ask_python(SETUP)


@pytest.fixture
def line(served: ServedSite) -> Iterator[CutLine]:
    cut_line = CutLine(served.port)
    yield cut_line
    cut_line.close()


@pytest.fixture
def tablet(room: Any, line: CutLine, new_page: PageMaker) -> Callable[..., Page]:
    """`tablet(2)`: the third team's tablet at its purpose, by a line that can be cut."""
    new_page.forgive_a_dead_line()

    def open_at(team: int, *, plain: bool = True) -> Page:
        page, base = new_page(), f"http://{LAN_NAME if plain else '127.0.0.1'}:{line.port}"
        page.context.add_cookies([{"name": "sb_team", "value": room["tablets"][team], "url": base}])
        page.goto(f"{base}{PURPOSE}")
        expect(page.locator("#outbox-line")).to_contain_text("Saved")
        return page

    return open_at


def write(page: Page, text: str) -> None:
    page.get_by_label("Your sentence").fill(text)
    page.get_by_role("button", name="Save and go on").click()


def texts_of(served: ServedSite, room: Any, team: int) -> list[str]:
    found: list[str] = served.ask_python(NOTES % room["names"][team])
    return found


def sit_down(page: Page, token: str, base: str) -> None:
    """Make the tablet another team's. Its page is left first: by itself it would go away, too."""
    page.goto("about:blank")
    page.context.add_cookies([{"name": "sb_team", "value": token, "url": base}])


@pytest.mark.parametrize("plain", [False, True], ids=["secure", "plain-http"])
def test_what_is_typed_is_on_this_tablet_at_once(
    tablet: Callable[..., Page], line: CutLine, plain: bool
) -> None:
    page = tablet(0 if plain else 1, plain=plain)
    assert page.evaluate("() => isSecureContext") is not plain
    page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWED})
    line.down = True
    rows = []
    for press in range(PRESSES):
        write(page, f"It must fall slowly, {press}.")
        expect(page.locator("#outbox-line")).to_contain_text(f"{press + 1} waiting")
        rows.append(page.evaluate(BARE_MS))
    origin = "plain HTTP" if plain else "secure"
    hold_beside_bare_rows(page.evaluate(SAFE_MS), rows, f"{origin}: on this tablet after the press")


def test_the_line_says_what_is_on_this_tablet_only_and_shows_it_and_then_what_is_saved(
    served: ServedSite,
    room: Any,
    tablet: Callable[..., Page],
    line: CutLine,
    axe: Callable[[Page], list[str]],
) -> None:
    page = tablet(2)
    line.down = True
    write(page, "It must fall slowly.")
    safe = page.locator("#outbox-line")
    expect(safe).to_contain_text("On this tablet only")
    expect(safe).to_contain_text("Do not sign out: 1 waiting.")
    expect(safe).not_to_contain_text("Saved")
    expect(safe).to_contain_text("The server does not answer.")
    safe.locator("summary").click()
    expect(safe.locator("li")).to_contain_text("It must fall slowly.")
    assert axe(page) == []
    line.heal()
    expect(page.get_by_role("heading", name="Idea A: how big?")).to_be_visible(timeout=10_000)
    expect(safe).to_contain_text("Saved")
    expect(safe).not_to_contain_text("On this tablet only")
    assert texts_of(served, room, 2) == ["It must fall slowly."]


def test_two_pages_of_one_tablet_send_what_waits_once_and_in_order(
    served: ServedSite, room: Any, tablet: Callable[..., Page], line: CutLine
) -> None:
    page = tablet(3)
    other = page.context.new_page()
    other.goto(page.url)
    line.down = True
    for text in ("First.", "Second."):
        write(page, text)
        expect(page.locator("#outbox-line")).to_contain_text(f"{1 if text == 'First.' else 2} waiting")
    line.heal()
    # The second does not know of the first, so it changes nothing unasked: one of the two pages says so.
    expect(other.locator("#outbox-line")).not_to_contain_text("On this tablet only")
    assert texts_of(served, room, 3) == ["First."]


def test_a_tablet_that_joined_another_team_keeps_what_the_first_one_typed_for_that_team(
    served: ServedSite, room: Any, tablet: Callable[..., Page], line: CutLine
) -> None:
    page = tablet(4)
    line.down = True
    write(page, "Typed by the fifth team.")
    expect(page.locator("#outbox-line")).to_contain_text("1 waiting")
    base = page.url.removesuffix(PURPOSE)
    sit_down(page, room["tablets"][5], base)
    line.heal()
    page.goto(f"{base}{PURPOSE}")
    page.locator("#outbox-line summary").click()
    expect(page.locator("#outbox-line")).to_contain_text("It was typed for another team.")
    page.wait_for_timeout(1000)
    assert (texts_of(served, room, 4), texts_of(served, room, 5)) == ([], [])
    sit_down(page, room["tablets"][4], base)
    page.goto(f"{base}{PURPOSE}")
    expect(page.locator("#outbox-line")).to_contain_text("Saved")
    assert texts_of(served, room, 4) == ["Typed by the fifth team."]


# --- no network at all ----------------------------------------------------------------------------


def keep_offline(page: Page) -> None:
    """Wait until the tablet has the page and all that it is made of."""
    page.wait_for_selector("html[data-opens-offline=yes]", state="attached")


def opens(page: Page, url: str) -> bool:
    """Say whether an address opens although nobody is at the other end."""
    try:
        page.goto(url)
    except Error:
        return False
    return True


def test_a_team_s_page_opens_with_no_network_at_all_and_keeps_what_is_typed(
    served: ServedSite, room: Any, tablet: Callable[..., Page], line: CutLine
) -> None:
    page = tablet(6, plain=False)
    keep_offline(page)
    line.down = True
    url, context = page.url, page.context
    page.close()
    page = context.new_page()
    page.goto(url)
    expect(page.locator("main .notice")).to_contain_text("No network. This page is from")
    write(page, "Typed without a network.")
    expect(page.locator("#outbox-line")).to_contain_text("1 waiting")
    # Opened once more and typed once more, as who sees an empty form does: it is one entry all the same.
    page.goto(url)
    write(page, "Typed without a network.")
    expect(page.locator("#outbox-line")).to_contain_text("1 waiting")
    # From the team's own address it is found again.
    page.goto(url.replace(PURPOSE, "/team/"))
    expect(page.get_by_label("Your sentence")).to_be_visible()
    line.heal()
    expect(page.locator("#outbox-line")).to_contain_text("Saved")
    expect(page.get_by_role("heading", name="Idea A: how big?")).to_be_visible(timeout=15_000)
    assert texts_of(served, room, 6) == ["Typed without a network."]


def test_the_page_of_a_team_that_left_opens_for_nobody(
    room: Any, tablet: Callable[..., Page], line: CutLine
) -> None:
    page = tablet(7, plain=False)
    keep_offline(page)
    base = page.url.removesuffix(PURPOSE)
    page.goto(f"{base}/leave/")
    page.get_by_role("button", name="Not us: leave this team").click()
    expect(page.get_by_role("heading", name="We are a team")).to_be_visible()
    line.down = True
    assert not opens(page, f"{base}{PURPOSE}")
    assert not opens(page, f"{base}/team/")


def test_a_tablet_keeps_the_page_of_the_team_that_sits_there_now(
    room: Any, tablet: Callable[..., Page], line: CutLine
) -> None:
    page = tablet(8, plain=False)
    keep_offline(page)
    base = page.url.removesuffix(PURPOSE)
    sit_down(page, room["tablets"][9], base)
    page.goto(f"{base}{PURPOSE}")
    expect(page.locator(".site-header")).to_contain_text(room["names"][9])
    line.down = True
    page.goto(f"{base}/team/")
    expect(page.locator(".site-header")).to_contain_text(room["names"][9])
    expect(page.locator("body")).not_to_contain_text(room["names"][8])


def test_a_kept_page_is_gone_when_the_lesson_is_long_over(
    room: Any, tablet: Callable[..., Page], line: CutLine
) -> None:
    page = tablet(10, plain=False)
    keep_offline(page)
    page.evaluate(
        """async () => {
            const cache = await caches.open("second-build-team-page");
            const [request] = await cache.keys();
            const answer = await cache.match(request, { ignoreVary: true });
            const headers = new Headers(answer.headers);
            headers.set("X-Kept-At", `${Date.now() - 91 * 60 * 1000}`);
            await cache.put(request, new Response(await answer.text(), { headers }));
        }"""
    )
    line.down = True
    url = page.url
    assert not opens(page, url)
    line.heal()
    page = page.context.new_page()
    page.goto(url)
    expect(page.get_by_label("Your sentence")).to_be_visible()

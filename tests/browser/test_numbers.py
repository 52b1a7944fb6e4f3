"""A discussion at the projector: data arriving, guess first, reveal, twins; the teacher's page."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.support.browser import PROJECTOR, TABLET, sideways_scroll
from tests.support.fresh import fresh

PASSWORD = "a long pass phrase"

BUILD = f"""
from tests import builders
teacher = builders.make_teacher("ms-numbers", "{PASSWORD}")
classroom = builders.make_class(teams=8, teacher=teacher)
builders.make_challenge(classroom, sums_by="software")
print(json.dumps({{"code": classroom.code, "teams": [team.pk for team in classroom.teams.all()]}}))
"""

# Gannet and Heron are twins in round 1; each team's canopy and line else differ by more than measuring can.
FIRST = [
    ("13", "14", (312, 298, 305)), ("13", "14", (366, 371, 360)), ("14", "13", (300, 310, 306)),
    ("14.5", "12", (320, 331, 325)), ("15", "11", (351, 349, 362)), ("16", "10", (388, 391, 380)),
    ("12", "15", (333, 341, 329)), ("15.5", "12.5", (345, 352, 339)),
]  # fmt: skip
SECOND = [
    ("16", "8", (388, 396, 401)), ("15", "9", (360, 372, 380)), ("14", "9", (391, 402, 399)),
    ("14.5", "8", (301, 299, 305)), ("15", "7", (380, 391, 377)), ("16", "7", (380, 401, 386)),
    ("12", "9", (400, 398, 410)), ("13", "7", (345, 353, 339)),
]  # fmt: skip
LONGER = "All 3 drops of build 2 took longer than all 3 of build 1."
FASTER = "All 3 drops of build 2 fell faster than all 3 of build 1. What does that tell you?"
OVERLAP = "The drops overlap. That is normal with 3."
SEEN = {
    "Gannet": LONGER, "Heron": OVERLAP, "Plover": LONGER, "Skua": FASTER,
    "Tern": LONGER, "Avocet": OVERLAP, "Dunlin": LONGER, "Eider": OVERLAP,
}  # fmt: skip

DROP = """
from classroom.models import Team
from design_challenges.models import ClassChallenge
from tests.support.small_rounds import drop_only
challenge = ClassChallenge.objects.get(classroom__code="%s")
for pk, number, (across, line, times) in %r:
    drop_only(challenge, Team.objects.get(pk=pk), number, times, across=across, line=line)
"""


@pytest.fixture(scope="module")
def data(served: Any) -> dict[str, Any]:
    return dict(served.ask_python(BUILD))


def arrive(served: Any, data: dict[str, Any], rounds: list[Any]) -> None:
    """Save rounds from another process."""
    served.run_python(DROP % (data["code"], rounds))


def sign_in(served: Any, new_page: Any, size: tuple[int, int]) -> Page:
    page: Page = new_page(size)
    page.goto(f"{served.base_url}/sign-in/")
    page.get_by_label("User name").fill("ms-numbers")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(lambda url: "sign-in" not in url)
    return page


OVERLAPS = """() => {
    const boxes = [...document.querySelectorAll('.line-name, .line-said, .number-axis text, .axis-name')]
        .map(element => element.getBoundingClientRect());
    const found = [];
    boxes.forEach((a, i) => boxes.slice(i + 1).forEach(b => {
        const across = Math.min(a.right, b.right) - Math.max(a.left, b.left);
        const down = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
        if (across > 1 && down > 3) found.push([a.top, b.top]);
    }));
    return found;
}"""


# Dots that stand beyond their strip, where a name or a sentence is.
ASTRAY = """() => [...document.querySelectorAll('.line-dots circle')].filter(dot => {
    const place = dot.getBoundingClientRect(), strip = dot.closest('svg').getBoundingClientRect();
    return place.top < strip.top - 1 || place.bottom > strip.bottom + 1;
}).length"""


def test_a_discussion_at_the_projector(served: Any, new_page: Any, data: dict[str, Any], axe: Any) -> None:
    teams = data["teams"]
    board, laptop = sign_in(served, new_page, PROJECTOR), sign_in(served, new_page, TABLET)
    changes = f"{served.base_url}/classes/{data['code']}/board/changes/"

    # Eight teams' first round arrives.
    arrive(served, data, [(pk, 1, made) for pk, made in zip(teams, FIRST, strict=True)])
    board.goto(changes)
    laptop.goto(f"{served.base_url}/classes/{data['code']}/numbers/")
    expect(board.locator("#changes-live")).to_contain_text("No team has finished both rounds yet.")
    expect(laptop.locator("#numbers-live")).to_contain_text("No team has drops of both rounds that compare.")

    # Guess first: nothing of the second round shows while it arrives.
    board.get_by_role("link", name="Class board").click()
    board.wait_for_url("**/board/")
    board.locator("#board-tools > summary").click()
    board.locator("#cover-figure").click()
    expect(board.locator("td.covered").first).to_be_attached()
    board.goto(changes)
    expect(board.locator("#changes-live")).to_contain_text("guess first")
    arrive(served, data, [(pk, 2, made) for pk, made in zip(teams[:7], SECOND[:7], strict=True)])
    board.wait_for_timeout(1_500)
    expect(board.locator(".number-line")).to_have_count(0)

    # The reveal brings every team's sentence, and they are right.
    board.locator("#show-figure").click()
    expect(board.locator(".number-line .line-name strong").first).to_have_text("Gannet")
    found = dict(read_changes(board))
    board.locator(".board-bar").get_by_role("link", name="2").click()
    expect(board.locator(".number-line .line-name strong").first).not_to_have_text("Gannet")
    found |= read_changes(board)
    assert found == {name: said for name, said in SEEN.items() if name != "Eider"}

    # A new reading is on the wall and on the teacher's page with their next poll.
    with fresh(board, ".number-line", "Eider", OVERLAP), fresh(laptop, "#numbers-live", "of 8 teams"):
        arrive(served, data, [(teams[7], 2, SECOND[7])])

    # A trend line only on the teacher's tap; one team, then the axes, are guessed first.
    board.goto(f"{served.base_url}/classes/{data['code']}/board/?view=line_length")
    chart = board.locator("#whole-line_length")
    assert "Trend line" not in (chart.get_attribute("data-figure") or "")
    board.locator("#board-tools > summary").first.click()
    board.locator("#board-line").click()
    expect(chart).to_have_attribute("data-figure", re.compile("Trend line"))
    board.locator("#board-tools > summary").first.click()
    board.locator("#cover-teams summary").click()
    board.locator(f"#cover-team-{teams[0]}").click()
    expect(chart).not_to_have_attribute("data-figure", re.compile("Gannet"))
    board.locator(f"#cover-team-{teams[0]}").click()
    expect(chart).to_have_attribute("data-figure", re.compile("Gannet"))
    board.locator("#cover-axes").click()
    expect(chart).not_to_have_attribute("data-figure", re.compile("Line length"))
    expect(board.get_by_role("link", name="Chart 2")).to_be_visible()
    board.locator("#cover-axes").click()
    expect(chart).to_have_attribute("data-figure", re.compile("Line length"))
    board.goto(changes)

    # A twin is found.
    board.get_by_role("link", name="Twins").click()
    expect(board.locator(".twins").first).to_contain_text(
        "Gannet’s build 1 and Heron’s build 1 made the same design, and it did not fall the same way twice."
    )
    # No other pair is alike, and each of the two has the spread of its drops under it.
    assert board.locator(".twins .line-span").count() == 2

    # Nothing overlaps on the wall or on a tablet, letters are large, and axe is content.
    for view in ("changes", "twins", "sure", "day"):
        board.goto(f"{changes}?view={view}")
        for width, height in (PROJECTOR, TABLET):
            board.set_viewport_size({"width": width, "height": height})
            assert board.evaluate(OVERLAPS) == [], (view, width)
            assert board.evaluate(ASTRAY) == 0, (view, width)
        board.set_viewport_size({"width": PROJECTOR[0], "height": PROJECTOR[1]})
        sizes = board.evaluate(
            "() => [...document.querySelectorAll('.number-lines p, .number-axis text')]"
            ".map(element => parseFloat(getComputedStyle(element).fontSize))"
        )
        assert all(size >= 27.9 for size in sizes), (view, sizes)
        tall = board.evaluate("() => document.documentElement.scrollHeight")
        assert tall <= PROJECTOR[1] + 1, (view, tall)
        assert axe(board) == []
        assert sideways_scroll(board) == {}


def read_changes(page: Page) -> list[tuple[str, str]]:
    rows = page.locator(".number-line:not(.number-axis)").all()
    return [
        (row.locator("strong").inner_text(), row.locator(".line-said").inner_text().strip()) for row in rows
    ]


def test_the_teachers_page_draws_a_line_on_a_tap_and_keeps_what_is_open(
    served: Any, new_page: Any, data: dict[str, Any], axe: Any
) -> None:
    page = sign_in(served, new_page, TABLET)
    page.goto(f"{served.base_url}/classes/{data['code']}/numbers/")
    page.wait_for_selector(".plot[data-drawn]")
    assert "Trend line" not in (page.locator("#chart-line_length").get_attribute("data-figure") or "")
    page.locator("#line-line_length").click()
    page.wait_for_url("**line=line_length**")
    assert "Trend line" in (page.locator("#chart-line_length").get_attribute("data-figure") or "")
    details = page.locator("#cited-better-1")
    details.locator("summary").click()
    expect(details.locator("dl")).to_be_visible()
    arrive(served, data, [])
    expect(details.locator("dl")).to_be_visible()
    page.get_by_label("How near should").fill("near")
    page.get_by_role("button", name="Work it out").click()
    expect(page.locator("[data-error-summary]")).to_be_focused()
    page.get_by_label("How near should").fill("0.2")
    page.get_by_role("button", name="Work it out").click()
    expect(page.locator("#numbers-live")).to_contain_text("within 0.20")
    with page.expect_download() as download:
        page.locator("#table-changes summary").click()
        page.locator("#table-changes a").click()
    assert download.value.suggested_filename.endswith("-changes.csv")
    # A chart is downloaded as a picture, made on the page.
    page.locator("#chart-line_length .modebar-btn").scroll_into_view_if_needed()
    with page.expect_download() as picture:
        page.locator("#chart-line_length .modebar-btn").click()
    assert picture.value.suggested_filename.endswith(".png")
    assert picture.value.path().read_bytes().startswith(b"\x89PNG")
    # From the list at the top straight to a part.
    page.get_by_role("navigation", name="On this page").get_by_role("link", name="What to try next").click()
    expect(page.get_by_role("heading", name="What to try next")).to_be_in_viewport()
    assert axe(page) == []
    assert sideways_scroll(page) == {}

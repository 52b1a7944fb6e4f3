"""The dashboard and the board in a real browser: fresh with the next poll, untouched when nothing is new."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.support.browser import PHONE, PROJECTOR, first_visit_weight, sideways_scroll
from tests.support.fresh import fresh

LAPTOP = (1280, 800)
PASSWORD = "a long pass phrase"

BUILD = f"""
from django.contrib.auth import get_user_model
from classroom.models import Team
from tests import builders
teacher = builders.make_teacher("ms-live", "{PASSWORD}")
classroom = builders.make_class(teams=8, teacher=teacher)
challenge = builders.make_challenge(classroom)
times = [(412, 398, 405), (366, 371, 360), (300, 310, 305), (420, 431, 425),
         (351, 349, 362), (388, 391, 380), (333, 341, 329)]
teams = list(classroom.teams.all())
for place, (team, drops) in enumerate(zip(teams, times)):
    size = str(12 + place)
    builders.play_round(challenge, team, radius=str(6 + place / 2), across=(size, size), hundredths=drops)
for place, team in enumerate(teams[:3]):
    builders.play_round(challenge, team, 2, line="12", hundredths=times[place + 3])
print(json.dumps({{"code": classroom.code, "teams": [team.pk for team in teams]}}))
"""

LATER = """
from design_challenges.models import ClassChallenge
from classroom.models import Team
from tests import builders
challenge = ClassChallenge.objects.get(classroom__code="%(code)s")
team = Team.objects.get(pk=%(team)d)
builders.play_round(challenge, team, hundredths=(250, 250, 250))
"""


@pytest.fixture(scope="module")
def data(served: Any) -> dict[str, Any]:
    return dict(served.ask_python(BUILD))


@pytest.fixture
def teacher(served: Any, new_page: Any, data: dict[str, Any]) -> Any:
    """Return a maker of pages in which the class's teacher is signed in."""

    def sign_in(size: tuple[int, int] = LAPTOP) -> Page:
        page: Page = new_page(size)
        page.goto(f"{served.base_url}/sign-in/")
        page.get_by_label("User name").fill("ms-live")
        page.get_by_label("Password").fill(PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        page.wait_for_url(lambda url: "sign-in" not in url)
        return page

    return sign_in


@pytest.fixture
def path(served: Any, data: dict[str, Any]) -> Any:
    return lambda more: f"{served.base_url}/classes/{data['code']}/{more}"


def drawn(page: Page) -> None:
    page.wait_for_selector(".plot[data-drawn]")


WATCH = """selector => {
    window.touched = [];
    new MutationObserver(records => window.touched.push(...records.map(record => record.type)))
        .observe(document.querySelector(selector).parentElement,
                 {childList: true, subtree: true, attributes: true, characterData: true});
}"""


def test_what_another_device_saves_is_on_the_board_and_the_dashboard_with_their_next_poll(
    served, teacher, path, data
):
    board, dashboard = teacher(PROJECTOR), teacher()
    board.goto(path("board/?view=table"))
    dashboard.goto(path("dashboard/"))
    row = board.locator("tbody tr", has_text="Eider")
    card = dashboard.locator(".team-card", has_text="Eider")
    expect(row.locator("td.num").first).not_to_have_text("6.0")
    with (
        fresh(board, "#board-live tbody tr", "Eider", "6.0"),
        fresh(dashboard, ".team-card", "Eider", "Fall speed 6.0 ft/s"),
    ):
        served.run_python(LATER % {"code": data["code"], "team": data["teams"][7]})
    expect(row.locator("td.num").first).to_have_text("6.0")
    expect(card).to_contain_text("Fall speed 6.0 ft/s")


def test_a_tap_on_one_screen_is_on_another_with_its_next_poll(teacher, path):
    board, phone = teacher(PROJECTOR), teacher(PHONE)
    board.goto(path("board/"))
    phone.goto(path("dashboard/"))
    with (
        fresh(board, "td.covered"),
        phone.expect_response(lambda response: response.request.method == "POST"),
    ):
        phone.locator("#cover-figure").click()
    assert "ft/s</small></th>" in board.content()
    expect(phone.locator("#cover-figure")).to_contain_text("Show")
    phone.locator("#cover-figure").click()
    expect(board.locator("td.covered")).to_have_count(0)


def test_a_board_with_nothing_new_is_not_touched(teacher, path):
    page = teacher(PROJECTOR)
    page.goto(path("board/"))
    drawn(page)
    page.wait_for_timeout(1_500)
    polls: list[int] = []
    page.on("response", lambda response: polls.append(response.status))
    page.evaluate(WATCH, "#board-live")
    page.wait_for_timeout(5_000)
    touched = set(page.evaluate("window.touched"))
    assert polls.count(204) >= 3, polls
    # htmx marks the element that asks while it asks; nothing in it changes.
    assert touched <= {"attributes"}, touched
    assert page.evaluate("document.querySelectorAll('#board-live *').length") > 50


def test_a_chart_whose_numbers_are_the_same_is_not_drawn_again(teacher, path):
    page = teacher(PROJECTOR)
    page.goto(path("board/"))
    drawn(page)
    plot = page.locator("#chart-line_length-plot")
    expect(plot).to_have_attribute("data-drawn", "1")
    page.locator("#board-tools > summary").click()
    page.get_by_role("button", name="2 min").click()
    expect(page.locator("#timer")).to_be_visible(timeout=4_000)
    expect(plot).to_have_attribute("data-drawn", "1")
    expect(page.locator("#board-tools")).to_have_attribute("open", "")
    page.get_by_role("button", name="Take the timer off").click()
    expect(page.locator("#timer")).to_have_count(0)


def test_a_tap_keeps_the_focus_and_the_place(teacher, path):
    page = teacher()
    page.goto(path("dashboard/"))
    page.locator("#gate-2-test").scroll_into_view_if_needed()
    button = page.locator("#gate-2-test")
    before = button.inner_text()
    button.focus()
    page.keyboard.press("Enter")
    expect(button).not_to_have_text(before)
    assert page.evaluate("document.activeElement.id") == "gate-2-test"
    page.keyboard.press("Enter")
    expect(button).to_have_text(before)


def test_names_on_the_whole_charts_do_not_overlap(teacher, path):
    page = teacher(PROJECTOR)
    for view in ("canopy_diameter", "line_length"):
        page.goto(path(f"board/?view={view}"))
        drawn(page)
        boxes = page.eval_on_selector_all(
            ".annotation-text",
            "names => names.map(name => { const box = name.getBoundingClientRect();"
            " return [box.left, box.top, box.right, box.bottom, name.textContent]; })",
        )
        assert len(boxes) >= 7
        for place, one in enumerate(boxes):
            for other in boxes[place + 1 :]:
                apart = one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
                assert apart, (view, one[4], other[4])


def test_the_board_is_written_in_28_px_and_fits_the_wall(teacher, path):
    page = teacher(PROJECTOR)
    page.goto(path("board/"))
    drawn(page)
    sizes = page.eval_on_selector_all(
        "#board-table tbody :is(th, td)",
        "cells => cells.map(cell => parseFloat(getComputedStyle(cell).fontSize))",
    )
    assert min(sizes) >= 28
    assert page.evaluate("document.documentElement.scrollHeight") <= 720
    page.goto(path("board/?view=line_length"))
    drawn(page)
    letters = page.eval_on_selector_all(
        ".main-svg text",
        "texts => texts.filter(text => text.textContent)"
        ".map(text => parseFloat(getComputedStyle(text).fontSize))",
    )
    assert min(letters) >= 28


@pytest.mark.parametrize(
    "page_path", ["dashboard/", "board/", "board/?view=table", "board/?view=line_length"]
)
def test_each_page_passes_axe_and_never_scrolls_sideways(teacher, path, axe, page_path):
    page = teacher()
    page.goto(path(page_path))
    page.wait_for_timeout(1_500)
    assert axe(page) == []
    assert sideways_scroll(page) == {}


def test_a_teams_work_and_a_correction_pass_axe_and_never_scroll_sideways(teacher, path, axe, data):
    page = teacher()
    work = f"teams/{data['teams'][0]}/work/"
    for more in (work, f"{work}1/sizes/built/line_length/1/", f"{work}1/clear/"):
        page.goto(path(more))
        assert axe(page) == []
        assert sideways_scroll(page) == {}


def test_a_correction_that_cannot_be_read_takes_the_focus_to_the_summary(teacher, path, data):
    page = teacher()
    page.goto(path(f"teams/{data['teams'][0]}/work/1/sizes/built/line_length/1/"))
    field = page.get_by_label("Line 1")
    field.fill("wide")
    page.get_by_role("button", name="Save").click()
    expect(page.locator("[data-error-summary]")).to_be_focused()
    expect(field).to_have_value("wide")
    field.fill("12 1/2")
    page.get_by_role("button", name="Save").click()
    expect(page.locator("s", has_text="13 in").first).to_be_visible()


def test_both_pages_work_without_scripts(served, new_page, data, path):
    page = new_page(LAPTOP, java_script_enabled=False)
    page.goto(f"{served.base_url}/sign-in/")
    page.get_by_label("User name").fill("ms-live")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.goto(path("dashboard/"))
    page.get_by_role("button", name="Pause all tablets").click()
    expect(page.get_by_text("All tablets are paused")).to_be_visible()
    page.get_by_role("button", name="Go on").click()
    page.goto(path("board/"))
    assert page.locator("tbody tr").count() == 8


def test_the_pages_carry_less_than_100_kilobytes_before_the_chart(teacher, path):
    for page_path in ("dashboard/", "board/"):
        page = teacher()
        page.context.clear_cookies(name="none")
        sizes = first_visit_weight(page, lambda page=page, where=page_path: page.goto(path(where)))
        own = {url: size for url, size in sizes.items() if "plotly-basic" not in url}
        assert sum(own.values()) <= 100_000, own


def tab_to(page: Page, selector: str) -> None:
    """Press Tab until the element has the focus, as somebody without a mouse would."""
    for _ in range(200):
        page.keyboard.press("Tab")
        if page.evaluate("selector => document.activeElement.matches(selector)", selector):
            return
    raise AssertionError(f"{selector} cannot be reached with the Tab key")


def test_the_dashboard_the_board_and_a_correction_work_by_keyboard_alone(teacher, path, data):
    page = teacher()
    page.goto(path("dashboard/"))
    tab_to(page, "#tap-pause")
    page.keyboard.press("Enter")
    expect(page.get_by_text("All tablets are paused")).to_be_visible(timeout=4_000)
    page.keyboard.press("Enter")
    expect(page.get_by_text("All tablets are paused")).to_have_count(0)

    page.goto(path("board/?view=table"))
    tab_to(page, "#board-tools > summary")
    page.keyboard.press("Enter")
    tab_to(page, "#cover-line_length")
    page.keyboard.press("Enter")
    expect(page.locator("td.covered")).to_have_count(8)
    expect(page.locator("#board-tools")).to_have_attribute("open", "")
    assert page.evaluate("document.activeElement.id") == "cover-line_length"
    page.keyboard.press("Enter")
    expect(page.locator("td.covered")).to_have_count(0)

    page.goto(path(f"teams/{data['teams'][1]}/work/"))
    tab_to(page, "a[href*='/1/drops/'][href$='/time/']")
    page.keyboard.press("Enter")
    page.wait_for_url("**/time/")
    tab_to(page, "[name=time]")
    page.keyboard.press("Control+A")
    page.keyboard.type("3.60")
    tab_to(page, "[name=reason]")
    page.keyboard.type("Misread the watch")
    page.keyboard.press("Enter")
    page.wait_for_url("**/work/")
    expect(page.get_by_text("Misread the watch")).to_be_visible()


def test_a_team_that_asks_for_help_stands_out_on_an_open_dashboard(served, teacher, path, data):
    page = teacher()
    page.goto(path("dashboard/"))
    card = page.locator(f"#team-{data['teams'][4]}")
    expect(card).not_to_contain_text("Help")
    served.ask_python(
        "from classroom.models import Team\n"
        "from design_challenges.models import ClassChallenge\n"
        "from design_challenges.services.entries import bump_revision\n"
        "from design_challenges.services.help_calls import ask_for_help\n"
        f"team = Team.objects.get(pk={data['teams'][4]})\n"
        "challenge = ClassChallenge.objects.get(classroom=team.classroom)\n"
        "ask_for_help(challenge, team)\n"
        "bump_revision(challenge.pk)\n"
        "print('1')"
    )
    expect(card).to_contain_text("Help just now")
    expect(page.locator("#announcer")).to_contain_text("asks for help")
    card.get_by_role("button", name="Answered").click()
    expect(card).not_to_contain_text("Help")

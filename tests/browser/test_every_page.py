"""Every page as the right person opens it: axe, four widths, weight, head, policy, and Tab through it all."""

from __future__ import annotations

import re
from urllib.parse import urlsplit

import pytest
from django.conf import settings
from playwright.sync_api import Page, expect

from classroom.access import STATION_COOKIE, SUBSTITUTE_COOKIE, TEAM_COOKIE
from tests.browser.plays.keyboard import tab_round
from tests.browser.plays.screens import fill, send, tap
from tests.support.browser import PROJECTOR, TABLET, PageMaker, first_visit_weight, sideways_scroll
from tests.support.inventory import NOBODY, PAGES, STATION, SUBSTITUTE, TEACHER, Row
from tests.support.inventory import TABLET as ON_A_TABLET

MOST_BYTES = 100_000


@pytest.fixture(scope="module")
def site(served):
    """The demo's class for its teacher, and teams at every stage of both rounds."""
    return served.ask_python("from tests.support.site import build\nprint(json.dumps(build()))")


@pytest.fixture(scope="module")
def maker(chromium):
    maker = PageMaker(chromium)
    yield maker
    maker.close()


@pytest.fixture(scope="module")
def visitors(served, site, maker):
    """A page for each kind of visitor, all of them signed in."""
    pages = {who: maker(PROJECTOR if who in (TEACHER, SUBSTITUTE) else TABLET) for who in COOKIES}
    _give(pages[TEACHER], served, settings.SESSION_COOKIE_NAME, site["session"])
    _give(pages[SUBSTITUTE], served, SUBSTITUTE_COOKIE, site["substitute"])
    _give(pages[STATION], served, STATION_COOKIE, site["station"])
    return pages


COOKIES = (NOBODY, ON_A_TABLET, TEACHER, SUBSTITUTE, STATION)
WEIGHTS: dict[str, int] = {}


def _give(page: Page, served, name: str, value: str) -> None:
    # The page that is open would hear with its next question that it is somebody else's now, and go away.
    page.goto("about:blank")
    page.context.clear_cookies(name=name)
    page.context.add_cookies([{"name": name, "value": value, "url": served.base_url}])


@pytest.fixture
def faults(maker):
    """What this test's pages did that no page may do."""
    before = len(maker.faults)
    yield maker.faults
    assert maker.faults[before:] == []


@pytest.mark.parametrize("row", PAGES, ids=lambda row: row.label)
def test_the_page_is_fit_for_everyone(row: Row, served, site, visitors, faults, axe):
    page = visitors[row.who]
    if row.who == ON_A_TABLET:
        _give(page, served, TEAM_COOKIE, site["tablets"][row.stage])
    url = row.url(site["known"])
    answers = []
    weights = first_visit_weight(page, lambda: answers.append(page.goto(f"{served.base_url}{url}")))
    assert answers[0].status == row.status
    assert urlsplit(page.url).path == urlsplit(url).path or row.name.endswith("team_now")
    if row.who == ON_A_TABLET:
        look_for_the_button(page, row.label)
    look_over(page, row.label, axe)
    weigh(row.label, weights)
    assert tab_round(page) > 1


def look_for_the_button(page: Page, label: str) -> None:
    """Hold a team's page to its one next button in view: nobody scrolls to find it."""
    for box in [button.bounding_box() for button in page.locator("main .button-next").all()][:1]:
        assert box is not None, label
        assert box["y"] + box["height"] <= TABLET[1], f"{label}: the button is below the fold"


def look_over(page: Page, label: str, axe) -> None:
    """Hold a page that is open to what every page is held to."""
    expect(page.locator("h1")).to_have_count(1)
    assert page.locator("h1").first.inner_text().strip()
    title = page.title().split("·")[0].strip()
    assert title, label
    assert title != "Second Build", label
    assert page.locator("html").get_attribute("lang") == "en"
    # The unit 'in' beside the word 'in' reads like a slip of the pen.
    assert not re.search(r"\bin\s+in\b", page.locator("body").inner_text())
    assert axe(page) == []
    assert sideways_scroll(page) == {}
    # What scrolls by itself takes the focus and has a name.
    unnamed = page.evaluate(
        """() => [...document.querySelectorAll('body *')].filter(box => {
            const style = getComputedStyle(box);
            return ['auto', 'scroll'].includes(style.overflowX) && box.scrollWidth > box.clientWidth + 1
                && !box.matches('textarea, select, [role=region][tabindex="0"][aria-label],'
                    + ' [role=region][tabindex="0"][aria-labelledby]');
        }).map(box => box.outerHTML.slice(0, 120))"""
    )
    assert unnamed == []


def weigh(label: str, weights: dict[str, int]) -> None:
    """Hold a first visit to its weight, pictures and the chart program apart."""
    counted = {
        urlsplit(url).path: size
        for url, size in weights.items()
        if "/plotly" not in url and "/img/" not in url and "/pictures/" not in url
    }
    WEIGHTS[label] = sum(counted.values())
    assert any(path.endswith(".css") for path in counted)
    assert WEIGHTS[label] <= MOST_BYTES, counted


def test_the_heaviest_pages_are_told():
    if not WEIGHTS:
        pytest.skip("no page was weighed in this run")
    heaviest = sorted(WEIGHTS.items(), key=lambda pair: -pair[1])[:8]
    print("\n" + "\n".join(f"{size / 1000:6.1f} kB  {label}" for label, size in heaviest))
    assert heaviest[0][1] <= MOST_BYTES


# --- pages that only a form leads to --------------------------------------------------------------


def test_the_first_teachers_page(new_server, new_page, axe):
    fresh = new_server()
    page = new_page()
    weights = first_visit_weight(page, lambda: page.goto(f"{fresh.base_url}{fresh.first_teacher_path}"))
    look_over(page, "first-teacher", axe)
    weigh("first-teacher", weights)


@pytest.fixture
def teachers_page(served, site, visitors, faults):
    page = visitors[TEACHER]
    page.set_viewport_size({"width": PROJECTOR[0], "height": PROJECTOR[1]})
    return page


def test_the_preview_of_a_pasted_list(served, site, teachers_page, axe):
    page = teachers_page
    page.goto(f"{served.base_url}/classes/{site['known']['empty_code']}/students/")
    fill(page, {"names": "Ana P\nBo K\nAna P"})
    send(page, "See what was read")
    look_over(page, "students-preview", axe)


def test_teams_that_were_dealt(served, site, teachers_page, axe):
    page = teachers_page
    page.goto(f"{served.base_url}/classes/{site['known']['unset_code']}/teams/shuffle/")
    tap(page, "size", "3")
    send(page, "Shuffle and show me")
    look_over(page, "teams-dealt", axe)


def test_every_setting_before_the_first_one_is_saved(served, site, teachers_page, axe):
    page = teachers_page
    page.goto(f"{served.base_url}/classes/{site['known']['unset_code']}/settings/")
    send(page, "Look at every number first")
    look_over(page, "settings-form", axe)
    fill(page, {"drop_height": "very high"})
    send(page, "Save the settings")
    expect(page.locator("[data-error-summary]")).to_be_focused()
    look_over(page, "settings-form-error", axe)


def test_what_a_later_version_of_the_settings_changes(served, site, teachers_page, axe):
    page = teachers_page
    page.goto(f"{served.base_url}/classes/{site['known']['code']}/settings/change/")
    fill(page, {"limit": "400"})
    send(page, "See what changes")
    look_over(page, "settings-confirm", axe)


def test_a_colleagues_link_is_shown(served, site, teachers_page, axe):
    page = teachers_page
    page.goto(f"{served.base_url}/teachers/new/")
    fill(page, {"username": "a.colleague"})
    send(page, page.get_by_role("main").get_by_role("button").last)
    look_over(page, "teacher-link", axe)


def test_a_substitutes_card(served, site, teachers_page, axe):
    page = teachers_page
    page.goto(f"{served.base_url}/classes/{site['known']['code']}/substitute/")
    send(page, page.get_by_role("main").locator("form[action$='/substitute/new/'] button").first)
    look_over(page, "substitute-card", axe)


def test_a_change_to_a_class_that_was_put_away_is_refused(served, site, teachers_page, axe):
    page = teachers_page
    page.goto(f"{served.base_url}/classes/{site['known']['archived_code']}/rename/")
    fill(page, {"name": "Another name"})
    send(page, page.get_by_role("main").locator("form:has([name=name]) button").first)
    look_over(page, "archived", axe)


@pytest.mark.parametrize(
    ("stage", "path", "name", "typed", "button"),
    [
        ("purpose", "/team/1/plan/purpose/", "purpose", "", "Save and go on"),
        ("idea-a", "/team/1/plan/idea-a/", "canopy_radius", "wide", "Save and go on"),
        ("sums", "/team/1/plan/sums/", "answer", "lots", "Check it"),
        ("cleared", "/team/1/build/", "canopy_diameter_1", "-3", "Save"),
        ("time", "/team/1/test/", "time", "0.5", "Save the time"),
        ("worked", "/team/1/compare/", "noticing", "", "Save"),
    ],
)
def test_a_page_that_asks_for_a_mend_is_fit_for_everyone(
    stage, path, name, typed, button, served, site, visitors, faults, axe
):
    page = visitors[ON_A_TABLET]
    _give(page, served, TEAM_COOKIE, site["tablets"][stage])
    page.goto(f"{served.base_url}{path}")
    fill(page, {name: typed})
    send(page, button)
    expect(page.locator("[data-error-summary]")).to_be_focused()
    look_over(page, stage, axe)

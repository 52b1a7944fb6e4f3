"""A teacher sets a class up in a real browser: account, children, teams, challenge, open joining."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.support.browser import PHONE, first_visit_weight, sideways_scroll

PASSWORD = "paper wings glide"
NAMES = "Ana Pérez\nBo L.\nCem\nDia Rao\nEli Storm\nFay Holm\nGus P.\nHana Ito\nIvo K.\nJun\nAna Pérez"


def _button(page: Page, name: str) -> Any:
    return page.get_by_role("button", name=name, exact=True)


def _sign_in(page: Page, base: str, username: str = "m.okafor") -> None:
    page.goto(f"{base}/sign-in/")
    page.get_by_label("User name").fill(username)
    page.get_by_label("Password").fill(PASSWORD)
    _button(page, "Sign in").click()
    expect(page.get_by_role("heading", name="Your classes")).to_be_visible()


@pytest.fixture(scope="module")
def school(served) -> dict[str, Any]:
    """A teacher with a class in the middle of everything, and one child of every sort."""
    return served.ask_python(
        f"""
from django.contrib.auth import get_user_model
from classroom.models import *
from classroom import teaming
from design_challenges.kinds import get_kind
from design_challenges.services import setup
from design_challenges.services.saving import start_round
from design_challenges.steps import Step
teacher = get_user_model().objects.create_user("m.okafor", password="{PASSWORD}")
room = Classroom.objects.create(name="Room 12", joining_open=True)
Membership.objects.create(user=teacher, classroom=room)
for number in range(24):
    Student.objects.create(classroom=room, given_name=f"Child{{number:02d}}", initial="A")
gone = Student.objects.create(classroom=room, given_name="Gone", left_at="2026-01-01T00:00Z")
teaming.deal(room, teaming.shuffle(list(room.students.filter(left_at=None)), 3, 1), refill=True)
Student.objects.create(classroom=room, given_name="Late", initial="L")
kind = get_kind("soft-landing")
challenge = setup.save_first(room, kind, setup.usual_texts(kind, "us", "older"), Step.values, teacher)
setup.save_version(challenge, {{**setup.usual_texts(kind, "us", "older"), "limit": "300"}}, 1, teacher)
teams = list(room.teams.all())
start_round(challenge, teams[0], 1)
teaming.merge(teams[-1], teams[-2], 2)
empty = Classroom.objects.create(name="Empty room")
Membership.objects.create(user=teacher, classroom=empty)
away = Classroom.objects.create(name="Old room", archived_at="2026-01-01T00:00Z")
Membership.objects.create(user=teacher, classroom=away)
print(json.dumps({{
    "code": room.code, "empty": empty.code, "away": away.code, "team": teams[0].pk, "other": teams[1].pk,
    "student": room.students.first().pk, "gone": gone.pk,
}}))
"""
    )


def _pages(school: dict[str, Any]) -> list[str]:
    room, team = f"/classes/{school['code']}/", school["team"]
    pages = ["/classes/", "/classes/?archived", "/classes/new/", "/password/", "/teachers/new/"]
    pages += [
        room + rest for rest in ("", "rename/", "archive/", "students/", "students/paste/", "students/new/")
    ]
    pages += [f"{room}students/{school['student']}/", f"{room}students/{school['student']}/left/"]
    pages += [f"{room}students/{school['gone']}/left/"]
    pages += [room + rest for rest in ("teams/", "teams/seat/", "teams/add/", "teams/shuffle/")]
    pages += [f"{room}teams/{team}/{rest}/" for rest in ("rename", "code", "merge")]
    pages += [f"{room}teams/{school['other']}/merge/", f"{room}settings/", f"{room}settings/change/"]
    empty = f"/classes/{school['empty']}/"
    pages += [empty, f"{empty}students/", f"{empty}teams/", f"{empty}settings/"]
    return [*pages, f"/classes/{school['away']}/", f"/classes/{school['away']}/archive/"]


def test_a_teacher_sets_a_class_up_from_the_printed_link(new_server, new_page):
    served = new_server()
    page: Page = new_page()
    page.goto(served.base_url + served.first_teacher_path)
    page.get_by_label("User name").fill("m.okafor")
    page.get_by_label("Password", exact=True).fill(PASSWORD)
    page.get_by_label("The same password again").fill(PASSWORD)
    page.get_by_label("The school’s time zone").select_option("Europe/Dublin")
    _button(page, "Make my account").click()
    page.get_by_role("link", name="Make a class").click()
    page.get_by_label("Class name").fill("Room 12")
    _button(page, "Make the class").click()
    page.get_by_role("link", name="Add the children").click()
    page.get_by_label("Names, one a line").fill(NAMES)
    _button(page, "See what was read").click()
    expect(page.get_by_text("twice here")).to_have_count(2)
    expect(page.get_by_text("Pérez")).to_have_count(0)
    page.get_by_label("Initial of child 11").fill("Pe")
    _button(page, "Add these children").click()
    expect(page.get_by_text("11 children are added.")).to_be_visible()
    page.get_by_role("link", name="Go on to teams").click()
    page.get_by_label("Children in a team").select_option("4")
    _button(page, "Shuffle and show me").click()
    # Reading all at once does not wait for the page that the button leads to.
    expect(_button(page, "Use these teams")).to_be_visible()
    shown = page.locator(".team-card p").all_inner_texts()
    _button(page, "Use these teams").click()
    expect(page.get_by_text("3 teams are made.")).to_be_visible()
    kept = page.locator(".team-card > p:first-of-type").all_inner_texts()
    assert [sorted(team.split(", ")) for team in kept] == [sorted(team.split(", ")) for team in shown]
    page.get_by_role("link", name="Go on to the challenge").click()
    page.get_by_label("metric").check()
    page.get_by_label("Younger").check()
    _button(page, "Use the usual values").click()
    expect(page.get_by_text("4.5 m")).to_be_visible()
    expect(page.get_by_text("the middle one of the times")).to_be_visible()
    page.get_by_role("link", name="Class", exact=True).click()
    code = page.locator(".class-code").inner_text()
    _button(page, "Open joining").click()
    expect(page.get_by_role("link", name="Open the dashboard")).to_be_visible()
    team_code = page.locator(".team-code").first.inner_text()
    tablet: Page = new_page()
    tablet.goto(f"{served.base_url}/join/{code}/{team_code}/")
    expect(tablet.get_by_text("Room 12").first).to_be_visible()
    assert (
        served.ask_python(
            "from classroom.models import Installation\nprint(json.dumps(Installation.get().time_zone))"
        )
        == "Europe/Dublin"
    )


def test_every_page_passes_axe_and_fits_every_width(served, school, page, axe):
    _sign_in(page, served.base_url)
    for path in _pages(school):
        answer = page.goto(served.base_url + path)
        assert answer is not None
        assert answer.status == 200, path
        assert page.locator("h1").count() == 1, path
        assert axe(page) == [], path
        assert sideways_scroll(page) == {}, path


def test_the_pages_before_signing_in_pass_axe_and_fit(served, school, page, axe):
    for path in ("/sign-in/", "/first-teacher/used/", "/welcome/x/y/"):
        page.goto(served.base_url + path)
        assert axe(page) == [], path
        assert sideways_scroll(page) == {}, path


def test_no_page_is_heavier_than_100_kilobytes(served, school, new_page):
    page: Page = new_page()
    _sign_in(page, served.base_url)
    state = page.context.storage_state()
    for rest in ("", "students/", "teams/", "teams/seat/", "settings/", "settings/change/"):
        fresh: Page = new_page(storage_state=state)
        path = f"{served.base_url}/classes/{school['code']}/{rest}"
        sizes = first_visit_weight(fresh, lambda page=fresh, path=path: page.goto(path))
        assert sum(sizes.values()) <= 100_000, (rest, sizes)
        fresh.context.close()


def test_a_wrong_number_takes_the_focus_to_the_summary_and_keeps_the_rest(served, school, page, axe):
    _sign_in(page, served.base_url)
    page.goto(f"{served.base_url}/classes/{school['code']}/settings/change/")
    page.get_by_label("Drop height").fill("high")
    page.get_by_label("Load").fill("7,5")
    _button(page, "See what changes").click()
    summary = page.locator("#error-summary")
    expect(summary).to_be_focused()
    expect(summary).to_contain_text("I can’t read “high”")
    assert axe(page) == []
    summary.get_by_role("link").click()
    expect(page.get_by_label("Drop height")).to_be_focused()
    expect(page.get_by_label("Drop height")).to_have_value("high")
    expect(page.get_by_label("Load")).to_have_value("7,5")


def test_what_the_limit_allows_follows_what_is_typed(served, school, page, axe):
    _sign_in(page, served.base_url)
    page.goto(f"{served.base_url}/classes/{school['code']}/settings/change/")
    page.get_by_label("Material limit").fill("375")
    page.get_by_label("Drop height").fill("8")
    page.get_by_label("Drop height").press("Tab")
    expect(page.locator("#allows")).to_contain_text("under 10 ft")
    expect(page.locator("#announcer")).to_contain_text("under 10 ft")
    expect(page.locator("#allows")).to_contain_text("18 1/4")
    assert axe(page) == []


def test_switching_units_fills_in_the_usual_values_at_once(served, school, page, axe):
    _sign_in(page, served.base_url)
    page.goto(f"{served.base_url}/classes/{school['code']}/settings/change/")
    page.get_by_label("Load").fill("9")
    page.get_by_label("metric").check()
    expect(page.get_by_text("Nothing is saved yet")).to_be_visible()
    expect(page.get_by_label("Drop height")).to_have_value("4.5")
    expect(page.get_by_label("Load")).to_have_value("9")
    expect(page.locator("#allows")).to_contain_text("cm")
    expect(page.get_by_label("metric")).to_be_focused()
    assert axe(page) == []


def test_return_in_a_field_goes_on_and_fills_in_nothing_else(served, school, page):
    _sign_in(page, served.base_url)
    page.goto(f"{served.base_url}/classes/{school['code']}/settings/change/")
    page.get_by_label("Material limit").fill("333")
    page.get_by_label("Material limit").press("Enter")
    expect(page.get_by_role("heading", name="Check the changes")).to_be_visible()
    expect(page.get_by_text("333 points")).to_be_visible()
    _button(page, "Back to the numbers").click()
    expect(page.get_by_label("Material limit")).to_have_value("333")


def test_a_change_is_shown_and_confirmed(served, school, page, axe):
    _sign_in(page, served.base_url)
    page.goto(f"{served.base_url}/classes/{school['code']}/settings/change/")
    page.get_by_label("Trials a round").fill("5")
    _button(page, "See what changes").click()
    expect(page.get_by_role("heading", name="Check the changes")).to_be_visible()
    expect(page.get_by_text("it keeps version 2")).to_be_visible()
    assert axe(page) == []
    assert sideways_scroll(page) == {}
    _button(page, "Save the new settings").click()
    expect(page.get_by_text("Settings version 3")).to_be_visible()


def test_the_settings_are_set_with_the_keyboard_alone(served, school, page):
    _sign_in(page, served.base_url)
    page.goto(f"{served.base_url}/classes/{school['empty']}/settings/")
    for _turn in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.name") == "unit_system":
            break
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Use the usual values"
    page.keyboard.press("Enter")
    expect(page.get_by_text("Settings version 1, metric")).to_be_visible()


def test_children_are_moved_on_a_phone_without_scripts(served, school, new_page):
    page: Page = new_page(PHONE, java_script_enabled=False)
    _sign_in(page, served.base_url)
    page.goto(f"{served.base_url}/classes/{school['code']}/teams/seat/")
    page.get_by_label("Late L.").select_option(label="Otters")
    page.get_by_label("Round 1").check()
    _button(page, "Save").click()
    expect(page.get_by_text("1 child is moved.")).to_be_visible()
    expect(page.locator(".team-card", has_text="Otters")).to_contain_text("Late L.")


def test_a_form_that_was_open_when_the_teacher_was_signed_out_is_not_lost(served, school, new_page):
    page: Page = new_page()
    _sign_in(page, served.base_url)
    page.goto(f"{served.base_url}/classes/{school['code']}/students/paste/")
    page.get_by_label("Names, one a line").fill("Wren T.")
    page.context.clear_cookies(name="sb_session")
    _button(page, "See what was read").click()
    expect(page.get_by_text("What you typed is kept")).to_be_visible()
    page.get_by_label("User name").fill("m.okafor")
    page.get_by_label("Password").fill(PASSWORD)
    _button(page, "Sign in").click()
    expect(page.get_by_text(re.compile("We kept what you typed"))).to_be_visible()
    assert page.locator("[name=form-0-given_name]").input_value() == "Wren"


def _tab_to(page: Page, selector: str) -> None:
    """Press Tab until the element has the focus, as somebody without a mouse does."""
    for _turn in range(80):
        page.keyboard.press("Tab")
        if page.evaluate("selector => document.activeElement.matches(selector)", selector):
            return
    raise AssertionError(f"Tab never reached {selector} on {page.url}")


def _go_on(page: Page) -> None:
    """Press Return and wait for the page it leads to."""
    with page.expect_navigation():
        page.keyboard.press("Enter")


def test_a_class_is_set_up_with_the_keyboard_alone(served, school, page):
    page.goto(f"{served.base_url}/sign-in/")
    _tab_to(page, "#id_username")
    page.keyboard.type("m.okafor")
    _tab_to(page, "#id_password")
    page.keyboard.type(PASSWORD)
    _go_on(page)
    expect(page.get_by_role("heading", name="Your classes")).to_be_visible()
    _tab_to(page, "a[href='/classes/new/']")
    _go_on(page)
    expect(page.get_by_role("heading", name="Make a class")).to_be_visible()
    _tab_to(page, "#id_name")
    page.keyboard.type("Keyboard room")
    _go_on(page)
    _tab_to(page, "main a.button-next")
    _go_on(page)
    _tab_to(page, "#id_names")
    page.keyboard.type("Ana\nBo\nCem\nDia")
    _tab_to(page, "main form .button-next")
    _go_on(page)
    expect(page.get_by_role("heading", name="Check the names")).to_be_visible()
    _tab_to(page, "[name=form-3-add]")
    page.keyboard.press("Space")
    _tab_to(page, "main form .button-next")
    _go_on(page)
    expect(page.get_by_text("3 children are added.")).to_be_visible()
    _tab_to(page, "main a.button-next")
    _go_on(page)
    _tab_to(page, "#id_size")
    page.keyboard.type("3")
    _tab_to(page, "form[action$='/shuffle/'] button")
    _go_on(page)
    expect(page.get_by_role("heading", name="Shuffled")).to_be_visible()
    _tab_to(page, "main form .button-next")
    _go_on(page)
    expect(page.get_by_text("1 team is made.")).to_be_visible()
    _tab_to(page, "summary")
    page.keyboard.press("Enter")
    _tab_to(page, "a[href$='/rename/']")
    _go_on(page)
    expect(page.get_by_role("heading", name="Rename Puffins")).to_be_visible()
    _tab_to(page, "#id_name")
    page.keyboard.press("Control+a")
    page.keyboard.type("Kites")
    _go_on(page)
    expect(page.get_by_role("heading", name="Kites")).to_be_visible()


PAGES_BY_KEYBOARD = [
    "password/",
    "teachers/new/",
    "classes/{code}/rename/",
    "classes/{code}/archive/",
    "classes/{code}/students/paste/",
    "classes/{code}/students/new/",
    "classes/{code}/students/{student}/",
    "classes/{code}/students/{student}/left/",
    "classes/{code}/teams/add/",
    "classes/{code}/teams/seat/",
    "classes/{code}/teams/shuffle/",
    "classes/{code}/teams/{team}/code/",
    "classes/{code}/teams/{team}/merge/",
    "classes/{code}/settings/change/",
]


# What a page's main part offers, in order; of a group of radio buttons Tab reaches one.
STOPS = """() => {
    const seen = new Set();
    const once = (e) => e.type !== "radio" || !(seen.has(e.name) || !seen.add(e.name));
    return [...document.querySelectorAll("main :is(input, select, textarea, button, a[href], summary)")]
        .filter((e) => e.type !== "hidden" && e.tabIndex >= 0 && !e.disabled)
        .filter((e) => e.checkVisibility() && once(e))
        .map((e) => e.name || e.getAttribute("href") || e.textContent.trim());
}"""
# Where the focus is: null outside the main part, "" on a region that only scrolls.
HERE = """() => {
    const e = document.activeElement;
    if (!e.closest("main") || e.id === "main") return null;
    return e.name || e.getAttribute("href") || (e.matches("button, summary") ? e.textContent.trim() : "");
}"""


def test_every_field_and_button_is_reached_by_tab_in_the_order_it_stands(served, school, page):
    _sign_in(page, served.base_url)
    for path in PAGES_BY_KEYBOARD:
        page.goto(f"{served.base_url}/{path.format(**school)}")
        wanted = page.evaluate(STOPS)
        page.locator(".skip-link").focus()
        reached: list[str] = []
        for _turn in range(200):
            page.keyboard.press("Tab")
            here = page.evaluate(HERE)
            if here:
                reached.append(here)
            elif reached and here is None:
                break
        assert reached == wanted, path

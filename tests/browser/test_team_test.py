"""A team at its tablet from Build to Compare, in a real browser: what it sees, types, taps and is told."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.support.browser import PHONE, TABLET, first_visit_weight, sideways_scroll

SETUP = """
from classroom.access import TEAM_COOKIE
from tests import builders as b
room = b.make_class(teams=8, name="Room 5", children=4)
challenge = b.make_challenge(room)
teams = list(room.teams.order_by("place"))
for team in teams:
    b.plan_round(challenge, team)
    b.clear_round(challenge, team)
for team in teams[2:]:
    b.build_round(challenge, team)
for team in teams[4:]:
    b.play_round(challenge, team, hundredths=(312, 298, 305))
def token(team):
    return b.team_client(team).cookies[TEAM_COOKIE].value
print(json.dumps([[token(team), token(team)] for team in teams]))
"""
BY_KEYS, SHORT, DROPPER, BROKEN = 0, 1, 2, 3


@pytest.fixture(scope="module")
def tokens(served: Any) -> list[list[str]]:
    """Two tablets for each of eight teams."""
    tokens: list[list[str]] = served.ask_python(SETUP)
    return tokens


def join(page: Page, served: Any, token: str) -> Page:
    page.context.add_cookies([{"name": "sb_team", "value": token, "url": served.base_url}])
    return page


def send(page: Page, button: str) -> None:
    """Press a button and wait until its form has been answered."""
    target = page.get_by_role("button", name=button, exact=True)
    target.evaluate("button => button.form.setAttribute('data-sent', '')")
    target.click()
    # Playwright's own waiting for a condition is a script that the pages' policy does not allow.
    page.locator("[data-sent]").wait_for(state="detached")
    page.wait_for_load_state("load")


def check_sum(page: Page, answer: str) -> None:
    """Type an answer and wait for what the check says of it; the page stays where it is."""
    page.get_by_role("textbox").fill(answer)
    send(page, "Check it")


def button_in_view(page: Page) -> bool:
    """Whether what to press next is on the screen without scrolling."""
    box = page.locator("main .button-next").first.bounding_box()
    return box is not None and box["y"] + box["height"] <= TABLET[1]


def holds(page: Page, axe: Any) -> None:
    """What every screen of a team must be: accessible, its button in view, no wider than the window."""
    assert axe(page) == []
    assert button_in_view(page), page.url
    assert sideways_scroll(page) == {}


def test_a_team_goes_from_its_made_thing_to_the_class_table(served, page, axe, tokens):
    join(page, served, tokens[SHORT][0])
    page.goto(f"{served.base_url}/team/1/build/")
    holds(page, axe)

    page.get_by_role("textbox", name="Canopy, straight across").fill("1000")
    page.get_by_role("textbox", name="Canopy, across the other way").fill("13 1/2")
    send(page, "Save")
    expect(page.locator("#error-summary")).to_be_focused()
    expect(page.locator("#error-summary")).to_contain_text("very big")
    page.locator("#error-summary a").click()
    expect(page.get_by_role("textbox", name="Canopy, straight across")).to_be_focused()
    expect(page.get_by_role("textbox", name="Canopy, across the other way")).to_have_value("13 1/2")
    holds(page, axe)
    page.get_by_role("textbox", name="Canopy, straight across").fill("14")
    page.get_by_label("Who measured?").select_option("Bo B.")
    send(page, "Save")
    for number in range(1, 5):
        page.get_by_role("textbox", name=f"Line {number}").fill("13")
    holds(page, axe)
    send(page, "Save")

    expect(page.get_by_role("heading", level=1)).to_have_text("What you made, beside your plan")
    expect(page.locator("main")).to_contain_text("1/4 in less")
    holds(page, axe)
    page.get_by_role("link", name="On to the drops").click()

    # The first drop hits a wall; the second is fair, and its watch was late.
    holds(page, axe)
    page.get_by_text("It hit a wall or a person").click()
    send(page, "Go on")
    expect(page.get_by_role("heading", level=1)).to_contain_text("once more")
    page.get_by_text("Yes, it was a fair drop").click()
    send(page, "Go on")
    holds(page, axe)
    page.get_by_label("What does the stopwatch show?").fill("0.8")
    page.get_by_text("It did not open").click()
    send(page, "Save the time")
    expect(page.locator("#error-summary")).to_contain_text("about 1.0 s here")
    holds(page, axe)
    page.get_by_label("Yes, the stopwatch shows this").check()
    send(page, "Save the time")

    holds(page, axe)
    check_sum(page, "0.9")
    expect(page.locator("#sums")).to_contain_text("not yet")
    holds(page, axe)
    check_sum(page, "0.8")
    page.get_by_role("link", name="Next drop").click()
    for trial, (typed, rounded) in enumerate([("4.62", "4.6"), ("4,55", "4.6")], start=2):
        expect(page.get_by_role("heading", level=1)).to_have_text(f"Drop {trial} of 3")
        page.get_by_text("Yes, it was a fair drop").click()
        send(page, "Go on")
        page.get_by_label("What does the stopwatch show?").fill(typed)
        send(page, "Save the time")
        check_sum(page, rounded)
        page.locator("#sums-next").click()
    holds(page, axe)
    rows = page.locator("#drops tbody tr")
    expect(rows).to_have_count(4)
    expect(rows.nth(0)).to_contain_text("No: hit a wall or a person")
    expect(rows.nth(1)).to_contain_text("Yes: did not open")
    page.get_by_role("link", name="On to Results").click()

    # (0.8 + 4.6 + 4.6) ÷ 3 = 3.333… → 3.3, and 15 ÷ 3.3 = 4.545… → 4.5
    expect(page.locator("main")).to_contain_text("3 drops count")
    holds(page, axe)
    check_sum(page, "10")
    expect(page.locator("#sums")).to_contain_text("That is all your times together")
    holds(page, axe)
    check_sum(page, "3.3")
    check_sum(page, "4.5")
    expect(page.get_by_role("link", name="On to Compare")).to_be_visible()
    page.reload()
    holds(page, axe)
    expect(page.locator(".figure-box")).to_contain_text("4.5")
    page.get_by_role("link", name="On to Compare").click()

    own = page.locator("#class-table tr.own")
    expect(own).to_have_text(re.compile(r"Heron\s*\(you\)\s*13 3/4\s*13\s*4\.5\s*2 of 3 opened"))
    holds(page, axe)
    page.get_by_role("button", name="We notice that …").click()
    noticing = page.get_by_label("What do you notice?")
    expect(noticing).to_be_focused()
    noticing.type("one drop did not open.")
    send(page, "Save")
    expect(page.locator("main blockquote")).to_have_text("We notice that one drop did not open.")
    assert axe(page) == []
    assert sideways_scroll(page) == {}


def test_a_drop_by_keyboard_alone(served, page, tokens):
    join(page, served, tokens[DROPPER][0])
    page.goto(f"{served.base_url}/team/1/test/")

    def tab_to(condition: str) -> None:
        for _ in range(40):
            page.keyboard.press("Tab")
            if page.evaluate(f"(e => {condition})(document.activeElement)"):
                return
        raise AssertionError(f"never reached: {condition}")

    tab_to("e.name === 'call'")
    page.keyboard.press("Space")
    tab_to("e.matches('button.button-next')")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Drop 1 of 3: the time")
    tab_to("e.name === 'time'")
    page.keyboard.type("4.12")
    tab_to("e.name === 'mark'")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowUp")
    tab_to("e.matches('button.button-next')")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Drop 1 of 3: round the time")
    tab_to("e.name === 'answer'")
    page.keyboard.type("4.1")
    page.keyboard.press("Enter")
    expect(page.locator("#sums")).to_contain_text("4.1 s. Right.")
    tab_to("e.id === 'sums-next'")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Drop 2 of 3")


def test_two_tablets_at_one_drop_and_then_it_breaks(served, new_page, axe, tokens):
    first = join(new_page(), served, tokens[BROKEN][0])
    later = join(new_page(PHONE), served, tokens[BROKEN][1])
    first.goto(f"{served.base_url}/team/1/test/")
    first.get_by_text("Yes, it was a fair drop").click()
    send(first, "Go on")
    later.goto(f"{served.base_url}/team/1/test/")
    first.get_by_label("What does the stopwatch show?").fill("4.12")
    later.get_by_label("What does the stopwatch show?").fill("4.21")
    send(first, "Save the time")
    send(later, "Save the time")
    expect(later.get_by_role("heading", level=1)).to_have_text("Drop 1: two times")
    assert axe(later) == []
    later.get_by_label("4.21").check()
    send(later, "Use this time")
    expect(later.locator("#drops")).to_contain_text("another tablet typed 4.12")

    later.goto(f"{served.base_url}/team/1/test/broke/")
    assert axe(later) == []
    assert sideways_scroll(later) == {}
    later.get_by_text("No. We use the drops we have.").click()
    send(later, "Go on")
    expect(later.locator("main")).to_contain_text("1 drop counts.")


def test_without_scripts_the_forms_work_just_the_same(served, new_page, tokens):
    page = join(new_page(java_script_enabled=False), served, tokens[BY_KEYS][0])
    page.goto(f"{served.base_url}/team/1/build/")
    page.get_by_role("textbox", name="Canopy, straight across").fill("14")
    page.get_by_role("textbox", name="Canopy, across the other way").fill("14")
    page.get_by_role("button", name="Save").click()
    for number in range(1, 5):
        page.get_by_role("textbox", name=f"Line {number}").fill("13")
    page.get_by_role("button", name="Save").click()
    page.get_by_role("link", name="On to the drops").click()
    page.get_by_text("Yes, it was a fair drop").click()
    page.get_by_role("button", name="Go on").click()
    page.get_by_label("What does the stopwatch show?").fill("4.12")
    page.get_by_role("button", name="Save the time").click()
    page.get_by_role("textbox").fill("4.2")
    page.get_by_role("button", name="Check it").click()
    expect(page.locator("#sums")).to_contain_text("not yet")
    page.get_by_role("textbox").fill("4.1")
    page.get_by_role("button", name="Check it").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Drop 2 of 3")


@pytest.mark.parametrize("step", ["build", "test", "test/broke", "results", "compare"])
def test_every_page_carries_less_than_100_kilobytes(served, new_page, tokens, step):
    page = join(new_page(), served, tokens[4][0])
    sizes = first_visit_weight(page, lambda: page.goto(f"{served.base_url}/team/1/{step}/"))
    assert 1_000 < sum(sizes.values()) <= 100_000, sizes

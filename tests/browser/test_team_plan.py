"""From joining to cleared to build in a real browser: by finger, by keyboard, without scripts."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.plays.screens import send
from tests.support.browser import PHONE, first_visit_weight, sideways_scroll

SETUP = """
from tests.builders import make_challenge, make_class
classroom = make_class(8, name="Sea Eagles")
make_challenge(classroom, drawing_required=True)
teams = {team.name: team.code for team in classroom.teams.all()}
print(json.dumps({"code": classroom.code, "teams": teams}))
"""


@pytest.fixture(scope="module")
def school(served: Any) -> dict[str, Any]:
    return served.ask_python(SETUP)


def join(page: Page, served: Any, school: dict[str, Any], team: str) -> None:
    page.goto(f"{served.lan_url}/")
    page.get_by_label("Class code").fill(school["code"].lower())
    page.get_by_label("Team code").fill(school["teams"][team])
    page.get_by_role("button", name="Join").click()
    expect(page.get_by_role("heading", name="What must it do?")).to_be_visible()


def go_on(page: Page) -> None:
    page.locator("main .button-next").click()


def plan(page: Page) -> None:
    """Plan as far as the sums: four numbers, one sentence, taps."""
    page.get_by_role("button", name="It must fall slowly, and we may not …").click()
    page.keyboard.type("pass the limit.")
    go_on(page)
    for letter, radius, line in (("A", "9", "10"), ("B", "11", "14")):
        expect(page.get_by_role("heading", name=f"Idea {letter}: how big?")).to_be_visible()
        page.get_by_role("textbox", name="Canopy radius").fill(radius)
        page.get_by_role("textbox", name="Line length").fill(line)
        go_on(page)
    page.get_by_text("Only idea A").click()
    go_on(page)
    # The page before has a tile with this name, too.
    page.get_by_text("Its canopy is bigger").click()
    page.locator("label", has_text="Idea B").click()
    go_on(page)
    expect(page.get_by_text("Over the limit")).to_be_visible()
    page.locator("label", has_text="Idea A").click()
    go_on(page)
    expect(page.get_by_label("Canopy area")).to_be_visible()


def work_out(page: Page) -> None:
    page.get_by_label("Canopy area").fill("254")
    go_on(page)
    page.get_by_label("Material used").fill("374")
    go_on(page)
    page.get_by_role("link", name="Go on").click()


def test_from_joining_to_cleared_with_six_numbers_and_one_sentence(
    served: Any, school: dict[str, Any], new_page: Any
) -> None:
    page = new_page()
    typed: list[str] = []
    page.on("request", lambda request: typed.append(request.post_data or ""))
    join(page, served, school, "Gannet")
    plan(page)
    work_out(page)
    page.get_by_role("button", name="It is on our paper").click()
    expect(page.get_by_text("374 of 375 points: 1 to spare.")).to_be_visible()
    page.get_by_role("button", name="We are ready").click()

    expect(page.get_by_role("heading", name="Cleared to build!")).to_be_visible()
    expect(page.get_by_text("Scissors")).to_be_visible()
    sent = " ".join(typed)
    # Each with something behind it: the fields that were filled in, not those that carried along.
    numbers = re.findall(r"(?<![a-z_])(?:canopy_radius|line_length|answer)=\d", sent)
    assert len(re.findall(r"(?<![a-z_])purpose=\w", sent)) == 1
    assert len(numbers) == 6


def test_every_screen_passes_axe_fits_and_keeps_its_button_in_view(
    served: Any, school: dict[str, Any], new_page: Any, axe: Any
) -> None:
    page = new_page()
    seen: list[str] = []

    def look() -> None:
        name = page.locator("h1").inner_text()
        assert axe(page) == [], name
        assert sideways_scroll(page) == {}, name
        button = page.locator("main .button-next").first
        box = button.bounding_box()
        assert box is not None, name
        assert box["y"] + box["height"] <= 1180, f"{name}: the button is below the fold"
        assert box["height"] >= 44
        seen.append(name)

    page.goto(f"{served.lan_url}/")
    look()
    page.goto(f"{served.lan_url}/join/{school['code']}/{school['teams']['Heron']}/")
    look()
    go_on(page)
    for fields, taps in (
        ({"Your sentence": "It must fall slowly."}, []),
        ({"Canopy radius": "9", "Line length": "10"}, []),
        ({"Canopy radius": "8", "Line length": "12"}, []),
        ({}, ["Both of them"]),
        ({}, ["Idea A", "Its canopy is bigger"]),
        ({}, ["Idea B"]),
        ({"Canopy area": "201"}, []),
        ({"Material used": "345"}, []),
    ):
        page.wait_for_load_state()
        for label in fields:
            expect(page.get_by_role("textbox", name=label)).to_be_visible()
        look()
        for label, value in fields.items():
            page.get_by_role("textbox", name=label).fill(value)
        for tap in taps:
            page.locator("label", has_text=tap).click()
        send(page, page.locator("main .button-next"))
    page.get_by_role("link", name="Go on").click()
    expect(page.get_by_role("heading", name="Draw your plan and label it")).to_be_visible()
    look()
    page.get_by_role("button", name="Later: go on first").click()
    expect(page.get_by_role("heading", name="Nearly ready")).to_be_visible()
    page.get_by_role("link", name="Draw it, label it, then tick it off.").click()
    page.get_by_role("button", name="It is on our paper").click()
    expect(page.get_by_role("heading", name="Everything is ready")).to_be_visible()
    look()
    go_on(page)
    expect(page.get_by_role("heading", name="Cleared to build!")).to_be_visible()
    look()
    page.get_by_role("link", name="Look at our plan").click()
    expect(page.get_by_role("heading", name="Our plan")).to_be_visible()
    look()
    assert len(seen) == 14


def test_the_plan_is_made_by_keyboard_alone(served: Any, school: dict[str, Any], new_page: Any) -> None:
    page = new_page()
    page.goto(f"{served.lan_url}/")

    def press(*keys: str) -> None:
        for key in keys:
            page.keyboard.press(key)

    def tab_to(name: str) -> None:
        """Go by Tab to the field or button with this accessible name."""
        for _step in range(40):
            if page.evaluate(
                """() => { const e = document.activeElement;
                const label = e.labels && e.labels[0] ? e.labels[0].innerText : e.innerText || '';
                return label.trim(); }"""
            ).startswith(name):
                return
            page.keyboard.press("Tab")
        raise AssertionError(f"{name} is not reached by Tab")

    tab_to("Class code")
    page.keyboard.type(school["code"])
    tab_to("Team code")
    page.keyboard.type(school["teams"]["Plover"])
    press("Enter")
    page.wait_for_url("**/purpose/")
    tab_to("We may only use …")
    press("Enter")
    page.keyboard.type("film and string.")
    tab_to("Save and go on")
    press("Enter")
    for part in ("idea-a", "idea-b"):
        page.wait_for_url(f"**/{part}/")
        tab_to("Canopy radius")
        page.keyboard.type("7 1/2")
        tab_to("Line length")
        page.keyboard.type("12")
        press("Enter")
    page.wait_for_url("**/limit/")
    tab_to("Only idea A")
    press("ArrowDown", "ArrowDown", "Enter")
    page.wait_for_url("**/slower/")
    tab_to("Idea A")
    press("Space")
    tab_to("Its canopy is bigger")
    press("ArrowDown")
    tab_to("Save and go on")
    press("Enter")
    page.wait_for_url("**/choose/")
    tab_to("Idea A")
    press("Space", "Enter")
    page.wait_for_url("**/sums/")
    tab_to("Canopy area")
    page.keyboard.type("177")
    press("Enter")
    expect(page.get_by_label("Material used")).to_be_focused()
    page.keyboard.type("321")
    press("Enter")
    expect(page.get_by_role("link", name="Go on")).to_be_focused()
    press("Enter")
    page.wait_for_url("**/drawing/")
    tab_to("It is on our paper")
    press("Enter")
    page.wait_for_url("**/ready/")
    tab_to("We are ready")
    press("Enter")
    expect(page.get_by_role("heading", name="Cleared to build!")).to_be_visible()


def test_without_scripts_the_same_forms_work(served: Any, school: dict[str, Any], new_page: Any) -> None:
    page = new_page(java_script_enabled=False)
    join(page, served, school, "Skua")
    page.get_by_role("button", name="We may only use …").click()
    expect(page.get_by_label("Your sentence")).to_have_value("We may only use ")
    page.get_by_label("Your sentence").fill("We may only use film and string.")
    page.get_by_role("button", name="Save and go on").click()
    page.get_by_role("textbox", name="Canopy radius").fill("many")
    page.get_by_role("textbox", name="Line length").fill("10")
    go_on(page)
    expect(page.locator("#error-summary")).to_contain_text("I can’t read “many”")
    page.get_by_role("textbox", name="Canopy radius").fill("9")
    go_on(page)
    page.get_by_role("textbox", name="Canopy radius").fill("8")
    page.get_by_role("textbox", name="Line length").fill("10")
    go_on(page)
    page.get_by_label("Both of them").check()
    go_on(page)
    page.get_by_role("radio", name="Idea A").check()
    page.get_by_label("Its canopy is bigger").check()
    go_on(page)
    page.get_by_role("radio", name="Idea A").check()
    go_on(page)
    page.get_by_label("Canopy area").fill("57")
    go_on(page)
    expect(page.get_by_text("57: not yet.")).to_be_visible()
    page.get_by_label("Canopy area").fill("254")
    go_on(page)
    page.get_by_label("Material used").fill("374")
    go_on(page)
    page.get_by_role("link", name="Go on").click()
    expect(page.get_by_text("Sketch it here")).to_be_hidden()
    page.get_by_role("button", name="It is on our paper").click()
    page.get_by_role("button", name="We are ready").click()
    expect(page.get_by_role("heading", name="Cleared to build!")).to_be_visible()


def test_a_mistake_takes_the_focus_to_the_summary_and_its_link_to_the_field(
    served: Any, school: dict[str, Any], new_page: Any, axe: Any
) -> None:
    page = new_page(PHONE)
    join(page, served, school, "Tern")
    page.get_by_label("Your sentence").fill("Slowly.")
    go_on(page)
    page.get_by_role("textbox", name="Canopy radius").fill("1000")
    page.get_by_role("textbox", name="Line length").fill("-2")
    go_on(page)

    expect(page.locator("#error-summary")).to_be_focused()
    assert axe(page) == []
    expect(page.get_by_role("textbox", name="Canopy radius")).to_have_value("1000")
    page.get_by_role("link", name="Line length:").click()
    expect(page.get_by_role("textbox", name="Line length")).to_be_focused()


def test_a_sketch_is_drawn_labelled_and_kept(served: Any, school: dict[str, Any], new_page: Any) -> None:
    page = new_page()
    join(page, served, school, "Avocet")
    plan(page)
    work_out(page)
    page.get_by_text("Sketch it here").click()
    canvas = page.locator("canvas")
    canvas.scroll_into_view_if_needed()
    box = canvas.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 60, box["y"] + 60)
    page.mouse.down()
    page.mouse.move(box["x"] + 200, box["y"] + 160, steps=5)
    page.mouse.up()
    page.get_by_role("button", name="the load").click()
    canvas.click(position={"x": 220, "y": 200})
    page.get_by_role("button", name="Keep the sketch").click()
    expect(page.get_by_role("heading", name="Everything is ready")).to_be_visible()

    page.goto(f"{served.lan_url}/team/1/plan/drawing/")
    picture = page.get_by_alt_text("Our drawing")
    expect(picture).to_be_visible()
    assert picture.evaluate("image => image.complete && image.naturalWidth") == 1200


def test_a_pause_shows_quietly_and_leaves_what_is_being_typed(
    served: Any, school: dict[str, Any], new_page: Any
) -> None:
    page = new_page()
    join(page, served, school, "Dunlin")
    page.get_by_label("Your sentence").fill("Half a sent")
    served.run_python(
        "from django.utils import timezone\n"
        "from design_challenges.models import ClassChallenge\n"
        "from design_challenges.services.entries import bump_revision\n"
        "ClassChallenge.objects.update(paused_at=timezone.now())\n"
        "bump_revision(ClassChallenge.objects.get().pk)\n"
    )

    expect(page.locator("#pulse")).to_contain_text("Your teacher paused the tablets.")
    expect(page.get_by_label("Your sentence")).to_have_value("Half a sent")
    expect(page.get_by_label("Your sentence")).to_be_focused()
    go_on(page)
    expect(page.get_by_role("heading", name="Hands off for a moment")).to_be_visible()
    line = page.locator("#outbox-line")
    expect(line).to_contain_text("On this tablet only")
    line.locator("summary").click()
    expect(line.locator("li")).to_contain_text("Half a sent")
    served.run_python(
        "from design_challenges.models import ClassChallenge\n"
        "from design_challenges.services.entries import bump_revision\n"
        "ClassChallenge.objects.update(paused_at=None)\n"
        "bump_revision(ClassChallenge.objects.get().pk)\n"
    )
    expect(page.get_by_role("heading", name="Idea A: how big?")).to_be_visible(timeout=10_000)
    expect(line).to_contain_text("Saved")


def test_a_first_visit_carries_less_than_100_kilobytes(
    served: Any, school: dict[str, Any], new_page: Any
) -> None:
    page = new_page()
    sizes = first_visit_weight(page, lambda: page.goto(f"{served.lan_url}/"))
    assert sum(sizes.values()) <= 100_000, sizes

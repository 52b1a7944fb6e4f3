"""Two children measure one canopy apart on their tablet, one of them from the 1, and are asked about it."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.plays.screens import fill, send
from tests.support.browser import PHONE, TABLET, first_visit_weight, sideways_scroll

SETUP = """
from classroom.access import TEAM_COOKIE
from django.contrib.auth import get_user_model
from tests import builders as b
teacher = b.make_teacher("teacher")
room = b.make_class(teams=5, name="Room 5", children=3, teacher=teacher)
challenge = b.make_challenge(room, values={"measure_canopy": "twice", "measure_lines": "twice"})
teams = list(room.teams.order_by("place"))
for team in teams:
    b.plan_round(challenge, team)
    b.clear_round(challenge, team)
tokens = [b.team_client(team).cookies[TEAM_COOKIE].value for team in teams]
metric = b.make_challenge(b.make_class(teams=1, name="Room 6"), unit_system="metric")
team = metric.classroom.teams.get()
b.plan_round(metric, team, radius="17", line="30")
b.clear_round(metric, team)
tokens.insert(4, b.team_client(team).cookies[TEAM_COOKIE].value)
session = b.teacher_client(room).cookies["sb_session"].value
print(json.dumps({"tokens": tokens, "code": room.code, "session": session}))
"""
TOUCH = {"has_touch": True, "is_mobile": True}
FROM_THE_1 = "Did both tapes start at 0?"


@pytest.fixture(scope="module")
def room(served: Any) -> dict[str, Any]:
    known: dict[str, Any] = served.ask_python(SETUP)
    return known


def join(page: Page, served: Any, token: str) -> Page:
    page.context.add_cookies([{"name": "sb_team", "value": token, "url": served.base_url}])
    page.goto(f"{served.base_url}/team/1/build/")
    return page


def holds(page: Page, axe: Any) -> None:
    assert axe(page) == []
    assert sideways_scroll(page) == {}


def lines(page: Page) -> None:
    fill(page, {f"line_length_{number}": "13" for number in range(1, 5)})
    send(page, "Save")


def test_two_children_measure_apart_one_from_the_1_and_the_message_names_it(served, new_page, room, axe):
    page = join(new_page(), served, room["tokens"][0])
    expect(page.locator("h1")).to_have_text("Give the tablet to Ana A.")
    holds(page, axe)
    fill(page, {"canopy_diameter_1": "14", "canopy_diameter_2": "13 3/4"})
    send(page, "Save")
    lines(page)

    expect(page.locator("h1")).to_have_text("Give the tablet to Bo A.")
    assert "13 3/4" not in page.content()
    assert page.locator("[name=canopy_diameter_1]").input_value() == ""
    holds(page, axe)
    # Bo's tape began at the 1: every reading is one too many.
    fill(page, {"canopy_diameter_1": "15", "canopy_diameter_2": "14 3/4"})
    send(page, "Save")
    lines(page)

    expect(page.locator("h1")).to_have_text("Look at the tape together")
    meeting = page.locator(".meeting").first
    expect(meeting).to_contain_text(FROM_THE_1)
    expect(meeting).to_contain_text("One of you read 14 in, the other 15 in.")
    expect(meeting).not_to_contain_text("Bo")
    expect(meeting.locator(".tape").first).to_have_attribute("aria-label", re.compile("14.in, 15.in"))
    holds(page, axe)
    for name, mark in (("canopy_diameter_1", "14"), ("canopy_diameter_2", "13 3/4")):
        assert page.locator("main .meeting").count() == 1
        button = page.locator("main .button-next").bounding_box()
        assert button is not None
        assert button["y"] + button["height"] <= TABLET[1]
        fill(page, {name: mark})
        send(page, "We agree")
    expect(page.locator("h1")).to_have_text("What you made, beside your plan")
    expect(page.locator("#made")).to_contain_text("13 7/8")

    rows = served.ask_python(
        "from design_challenges.models import Measurement\n"
        "rows = Measurement.objects.filter(stage='built', quantity='canopy_diameter', spot=1)\n"
        "print(json.dumps([[row.turn, row.typed, str(row.student or '')] for row in rows]))"
    )
    assert rows == [[1, "14", "Ana A."], [2, "15", "Bo A."], [0, "14", ""]]


@pytest.mark.parametrize("scripts", [True, False], ids=["outbox", "plain forms"])
def test_going_back_never_shows_the_second_child_what_the_first_one_read(scripts, served, new_page, room):
    page = join(new_page(java_script_enabled=scripts), served, room["tokens"][1 if scripts else 5])
    # Pages to go back to: the outbox leaves no page of its own behind.
    page.goto(f"{served.base_url}/team/1/plan/")
    page.goto(f"{served.base_url}/team/1/build/")
    page.locator("[name=canopy_diameter_1]").fill("14 1/4")
    page.locator("[name=canopy_diameter_2]").fill("14 1/4")
    page.locator("main .button-next").click()
    for number in range(1, 5):
        page.locator(f"[name=line_length_{number}]").fill("14 1/4")
    page.locator("main .button-next").click()
    expect(page.locator("h1")).to_contain_text(f"Bo {'B' if scripts else 'E'}")
    looked_at = 0
    while page.go_back() is not None:
        assert "14 1/4" not in page.content()
        boxes = page.locator("main input:not([type=hidden], [type=radio])").all()
        assert [box.input_value() for box in boxes] == [""] * len(boxes)
        looked_at += len(boxes)
    # Bo's own empty boxes stood on one of them at least.
    assert looked_at
    # The plan is out of sight as well.
    page.goto(f"{served.base_url}/team/1/plan/")
    expect(page.get_by_role("main")).to_contain_text("The plan is hidden while you measure")


def test_on_a_touch_screen_inches_are_a_number_and_a_button_and_the_tape_follows(served, new_page, room, axe):
    page = join(new_page(TABLET, **TOUCH), served, room["tokens"][2])
    box = page.locator("[name=canopy_diameter_1]")
    assert box.get_attribute("inputmode") == "decimal"
    half = page.locator("label[for=id_canopy_diameter_1_part_2]")
    expect(half).to_be_visible()
    size = half.bounding_box()
    assert size is not None
    assert min(size["width"], size["height"]) >= 44
    box.fill("14")
    half.tap()
    assert box.input_value() == "14 1/2"
    tape = page.locator("#id_canopy_diameter_1_tape").get_by_role("img")
    expect(tape).to_have_attribute("aria-label", re.compile("2 marks past the 14"))
    page.locator("label[for=id_canopy_diameter_1_part_1]").tap()
    assert box.input_value() == "14 1/4"
    expect(tape).to_have_attribute("aria-label", re.compile("1 mark past the 14"))
    # Typing still works, and the buttons follow it.
    box.fill("13 3/4")
    expect(page.locator("#id_canopy_diameter_1_part_3")).to_be_checked()
    page.locator("label[for=id_canopy_diameter_1_part_0]").tap()
    assert box.input_value() == "13"
    box.fill("lots")
    expect(tape).to_have_attribute("aria-label", re.compile(r"a mark every 1/4.in\.$"))
    box.fill("14")
    holds(page, axe)
    fill(page, {"canopy_diameter_2": "14"})
    page.locator("label[for=id_canopy_diameter_2_part_2]").tap()
    send(page, "Save")
    expect(page.locator("[name=line_length_1]")).to_be_visible()
    button = page.locator("main .button-next").bounding_box()
    assert button is not None
    assert button["y"] + button["height"] <= TABLET[1]


def test_without_scripts_the_box_and_the_buttons_are_read_together(served, new_page, room):
    page = join(new_page(TABLET, java_script_enabled=False, **TOUCH), served, room["tokens"][3])
    page.locator("[name=canopy_diameter_1]").fill("14")
    page.locator("label[for=id_canopy_diameter_1_part_2]").click()
    page.locator("[name=canopy_diameter_2]").fill("13 3/4")
    page.locator("main .button-next").click()
    expect(page.locator("[name=line_length_1]")).to_be_visible()
    typed = served.ask_python(
        "from design_challenges.models import Measurement\n"
        "print(json.dumps([row.typed for row in Measurement.objects.filter(stage='built',"
        " quantity='canopy_diameter').order_by('-pk')[:2]]))"
    )
    assert typed == ["13 3/4", "14 1/2"]


def test_a_metric_class_has_the_decimal_keypad_and_its_own_tape(served, new_page, room, axe):
    page = join(new_page(PHONE, **TOUCH), served, room["tokens"][4])
    box = page.locator("[name=canopy_diameter_1]")
    assert box.get_attribute("inputmode") == "decimal"
    expect(page.locator(".parts")).to_have_count(0)
    box.fill("34,5")
    tape = page.locator("#id_canopy_diameter_1_tape").get_by_role("img")
    expect(tape).to_have_attribute(
        "aria-label", re.compile(r"every 0\.5.cm\. 34\.5.cm is 1 mark past the 34")
    )
    holds(page, axe)


def test_the_teacher_sees_how_close_the_pairs_are(served, new_page, room, axe):
    page = new_page()
    page.context.add_cookies([{"name": "sb_session", "value": room["session"], "url": served.base_url}])
    page.goto(f"{served.base_url}/classes/{room['code']}/dashboard/")
    page.get_by_role("link", name="Measuring").click()
    row = page.locator("#pairs tbody tr").first
    expect(row).to_contain_text("Canopy diameter")
    expect(row).to_contain_text("0 of 2")
    holds(page, axe)


def test_a_first_visit_stays_light(served, new_page, room):
    page = new_page()
    page.context.add_cookies([{"name": "sb_team", "value": room["tokens"][2], "url": served.base_url}])
    weights = first_visit_weight(page, lambda: page.goto(f"{served.base_url}/team/1/build/"))
    assert sum(weights.values()) <= 100_000

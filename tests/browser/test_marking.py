"""A class marked by keyboard in a real browser: key presses counted, every mark read back, none lost."""

from __future__ import annotations

import random
import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.support.browser import PROJECTOR

MOST_KEYS = 400
CHILDREN, CRITERIA = 28, 6

SETUP = """
from tests import builders
from tests.support import site
from design_challenges.services.marking import rubrics
teacher = builders.make_teacher("m.arker")
colleague = builders.make_teacher("c.olleague")
codes = []
for number in range(5):
    room = builders.make_class(7 if not number else 2, children=4, teacher=teacher, name=f"Room {number}")
    room.memberships.create(user=colleague, role="colleague")
    challenge = builders.make_challenge(room)
    rubrics.start_usual(challenge, 5, teacher)
    codes.append(room.code)
    if number == 3:
        builders.play_round(challenge, room.teams.first())
print(json.dumps({"codes": codes, "session": site.sign_in(teacher), "colleague": site.sign_in(colleague)}))
"""
READ = """
from classroom.models import Classroom
from tests.support.marked_classes import marks_of
marks = marks_of(Classroom.objects.get(code=CODE).challenges.get(), second=SECOND)
print(json.dumps({f"{kind}{pk}:{key}": given.text for (kind, pk, key), given in marks.given.items()}))
"""


@pytest.fixture(scope="module")
def school(served: Any) -> dict[str, Any]:
    known: dict[str, Any] = served.ask_python(SETUP)
    return known


@pytest.fixture
def open_marks(served: Any, school: dict[str, Any], new_page: Any) -> Any:
    """Return a function that opens a class's marks for its teacher, or for a colleague."""

    def open_page(number: int, query: str = "", who: str = "session", **options: Any) -> Page:
        page: Page = new_page(PROJECTOR, **options)
        page.context.add_cookies([{"name": "sb_session", "value": school[who], "url": served.base_url}])
        page.goto(f"{served.base_url}/classes/{school['codes'][number]}/marks/{query}")
        return page

    return open_page


class Keyboard:
    """A keyboard that counts."""

    def __init__(self, page: Page) -> None:
        self.page, self.presses = page, 0

    def press(self, key: str, times: int = 1) -> None:
        for _ in range(times):
            self.page.keyboard.press(key)
            self.presses += 1


def at(page: Page) -> str:
    """Return the name of the field that has the focus."""
    return str(page.evaluate("() => document.activeElement.name || ''"))


def saved(page: Page) -> None:
    expect(page.locator("[data-state]")).to_have_text("All marks saved.")


def read_back(served: Any, code: str, second: bool = False) -> dict[str, str]:
    found: dict[str, str] = served.ask_python(
        READ.replace("CODE", repr(code)).replace("SECOND", repr(second))
    )
    return found


def test_28_children_on_6_criteria_in_under_400_key_presses(served, school, open_marks, capsys):
    page = open_marks(0)
    keys = Keyboard(page)
    chance = random.Random(6)
    wanted: dict[str, str] = {}
    while not at(page).startswith("t"):
        keys.press("Tab")
    keys.press("ArrowDown")
    for _team in range(7):
        for _child in range(4):
            for _criterion in range(CRITERIA):
                level = chance.choice("1234")
                assert at(page).startswith("s")
                wanted[at(page)] = level
                keys.press(level)
        keys.press("ArrowDown")  # past the next team's own row
    saved(page)
    assert len(wanted) == CHILDREN * CRITERIA == 168
    assert read_back(served, school["codes"][0]) == wanted
    page.reload()
    shown = {field.get_attribute("name"): field.input_value() for field in page.locator("[data-mark]").all()}
    assert {name: text for name, text in shown.items() if text} == wanted
    for row in page.locator("tr.child-row").all():
        levels = [int(field.input_value()) for field in row.locator("[data-mark]").all()]
        total = float(row.locator("[data-total]").inner_text())
        assert total == pytest.approx(100 * sum(levels) / 24, abs=0.051)
    with capsys.disabled():
        print(f"\n28 children on 6 criteria by keyboard: {keys.presses} key presses")
    assert keys.presses < MOST_KEYS


def test_a_team_is_marked_first_then_a_child_otherwise_and_every_key_does_what_it_says(
    served, school, open_marks
):
    page = open_marks(3)
    code = school["codes"][3]
    keys = Keyboard(page)
    fields = page.locator("[data-mark]")
    team = fields.first.get_attribute("name")
    child = fields.nth(CRITERIA).get_attribute("name")
    total = page.locator(f'[data-total="{child.partition(":")[0]}"]')
    fields.first.focus()
    expect(page.locator("#evidence h2")).to_have_text("Gannet")
    expect(page.locator("#evidence")).to_contain_text("It must fall slowly.")
    keys.press("3")
    assert at(page).endswith(":ideas")
    keys.press("x")
    keys.press("s")  # the level that is suggested: nothing of a second build is there yet
    saved(page)
    expect(page.locator(f'[name="{child}"]')).to_have_attribute("placeholder", "3")
    given = read_back(served, code)
    assert (given[team], given[team.replace("limits", "ideas")]) == ("3", "x")
    assert given[team.replace("limits", "fair-test")] == "2"
    # 3 and 2 of 4 and 4, the excused one nowhere
    expect(total).to_have_text("62.5")
    page.locator(f'[name="{child}"]').focus()
    expect(page.locator("#evidence h2")).to_have_text("Ana A.")
    keys.press("4")
    saved(page)
    expect(total).to_have_text("75.0")
    keys.press("u")
    expect(page.locator(f'[name="{child}"]')).to_have_value("")
    expect(page.locator(f'[name="{child}"]')).to_be_focused()
    expect(total).to_have_text("62.5")
    keys.press("Control+z")
    expect(page.locator(f'[name="{team.replace("limits", "fair-test")}"]')).to_have_value("")
    page.get_by_role("button", name="Undo", exact=True).click()
    expect(page.locator(f'[name="{team.replace("limits", "ideas")}"]')).to_be_focused()
    keys.press("7")
    assert page.locator(f'[name="{team.replace("limits", "ideas")}"]').input_value() == ""
    for key, place in (("ArrowLeft", team), ("ArrowDown", child), ("ArrowUp", team)):
        keys.press(key)
        assert at(page) == place
    keys.press("Delete")
    saved(page)
    assert read_back(served, code) == {}
    keys.press("c")
    expect(page.locator("#evidence textarea")).to_be_focused()
    page.keyboard.type("Tidy work.")
    page.get_by_role("button", name="Save this about Gannet").click()
    expect(page.locator("#evidence .notice-saved")).to_have_text("Saved.")


def test_marks_given_while_the_server_is_gone_are_kept_and_sent_when_it_is_back(
    served, school, open_marks, new_page
):
    new_page.forgive_a_dead_line()
    page = open_marks(1)
    page.locator("[data-mark]").first.focus()
    page.keyboard.press("2")
    saved(page)
    served.kill()
    for key in "341":
        page.keyboard.press(key)
    expect(page.locator("[data-state]")).to_contain_text("on this page only")
    served.start()
    saved(page)
    levels = [field.input_value() for field in page.locator("[data-mark]").all()[:CRITERIA]]
    assert levels == ["2", "3", "4", "1", "", ""]
    assert sorted(read_back(served, school["codes"][1]).values()) == ["1", "2", "3", "4"]


def test_marks_given_while_signed_out_are_sent_once_the_teacher_is_back(served, school, new_page):
    new_page.forgive("403")
    page = new_page(PROJECTOR)
    # As over the school's network: no secure origin, and so no help from what only those have.
    address = f"{served.lan_url}/classes/{school['codes'][4]}/marks/"
    sign_in(page, served)
    page.goto(address)
    page.locator("[data-mark]").first.focus()
    page.keyboard.press("2")
    saved(page)
    page.context.clear_cookies()
    page.keyboard.press("4")
    expect(page.locator("[data-state]")).to_contain_text("you are signed out")
    sign_in(page.context.new_page(), served)
    saved(page)
    assert sorted(read_back(served, school["codes"][4]).values()) == ["2", "4"]


def sign_in(page: Page, served: Any) -> None:
    page.goto(f"{served.lan_url}/sign-in/")
    page.fill("[name=username]", "m.arker")
    page.fill("[name=password]", "a long pass phrase")
    with page.expect_navigation():
        page.locator("main button").first.click()


def test_without_scripts_the_page_is_one_form(served, school, open_marks):
    page = open_marks(2, java_script_enabled=False)
    names = [field.get_attribute("name") for field in page.locator("[data-mark]").all()]
    page.fill(f'[name="{names[0]}"]', "3")
    page.fill(f'[name="{names[CRITERIA]}"]', "9")
    page.get_by_role("button", name="Save the marks").click()
    expect(page.locator("[data-error-summary]")).to_contain_text("Ana A., Limits: “9” is no mark.")
    assert page.locator(f'[name="{names[0]}"]').input_value() == "3"
    page.fill(f'[name="{names[CRITERIA]}"]', "4")
    page.get_by_role("button", name="Save the marks").click()
    expect(page.locator("main")).to_contain_text("2 marks are saved.")
    assert read_back(served, school["codes"][2]) == {names[0]: "3", names[CRITERIA]: "4"}
    page.get_by_role("link", name="Heron", exact=True).click()
    expect(page.locator("#evidence h2")).to_have_text("Heron")
    page.get_by_label("It came late").check()
    page.get_by_role("button", name=re.compile("Save this about")).click()
    expect(page.locator("main")).to_contain_text("The comment is saved.")
    page.get_by_role("button", name="Take back my last mark").click()
    assert read_back(served, school["codes"][2]) == {names[0]: "3"}


def test_a_colleague_marks_a_second_time_and_sees_how_the_two_agree(served, school, open_marks, axe):
    open_marks(2)  # the first marking left one mark there
    page = open_marks(2, "?second=yes", "colleague")
    first = page.locator("[data-mark]").first
    assert first.input_value() == ""
    first.focus()
    page.keyboard.press("4")
    saved(page)
    page.get_by_role("link", name="How we agree").click()
    expect(page.locator("main")).to_contain_text("0 of 1 mark")
    assert axe(page) == []
    assert len(read_back(served, school["codes"][2], second=True)) == 1
    assert "4" not in read_back(served, school["codes"][2]).values()

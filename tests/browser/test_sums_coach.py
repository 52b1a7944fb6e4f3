"""The coach in a real browser: a wrong-way division and its three hints, and what the teacher sees of it."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from classroom.access import TEAM_COOKIE
from tests.support.browser import PHONE, PROJECTOR, sideways_scroll
from tests.support.fresh import fresh

PASSWORD = "a long pass phrase"

BUILD = f"""
from tests import builders
teacher = builders.make_teacher("ms-coach", "{PASSWORD}")

def dropped(name, **settings):
    classroom = builders.make_class(teams=3, teacher=teacher, name=name)
    challenge = builders.make_challenge(classroom, **settings)
    for team in classroom.teams.all():
        builders.plan_round(challenge, team)
        builders.clear_round(challenge, team)
        builders.build_round(challenge, team)
        builders.drop_round(challenge, team)
        record = builders.record_of(challenge, team)
        if record.sums_by_children:
            for step in [*record.rounding_steps.values(), record.result_steps[0]]:
                builders.answer_right(challenge, team, 1, step)
    return classroom

def tablets(classroom):
    return [builders.team_client(team).cookies["sb_team"].value for team in classroom.teams.all()]

room, given = dropped("Room 5"), dropped("Room 6", sums_by="software")
every = builders.make_class(teams=1, teacher=teacher, name="Room 7")
builders.make_challenge(every, values={{"sums_asked": "every"}})
team = every.teams.get()
challenge = every.challenges.get()
builders.plan_round(challenge, team)
from design_challenges.models import Working
Working._base_manager.filter(iteration__team=team).delete()
print(json.dumps({{
    "code": room.code, "tablets": tablets(room),
    "given_code": given.code, "given": tablets(given)[0], "every": tablets(every)[0],
}}))
"""


@pytest.fixture(scope="module")
def data(served: Any) -> dict[str, Any]:
    return dict(served.ask_python(BUILD))


@pytest.fixture
def tablet(served: Any, new_page: Any) -> Any:
    """Return a maker of pages on a tablet that has joined, by its token."""

    def join(token: str) -> Page:
        page: Page = new_page()
        page.context.add_cookies([{"name": TEAM_COOKIE, "value": token, "url": served.base_url}])
        return page

    return join


@pytest.fixture
def teacher(served: Any, new_page: Any) -> Any:
    """Return a maker of pages in which the teacher is signed in."""

    def sign_in(size: tuple[int, int] = PROJECTOR) -> Page:
        page: Page = new_page(size)
        page.goto(f"{served.base_url}/sign-in/")
        page.get_by_label("User name").fill("ms-coach")
        page.get_by_label("Password").fill(PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        page.wait_for_url(lambda url: "sign-in" not in url)
        return page

    return sign_in


def check(page: Page, typed: str) -> None:
    """Type an answer to the sum that is asked, and have it checked."""
    page.locator("#sums [name=answer]").fill(typed)
    page.get_by_role("button", name="Check it").click()


def test_a_wrong_way_division_gets_three_hints_and_then_it_is_right(
    served: Any, data: dict[str, Any], tablet: Any, axe: Any
) -> None:
    page = tablet(data["tablets"][0])
    page.goto(f"{served.base_url}/team/1/results/")
    verdict = page.locator("#sum-speed-verdict")

    check(page, "0.3")
    expect(verdict).to_contain_text("0.3: not yet. You divided the other way round.")
    expect(verdict).not_to_contain_text("Take the drop height")
    expect(page.get_by_role("button", name="Show us the steps")).to_have_count(0)

    check(page, "0.27")
    expect(verdict).to_contain_text("You divided the other way round.")
    expect(verdict).to_contain_text("Take the drop height. Divide it by your average time.")

    check(page, "0.273")
    expect(verdict).to_contain_text("From 20 high in 8 seconds: 20 ÷ 8 is 2.5.")
    expect(page.get_by_role("button", name="Show us the steps")).to_be_visible()
    # The answer has not been on the screen.
    assert "3.7" not in page.locator("#sums").inner_text()
    assert axe(page) == []
    assert sideways_scroll(page) == {}

    check(page, "3.7")
    expect(page.locator("#sum-speed")).to_contain_text("Fall speed: 3.7 ft/s. Right.")


def test_an_answer_that_two_slips_explain_is_asked_about_and_the_pick_answered(
    served: Any, data: dict[str, Any], tablet: Any, axe: Any
) -> None:
    page = tablet(data["tablets"][1])
    page.goto(f"{served.base_url}/team/1/results/")

    check(page, "3.6")

    expect(page.locator("#sum-speed-verdict")).to_contain_text("Which buttons did you press?")
    assert axe(page) == []
    page.get_by_role("button", name="I rounded a five down").click()
    expect(page.locator("#sum-speed-verdict")).to_contain_text("Which way does a five go?")
    expect(page.get_by_role("button", name="I rounded a five down")).to_have_count(0)
    # Enter in the field checks the answer; it never picks a way.
    check(page, "3.6")
    expect(page.get_by_role("button", name="I rounded a five down")).to_be_visible()
    page.locator("#sums [name=answer]").fill("3.7")
    page.keyboard.press("Enter")
    expect(page.locator("#sum-speed")).to_contain_text("Right.")


def test_the_pick_works_without_scripts(served: Any, data: dict[str, Any], new_page: Any) -> None:
    page = new_page(java_script_enabled=False)
    page.context.add_cookies([{"name": TEAM_COOKIE, "value": data["tablets"][2], "url": served.base_url}])
    page.goto(f"{served.base_url}/team/1/results/")
    check(page, "3.6")
    page.get_by_role("button", name="Drop height ÷ the time of one drop").click()
    expect(page.locator("#sum-speed-verdict")).to_contain_text("Is that the time of one drop?")
    check(page, "")
    check(page, "3.7")


def test_the_teachers_slip_page_changes_with_its_next_poll(
    served: Any, data: dict[str, Any], tablet: Any, teacher: Any, axe: Any
) -> None:
    watching = teacher()
    watching.goto(f"{served.base_url}/classes/{data['code']}/slips/")
    expect(watching.locator("#live")).not_to_contain_text("multiplying instead of dividing")
    team = tablet(data["tablets"][0])
    team.goto(f"{served.base_url}/team/1/plan/sums/")
    served.run_python(f"""
from classroom.models import Classroom
from design_challenges.models import Working
Working._base_manager.filter(
    iteration__team__classroom__code="{data["code"]}", step="speed"
).delete()
""")
    team.goto(f"{served.base_url}/team/1/results/")

    with fresh(watching, "#live", "1 team is multiplying instead of dividing"):
        check(team, "61.5")
        expect(team.locator("#sum-speed-verdict")).to_contain_text("You multiplied.")

    assert axe(watching) == []
    assert sideways_scroll(watching) == {}


def test_where_the_software_does_the_sums_values_and_working_are_there_and_nothing_is_asked(
    served: Any, data: dict[str, Any], tablet: Any, axe: Any
) -> None:
    page = tablet(data["given"])
    for address, lines in (
        ("plan/sums", ["π × 49", "Rounded: 154 in²", "Together: 154 + 156 = 310 points"]),
        (
            "results",
            ["4.1 + 4.0 + 4.1 = 12.2", "12.2 ÷ 3 = 4.066…", "15 ÷ 4.1 = 3.658…", "Rounded: 3.7 ft/s"],
        ),
    ):
        page.goto(f"{served.base_url}/team/1/{address}/")
        for line in lines:
            expect(page.locator("#sums")).to_contain_text(line)
        expect(page.locator("main [name=answer]")).to_have_count(0)
        expect(page.get_by_role("button", name="Check it")).to_have_count(0)
        assert axe(page) == []


def test_every_step_on_its_own_goes_on_from_what_was_accepted(
    served: Any, data: dict[str, Any], tablet: Any
) -> None:
    page = tablet(data["every"])
    page.goto(f"{served.base_url}/team/1/plan/sums/")

    check(page, "7")
    expect(page.locator("#sum-diameter-verdict")).to_contain_text("How far is it from edge to edge?")
    check(page, "14 in")
    expect(page.locator("#sum-area")).to_contain_text("Way across")
    check(page, "154")
    check_next = page.locator("#sum-total_line [name=answer]")
    expect(check_next).to_be_visible()
    check(page, "52")
    expect(page.locator("#sum-material")).to_contain_text("All the line")
    expect(page.locator("#sum-material")).to_contain_text("52 in")
    check(page, "310")
    expect(page.locator("#sum-material")).to_contain_text("Right.")


def test_an_exit_question_goes_from_the_teacher_to_a_child_and_back(
    served: Any, data: dict[str, Any], tablet: Any, teacher: Any, axe: Any
) -> None:
    desk = teacher()
    desk.goto(f"{served.base_url}/classes/{data['code']}/slips/children/rounded_1/")
    desk.get_by_role("button", name="Ask it on the tablets").click()
    expect(desk.locator("#live")).to_contain_text("open on the tablets")

    team = tablet(data["tablets"][1])
    team.goto(f"{served.base_url}/team/1/results/")
    team.get_by_role("link", name="Answer it").click()
    team.get_by_role("button", name="Ana A.").or_(team.get_by_role("button", name="Ana B.")).click()
    expect(team.locator("[name=answer]")).to_be_visible()
    assert axe(team) == []
    assert sideways_scroll(team) == {}
    team.locator("[name=answer]").fill("1.0")
    with team.expect_navigation():
        team.get_by_role("button", name="Hand it in").click()
    expect(team.locator("main")).to_contain_text("Your answer is kept.")

    expect(desk.locator("#live")).to_contain_text("1 child answered")
    desk.get_by_role("button", name="I saw it").first.click()
    expect(desk.locator("#live")).to_contain_text("Take back")
    assert axe(desk) == []
    assert sideways_scroll(desk) == {}
    desk.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
    desk.goto(f"{served.base_url}/classes/{data['code']}/slips/children/rounded_1/paper/")
    assert axe(desk) == []

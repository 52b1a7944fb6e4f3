"""Every page used by keyboard alone: Tab, arrows, Space, Enter and typing, the focus always in sight."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from tests.browser.plays.keyboard import Keys
from tests.browser.plays.stories import OLDER, DropStory, RoundStory, drops, four
from tests.browser.plays.teacher import PASSWORD, Teacher
from tests.browser.plays.team import Tablet, take_turns
from tests.support.browser import PROJECTOR, PageMaker

# One team that meets all that a keyboard must get through: over the limit, a slip, a question about a time.
STORY = (
    RoundStory(
        ("8", "12"),
        ("16", "15 1/2"),
        four("12"),
        [DropStory("0.91", mark="not_open", asked=True), DropStory(void="timing"), *drops("3.71")],
        ("5", "14"),
        too_big=("9", "12"),
        slips={"area": ["64"]},
    ),
    RoundStory(("8 1/2", "11"), ("17", "17"), four("11"), drops("3.81", "3.78"), change="two"),
)

SCHOOL = """
from classroom.models import *
from django.contrib.auth import get_user_model
from design_challenges.services.lessons import start_lesson
from tests import builders
from tests.support import site, stages
teacher = get_user_model().objects.create_user("k.eyes", password=PASSWORD)
room = builders.make_class(4, teacher=teacher, name="Room 7")
challenge = builders.make_challenge(room, drawing_required=True, trials_per_round=2)
stages.open_round(challenge, 2)
start_lesson(room, teacher)
first, second, third, fourth = room.teams.all()
stages.play_to(challenge, second, "over")
site.copy_rounds(site.played_team(teacher, "new-ready"), third, challenge)
site.copy_rounds(site.played_team(teacher, "finished"), fourth, challenge)
print(json.dumps({"code": room.code, "codes": [team.code for team in room.teams.all()],
    "teams": [team.pk for team in room.teams.all()], "student": room.students.last().pk,
    "drop": stages.some_drop(third)}))
""".replace("PASSWORD", repr(PASSWORD))


@pytest.fixture(scope="module")
def school(served):
    return served.ask_python(SCHOOL)


@pytest.fixture(scope="module")
def devices(chromium):
    maker = PageMaker(chromium)
    yield maker
    faults = maker.close()
    assert not faults, "\n".join(faults)


@pytest.fixture(scope="module")
def teacher(served, school, devices):
    """A teacher who signed in by keyboard."""
    page = devices(PROJECTOR)
    teacher = Teacher(page, served.base_url, Keys(page))
    teacher.sign_in("k.eyes")
    teacher.code = school["code"]
    expect(page.get_by_role("heading", level=1)).to_have_text("Your classes")
    return teacher


# --- a team ----------------------------------------------------------------------------------------


def test_a_team_plays_both_rounds_by_keyboard_alone(served, school, devices):
    page = devices()
    tablet = Tablet(page, served.base_url, OLDER, STORY, Keys(page))
    tablet.join(school["code"], school["codes"][0])
    take_turns([tablet.play_round(1)])
    assert tablet.at == (1, "compare")
    assert tablet.mended
    assert len(tablet.told) == 3
    take_turns([tablet.play_round(2)])
    assert tablet.at == (2, "compare")


def test_the_tools_of_the_team_bar_work_by_keyboard(served, school, devices):
    page = devices()
    keys = Keys(page)
    tablet = Tablet(page, served.base_url, OLDER, STORY, keys)
    tablet.join_by_link(school["code"], school["codes"][1])
    called = page.locator("header form[action$='/team/help/'] button")
    keys.send(called)
    expect(page.locator("header .pill-help")).to_be_visible()
    keys.send(called)
    expect(page.locator("header .pill-help")).to_have_count(0)
    keys.send(page.locator("form[action$='/team/jobs/'] button"))
    keys.follow("Not us?")
    keys.follow(page.get_by_role("main").get_by_role("link").last)
    keys.follow("Not us?")
    keys.send("Not us: leave this team")
    expect(page.get_by_label("Class code")).to_be_visible()


def test_a_team_that_has_done_it_all_looks_back_by_keyboard(served, school, devices):
    page = devices()
    keys = Keys(page)
    tablet = Tablet(page, served.base_url, OLDER, STORY, keys)
    tablet.join_by_link(school["code"], school["codes"][3])
    expect(page.get_by_role("heading", level=1)).to_have_text("You have done it all")
    for link, leads_to in (("our plan", "/team/1/plan/"), ("our results", "/team/2/results/")):
        page.goto(f"{served.base_url}/team/finished/")
        found = page.get_by_role("main").get_by_role("link", name=link, exact=True)
        keys.follow(found.first if "1" in leads_to else found.last)
        assert page.url.endswith(leads_to)


def test_it_broke_is_said_by_keyboard(served, school, devices):
    page = devices()
    keys = Keys(page)
    tablet = Tablet(page, served.base_url, OLDER, STORY, keys)
    tablet.join_by_link(school["code"], school["codes"][2])
    page.goto(f"{served.base_url}/team/1/test/broke/")
    keys.tap("outcome", "same")
    keys.send("Go on")
    assert page.url.endswith("/team/1/test/")


def test_the_error_summary_leads_a_keyboard_to_the_field(served, school, devices):
    page = devices()
    keys = Keys(page)
    page.goto(f"{served.base_url}/join/")
    keys.fill({"class_code": school["code"], "team_code": "WRONG1"})
    keys.send("Join")
    expect(page.locator("[data-error-summary]")).to_be_focused()
    keys.page.keyboard.press("Tab")
    keys.page.keyboard.press("Enter")
    expect(page.get_by_label("Team code")).to_be_focused()
    expect(page.get_by_label("Team code")).to_have_value("WRONG1")
    expect(page.get_by_label("Class code")).to_have_value(school["code"])


def test_enter_in_a_field_sends_the_form(served, school, devices):
    page = devices()
    keys = Keys(page)
    page.goto(f"{served.base_url}/join/")
    keys.fill({"class_code": school["code"], "team_code": school["codes"][1]})
    page.keyboard.press("Enter")
    expect(page.locator("header")).to_contain_text("Room 7")


# --- a teacher -------------------------------------------------------------------------------------


def test_the_first_teacher_sets_a_class_up_by_keyboard(new_server, new_page):
    fresh = new_server()
    page = new_page(PROJECTOR)
    teacher = Teacher(page, fresh.base_url, Keys(page))
    teacher.make_account(fresh.first_teacher_path)
    teacher.make_class("Room 9")
    teacher.paste_children("Ana P\nBo K\nCem Y\nDia R\nEli F\nFay O\nGus T\nHana B")
    teacher.shuffle(4)
    assert len(teacher.team_codes()) == 2
    teacher.set_up("metric", "younger")
    teacher.start_lesson()
    page.goto(f"{fresh.base_url}/classes/{teacher.code}/settings/change/")
    teacher.hands.fill({"limit": "2500"})
    teacher.hands.send("See what changes")
    teacher.hands.send("Save the new settings")
    expect(page.get_by_role("main")).to_contain_text("2500")


def test_the_dashboard_is_run_by_keyboard(teacher, school):
    page, keys = teacher.page, teacher.hands
    teacher.dashboard()
    teacher.tap("Pause all tablets")
    expect(page.get_by_text("All tablets are paused")).to_be_visible()
    teacher.tap("Go on")
    teacher.tap("Close Build")
    expect(page.locator("#gate-1-build")).to_contain_text("Open")
    teacher.tap("Open Build")
    teacher.tap("Close joining")
    teacher.tap("Open joining")
    summary = page.locator(f"#steps-of-{school['teams'][1]} summary")
    keys.go_to(summary)
    page.keyboard.press("Enter")
    keys.tap_live(page.locator(f"#gate-{school['teams'][1]}-test"))
    # It stays open and keeps the focus while the page brings itself up to date.
    expect(page.locator(f"#steps-of-{school['teams'][1]}")).to_have_attribute("open", "")
    expect(page.locator(f"#gate-{school['teams'][1]}-test")).to_be_focused()


def test_a_teams_work_is_put_right_by_keyboard(teacher, school):
    page, keys = teacher.page, teacher.hands
    work = f"teams/{school['teams'][2]}/work/"
    teacher.open(work)
    keys.follow(page.get_by_role("link", name="Correct the time of drop 1").first)
    keys.fill({"time": "3.50", "reason": "The watch was read wrongly."})
    keys.send("Save")
    expect(page.get_by_role("main")).to_contain_text("The watch was read wrongly.")
    keys.follow(page.get_by_role("link", name=re.compile("^Does not count")).nth(1))
    keys.fill({"reason": "Somebody held it."})
    keys.send("It does not count")
    expect(page.get_by_role("main")).to_contain_text("Somebody held it.")
    teacher.open(f"teams/{school['teams'][1]}/work/")
    keys.follow(page.get_by_role("link", name=re.compile("Clear by hand")).first)
    keys.fill({"reason": "They will trim it."})
    keys.send("Clear to build")
    expect(page.get_by_role("main")).to_contain_text("They will trim it.")
    teacher.open(f"teams/{school['teams'][1]}/work/1/sizes/planned/line_length/1/")
    keys.fill({"length": "11"})
    keys.send("Save")
    teacher.open(f"teams/{school['teams'][1]}/work/1/notes/purpose/")
    keys.fill({"text": "It must land softly."})
    keys.send("Save")
    expect(page.get_by_role("main")).to_contain_text("It must land softly.")


def test_the_board_is_run_by_keyboard(teacher):
    page, keys = teacher.page, teacher.hands
    teacher.open("board/?view=table")
    keys.go_to(page.locator("#board-tools > summary"))
    page.keyboard.press("Enter")
    keys.tap_live(page.locator("#cover-canopy_diameter"))
    expect(page.locator("#board-table td.covered").first).to_be_attached()
    keys.tap_live(page.locator("#cover-canopy_diameter"))
    expect(page.locator("#board-table td.covered")).to_have_count(0)
    keys.tap_live(page.locator("#board-order"))
    expect(page.get_by_role("button", name="Back to team order")).to_be_visible()
    keys.tap_live(page.locator("#timer-1"))
    expect(page.locator("#timer-0")).to_be_attached()
    keys.follow(page.get_by_role("navigation", name="Views").get_by_role("link").first)


def test_the_files_are_fetched_by_keyboard(teacher):
    page, keys = teacher.page, teacher.hands
    teacher.open("files/")
    for name in ("Save the gradebook", "results.csv"):
        keys.go_to(page.get_by_role("link", name=name, exact=True))
        with page.expect_download() as download:
            page.keyboard.press("Enter")
        assert download.value.suggested_filename.startswith(teacher.code)


def test_a_substitutes_card_is_made_and_withdrawn_by_keyboard(teacher):
    page, keys = teacher.page, teacher.hands
    teacher.open("substitute/")
    days = page.locator("main input[name=days]")
    keys.tap("days", days.nth(1).get_attribute("value") or "")
    keys.send("Make a card")
    expect(page.locator(".sheet svg")).to_be_visible()
    keys.go_to(page.get_by_role("button", name="Print"))
    keys.follow("Back")
    teacher.open("substitute/")
    expect(page.locator("#cards tbody tr").first).to_contain_text("works")
    keys.send(page.locator("#cards tbody tr").first.get_by_role("button"))
    expect(page.locator("#cards tbody tr").first).to_contain_text("withdrawn")


FORMS = [
    ("students/new/", {"given_name": "Zed", "initial": "Q"}, "Add", "/students/"),
    ("students/{student}/", {"given_name": "Zora"}, "Save the name", "/students/"),
    ("students/{student}/left/", {}, "Mark as left", "/students/"),
    ("teams/{team}/rename/", {"name": "Petrels"}, "Save the name", "/teams/"),
    ("teams/{team}/code/", {}, "Give a new code", "/teams/"),
    ("teams/add/", {"count": "1"}, "Add them", "/teams/seat/"),
    ("teams/seat/", {}, "Save", "/teams/"),
    ("rename/", {"name": "Room 8"}, "Save the name", ""),
    ("paper/type-in/1/{team}/", {}, "Save", "/paper/type-in/1/"),
    ("lessons/end/", {}, "End lesson", "/lessons/1/"),
    ("archive/", {}, "Put it into the archive", ""),
]


@pytest.mark.parametrize(("path", "fields", "button", "leads_to"), FORMS, ids=[form[0] for form in FORMS])
def test_a_form_is_filled_in_and_sent_by_keyboard(path, fields, button, leads_to, teacher, school):
    teacher.open(path.format(student=school["student"], team=school["teams"][1]))
    teacher.hands.fill(fields)
    teacher.hands.send(button)
    assert leads_to in teacher.page.url
    expect(teacher.page.locator("[data-error-summary]")).to_have_count(0)


def test_two_teams_are_merged_by_keyboard(served, devices, school):
    page = devices(PROJECTOR)
    teacher = Teacher(page, served.base_url, Keys(page))
    teacher.sign_in("k.eyes")
    teacher.make_class("Room 10")
    teacher.paste_children("Ana P\nBo K\nCem Y\nDia R")
    teacher.shuffle(2)
    teacher.hands.go_to(page.locator("main ol > li summary").first)
    page.keyboard.press("Enter")
    teacher.hands.follow(page.get_by_role("link", name=re.compile("^Merge or take out")).first)
    into = page.locator("main input[name=into]").first.get_attribute("value") or ""
    teacher.hands.tap("into", into)
    teacher.hands.send("Merge them")
    assert len(teacher.team_codes()) == 1


def test_an_account_is_looked_after_by_keyboard(served, devices, school):
    page = devices(PROJECTOR)
    teacher = Teacher(page, served.base_url, Keys(page))
    teacher.sign_in("k.eyes")
    page.goto(f"{served.base_url}/teachers/new/")
    teacher.hands.fill({"username": "a.new.one"})
    teacher.hands.send("Make the link")
    page.goto(f"{served.base_url}/classes/{school['code']}/substitute/")
    page.goto(f"{served.base_url}/password/")
    another = "puffins under green water"
    teacher.hands.fill({"old_password": PASSWORD, "new_password1": another, "new_password2": another})
    teacher.hands.send("Change password")
    teacher.hands.send("Sign out")
    expect(page.get_by_label("User name")).to_be_visible()

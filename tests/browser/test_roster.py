"""A roster file in a real browser: every step fit for everyone, and the whole way by keyboard alone."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.plays.keyboard import Keys
from tests.support.browser import PROJECTOR, sideways_scroll
from tests.support.oneroster import small_school

LIST = (
    "Vorname;Nachname;Nr;Klasse;Geburtsdatum\n"
    + "".join(f"Kind{number};Familie{number};{100 + number};5B;2016-01-02\n" for number in range(24))
    + "Zita;Alt;200;5A;2016-01-02\nAnna;Berg;7;5B;2016-01-02\n;Ohnename;201;5B;2016-01-02\n"
)

BUILD = """
from django.conf import settings
from django.contrib.auth import get_user_model
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore
from classroom.models import Classroom, Membership, Student
user = get_user_model().objects.create_user('teacher', password='a long pass phrase')
codes = {}
for name in ('by-mouse', 'by-keys', 'package'):
    room = Classroom.objects.create(name='5B')
    Membership.objects.create(user=user, classroom=room)
    Student.objects.create(classroom=room, given_name='Ana', initial='B', source_id='7')
    Student.objects.create(classroom=room, given_name='Bo', initial='K')
    codes[name] = room.code
session = SessionStore()
session[SESSION_KEY] = str(user.pk)
session[BACKEND_SESSION_KEY] = settings.AUTHENTICATION_BACKENDS[0]
session[HASH_SESSION_KEY] = user.get_session_auth_hash()
session.create()
print(json.dumps({'codes': codes, 'session': session.session_key, 'cookie': settings.SESSION_COOKIE_NAME}))
"""


@pytest.fixture(scope="module")
def site(served):
    return served.ask_python(BUILD)


@pytest.fixture
def teacher(served, site, new_page) -> Page:
    page = new_page(PROJECTOR)
    page.context.add_cookies([{"name": site["cookie"], "value": site["session"], "url": served.base_url}])
    return page


@pytest.fixture
def list_file(tmp_path: Path) -> str:
    path = tmp_path / "klasse.csv"
    path.write_text(LIST, encoding="cp1252")
    return str(path)


def look(page: Page, axe) -> None:
    expect(page.locator("h1")).to_have_count(1)
    assert axe(page) == []
    assert sideways_scroll(page) == {}


def send(page: Page, button: str) -> None:
    with page.expect_navigation():
        page.get_by_role("button", name=button).click()


def test_a_list_goes_in_step_by_step(served, site, teacher, list_file, axe) -> None:
    page, code = teacher, site["codes"]["by-mouse"]
    page.goto(f"{served.base_url}/classes/{code}/students/")
    with page.expect_navigation():
        page.get_by_role("link", name="Bring in a roster file").click()
    look(page, axe)
    send(page, "See what is in it")
    expect(page.locator("[data-error-summary]")).to_be_focused()
    look(page, axe)
    page.get_by_label("Roster file").set_input_files(list_file)
    send(page, "See what is in it")
    look(page, axe)
    expect(page.get_by_label("First name")).to_have_value("0")
    expect(page.locator("main")).not_to_contain_text("2016")
    page.get_by_label("The school’s id of the child").select_option(label="Nr (100)")
    page.get_by_label("Family name or initial").select_option("0")
    send(page, "Go on")
    expect(page.locator("[data-error-summary]")).to_be_focused()
    look(page, axe)
    page.get_by_label("Family name or initial").select_option("1")
    send(page, "Go on")
    look(page, axe)
    expect(page.get_by_label("Class in the file")).to_have_value("5B")
    send(page, "See what would change")
    look(page, axe)
    expect(page.locator("#fault-rows tbody")).to_contain_text("There is no first name.")
    expect(page.get_by_label("Ana B. becomes Anna B.")).to_be_checked()
    page.get_by_label("Bo K.").uncheck()
    send(page, "Bring the class up to date")
    expect(page.get_by_role("status").first).to_contain_text("24 children added, 1 changed, 0 marked as left")
    expect(page.locator("#students")).to_contain_text("Anna B.")
    expect(page.locator("#students")).to_contain_text("Bo K.")


def test_the_whole_way_by_keyboard(served, site, teacher, list_file) -> None:
    page, code, keys = teacher, site["codes"]["by-keys"], Keys(teacher)
    page.goto(f"{served.base_url}/classes/{code}/students/roster/")
    # The chooser of files is the system's own window; everything else is keys.
    keys.go_to(page.get_by_label("Roster file"))
    page.get_by_label("Roster file").set_input_files(list_file)
    keys.send("See what is in it")
    expect(page.locator("h1")).to_have_text("Match the columns")
    number = page.get_by_label("The school’s id of the child")
    keys.tap("source_id", number.locator("option", has_text="Nr (100)").get_attribute("value") or "")
    # A wrong column is mended by keys, from the summary straight to its field.
    family = page.get_by_label("Family name or initial")
    keys.tap("family", "0")
    keys.send("Go on")
    expect(page.locator("[data-error-summary]")).to_be_focused()
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(family).to_be_focused()
    keys.tap("family", "1")
    keys.send("Go on")
    expect(page.locator("h1")).to_contain_text("Which class in the file")
    keys.send("See what would change")
    expect(page.locator("h1")).to_have_text("What would change")
    keys.go_to(page.locator("#faults summary"))
    page.keyboard.press("Enter")
    expect(page.locator("#fault-rows")).to_be_hidden()
    keys.go_to(page.get_by_label("Bo K."))
    page.keyboard.press("Space")
    expect(page.get_by_label("Bo K.")).not_to_be_checked()
    keys.send("Bring the class up to date")
    expect(page.locator("#students")).to_contain_text("Kind7 F.")
    expect(page.locator("#students")).to_contain_text("Anna B.")
    expect(page.locator("#students")).to_contain_text("Bo K.")


def test_a_package_goes_in_without_scripts(served, site, new_page, tmp_path) -> None:
    page = new_page(java_script_enabled=False)
    page.context.add_cookies([{"name": site["cookie"], "value": site["session"], "url": served.base_url}])
    path = tmp_path / "school.zip"
    path.write_bytes(small_school("1.1").zipped())
    page.goto(f"{served.base_url}/classes/{site['codes']['package']}/students/roster/")
    page.get_by_label("Roster file").set_input_files(str(path))
    send(page, "See what is in it")
    page.get_by_label("Class in the file").select_option("class-5b")
    send(page, "See what would change")
    send(page, "Bring the class up to date")
    expect(page.locator("#students")).to_contain_text("Cem Ö.")


def test_a_file_of_thirty_megabytes_is_answered_and_not_hung_up_on(
    served, site, teacher, tmp_path, axe
) -> None:
    page = teacher
    # On a loaded machine so much takes its time; what is asked here is whether an answer comes.
    page.set_default_timeout(60_000)
    path = tmp_path / "huge.csv"
    path.write_bytes(b"First name\n" + b"Ana\n" * 7_500_000)
    page.goto(f"{served.base_url}/classes/{site['codes']['package']}/students/roster/")
    page.get_by_label("Roster file").set_input_files(str(path))
    send(page, "See what is in it")
    expect(page.locator("[data-error-summary]")).to_contain_text("larger than 10 MB")

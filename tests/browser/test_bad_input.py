"""Bad input through the real pages: told beside the field and at the top, what was typed kept."""

from __future__ import annotations

import re

import pytest
from django.conf import settings
from PIL import Image
from playwright.sync_api import Page, expect

from classroom.access import TEAM_COOKIE
from tests.browser.plays.screens import field, fill, follow, send, tap
from tests.browser.plays.teacher import PASSWORD, Teacher
from tests.support.browser import PROJECTOR

STAGES = ("purpose", "idea-a", "sums", "drawing", "cleared", "lines", "time", "worked", "change")
BUILD = (
    "from tests.support.site import build_stages\n"
    f"print(json.dumps(build_stages('b.adams', {PASSWORD!r}, {STAGES!r})))"
)


@pytest.fixture(scope="module")
def teams(served):
    """A team at each stage: its id, its codes and a tablet's cookie."""
    return served.ask_python(BUILD)


@pytest.fixture
def tablet(served, teams, new_page):
    """Return a function that opens a page on a tablet of the team at a stage."""

    def open_at(stage: str, path: str) -> Page:
        page = new_page()
        cookie = {"name": TEAM_COOKIE, "value": teams[stage]["cookie"], "url": served.base_url}
        page.context.add_cookies([cookie])
        page.goto(f"{served.base_url}{path}")
        return page

    return open_at


@pytest.fixture
def teacher(served, teams, new_page):
    page = new_page(PROJECTOR)
    teacher = Teacher(page, served.base_url)
    teacher.sign_in("b.adams")
    teacher.code = teams["cleared"]["code"]
    return teacher


def asks_for_a_mend(page: Page, name: str, typed: str, said: str = "") -> str:
    """Hold the page to how it asks for a mend; return what it says."""
    summary = page.locator("[data-error-summary]")
    expect(summary).to_be_focused()
    box = field(page, name)
    expect(box).to_have_value(typed)
    expect(box).to_have_attribute("aria-invalid", "true")
    described = (box.get_attribute("aria-describedby") or "").split()
    beside = " ".join(
        page.locator(f"[id='{one}']").inner_text() for one in described if one.endswith("_error")
    ).strip()
    assert len(beside) > 10, f"nothing stands beside {name}"
    assert beside in summary.inner_text(), (beside, summary.inner_text())
    assert said in beside, beside
    summary.get_by_role("link").first.click()
    expect(box).to_be_focused()
    assert page.title().startswith("Please check")
    return beside


def rows(served, model: str, team: int) -> int:
    """Return how many rows of a kind a team has."""
    where = "drop__iteration__team" if model == "Reading" else "iteration__team"
    return served.ask_python(
        f"from design_challenges.models import {model}\nprint({model}.objects.filter({where}={team}).count())"
    )


LENGTHS = {
    "empty": ("", "Type"),
    "letters": ("wide", "wide"),
    "negative": ("-7", "without plus or minus"),
    "zero": ("0", ""),
    "1000 in": ("1000", ""),
}


@pytest.mark.parametrize(("typed", "said"), LENGTHS.values(), ids=LENGTHS)
def test_a_planned_size_that_cannot_be_is_asked_about(typed, said, served, teams, tablet):
    page = tablet("idea-a", "/team/1/plan/idea-a/")
    before = rows(served, "Measurement", teams["idea-a"]["team"])
    fill(page, {"canopy_radius": typed, "line_length": "13 1/2"})
    send(page, "Save and go on")
    asks_for_a_mend(page, "canopy_radius", typed, said)
    expect(field(page, "line_length")).to_have_value("13 1/2")
    assert rows(served, "Measurement", teams["idea-a"]["team"]) == before


@pytest.mark.parametrize(("typed", "said"), LENGTHS.values(), ids=LENGTHS)
def test_a_measured_size_that_cannot_be_is_asked_about(typed, said, served, teams, tablet):
    page = tablet("cleared", "/team/1/build/")
    before = rows(served, "Measurement", teams["cleared"]["team"])
    fill(page, {"canopy_diameter_1": "14 1/4", "canopy_diameter_2": typed})
    send(page, "Save")
    asks_for_a_mend(page, "canopy_diameter_2", typed, said)
    expect(field(page, "canopy_diameter_1")).to_have_value("14 1/4")
    assert rows(served, "Measurement", teams["cleared"]["team"]) == before


TIMES = {
    "empty": ("", "Type the time"),
    "letters": ("three", "No letters"),
    "negative": ("-3.4", "minus"),
    "zero": ("0.00", "That is 0"),
    "too many digits": ("3.456", "two digits after the point"),
    "under free fall": ("0.55", "A dropped stone takes about 1.0 s here. Did it open? Was the watch late?"),
    "over ten minutes": ("1000", "ten minutes"),
}


@pytest.mark.parametrize(("typed", "said"), TIMES.values(), ids=TIMES)
def test_a_time_that_no_stopwatch_shows_is_asked_about(typed, said, served, teams, tablet):
    page = tablet("time", "/team/1/test/")
    fill(page, {"time": typed})
    tap(page, "mark", "tangled")
    send(page, "Save the time")
    asks_for_a_mend(page, "time", typed, said)
    expect(page.locator("[name=mark][value=tangled]")).to_be_checked()
    assert rows(served, "Reading", teams["time"]["team"]) == 0


def test_another_time_than_the_confirmed_one_is_asked_about_again(served, teams, tablet):
    page = tablet("time", "/team/1/test/")
    fill(page, {"time": "0.55"})
    send(page, "Save the time")
    page.get_by_label("Yes, the stopwatch shows this").check()
    fill(page, {"time": "0.45"})
    send(page, "Save the time")
    asks_for_a_mend(page, "time", "0.45", "A dropped stone")
    assert rows(served, "Reading", teams["time"]["team"]) == 0


SUMS = {"empty": "", "letters": "lots", "negative": "-254", "two numbers": "2.5.4"}


@pytest.mark.parametrize("typed", SUMS.values(), ids=SUMS)
def test_an_answer_that_is_no_number_is_asked_about_and_is_no_try(typed, served, teams, tablet):
    page = tablet("sums", "/team/1/plan/sums/")
    fill(page, {"answer": typed})
    send(page, "Check it")
    asks_for_a_mend(page, "answer", typed)
    assert rows(served, "Working", teams["sums"]["team"]) == 0


WORDS = [
    ("purpose", "/team/1/plan/purpose/", "purpose", "", "Save and go on"),
    ("change", "/team/2/plan/change/", "change_why", "", "Save and go on"),
    ("worked", "/team/1/compare/", "noticing", "", "Save"),
    ("worked", "/team/1/compare/", "noticing", "123", "Save"),
    ("worked", "/team/1/compare/", "noticing", "We notice. " * 80, "Save"),
]


@pytest.mark.parametrize(("stage", "path", "name", "typed", "button"), WORDS)
def test_words_that_are_missing_or_too_many_are_asked_for(stage, path, name, typed, button, tablet):
    page = tablet(stage, path)
    fill(page, {name: typed})
    send(page, button)
    if name == "change_why":
        tap(page, "change", "canopy_radius")
        send(page, button)
    asks_for_a_mend(page, name, typed)


# --- 1,5 and 1.5 ---------------------------------------------------------------------------------


def test_a_decimal_comma_and_a_point_are_the_same_number(served, teams, tablet):
    page = tablet("idea-a", "/team/1/plan/idea-a/")
    fill(page, {"canopy_radius": "1,5", "line_length": "1.5"})
    send(page, "Save and go on")
    saved = served.ask_python(
        "from design_challenges.models import Measurement\n"
        f"rows = Measurement.objects.filter(iteration__team={teams['idea-a']['team']}, stage='idea_a')\n"
        "print(json.dumps([[r.typed, r.numerator, r.denominator] for r in rows]))"
    )
    assert sorted(saved) == [["1,5", 3, 2], ["1.5", 3, 2]]


# --- photos ----------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def pictures(tmp_path_factory):
    folder = tmp_path_factory.mktemp("pictures")
    (folder / "large.jpg").write_bytes(b"\xff\xd8\xff\xe0" + b"\x5a" * 30_000_000)
    (folder / "text.jpg").write_text("This is no picture. " * 50, encoding="utf-8")
    Image.new("RGB", (640, 480), "#fffdf7").save(folder / "good.jpg")
    return folder


@pytest.mark.parametrize("name", ["large.jpg", "text.jpg"])
def test_a_photo_that_cannot_be_one_is_refused_with_what_to_do(name, served, teams, tablet, pictures):
    page = tablet("drawing", "/team/1/plan/drawing/")
    page.locator("main input[type=file]").first.set_input_files(pictures / name)
    send(page, "Send the photo")
    summary = page.locator("[data-error-summary]")
    expect(summary).to_be_focused()
    beside = page.locator("main [id$=_error]").first.inner_text().strip()
    assert len(beside) > 10
    assert beside in summary.inner_text()
    assert rows(served, "Photo", teams["drawing"]["team"]) == 0
    assert served.is_healthy()


def test_a_photo_that_is_one_is_kept_and_shown(served, teams, tablet, pictures):
    page = tablet("drawing", "/team/1/plan/drawing/")
    page.locator("main input[type=file]").first.set_input_files(pictures / "good.jpg")
    send(page, "Send the photo")
    page.goto(f"{served.base_url}/team/1/plan/drawing/")
    shown = page.get_by_role("img", name="Our drawing")
    expect(shown).to_be_visible()
    assert shown.evaluate("image => image.complete && image.naturalWidth > 0")
    assert rows(served, "Photo", teams["drawing"]["team"]) == 1


# --- joining ---------------------------------------------------------------------------------------


def test_a_wrong_team_code_is_told_counted_and_locks_nobody_out(served, teams, new_page, teacher):
    page = new_page()
    mine = teams["purpose"]
    for count in range(6):
        page.goto(f"{served.base_url}/join/")
        fill(page, {"class_code": mine["code"], "team_code": f"WRONG{count}"})
        send(page, "Join")
        asks_for_a_mend(page, "team_code", f"WRONG{count}", "letter by letter")
        expect(field(page, "class_code")).to_have_value(mine["code"])
    fill(page, {"team_code": mine["team_code"]})
    send(page, "Join")
    assert "/team/" in page.url
    teacher.code = mine["code"]
    teacher.dashboard()
    expect(teacher.page.get_by_text("6 wrong codes typed").first).to_be_visible()


# --- a closed step ---------------------------------------------------------------------------------


def test_what_was_typed_while_a_step_was_closed_is_kept_and_saved_when_it_is_open(
    served, teams, tablet, teacher
):
    page = tablet("lines", "/team/1/build/")
    before = rows(served, "Measurement", teams["lines"]["team"])
    lines = {f"line_length_{spot}": text for spot, text in enumerate(("13", "12 3/4", "13", "13 1/4"), 1)}
    fill(page, lines)
    teacher.code = teams["lines"]["code"]
    teacher.dashboard()
    teacher.tap("Close Build")
    send(page, "Save")
    summary = page.locator("[data-error-summary]")
    expect(summary).to_be_focused()
    expect(summary).to_contain_text("Your teacher closed this step. What you typed is kept here.")
    for text in lines.values():
        expect(summary).to_contain_text(text)
    assert rows(served, "Measurement", teams["lines"]["team"]) == before
    send(page, "Try again")
    expect(summary).to_contain_text("What you typed is kept here.")
    teacher.tap("Open Build")
    send(page, "Try again")
    expect(page.get_by_role("heading", level=1)).to_contain_text("beside your plan")
    assert rows(served, "Measurement", teams["lines"]["team"]) == before + 4


# --- sent twice --------------------------------------------------------------------------------------


def test_a_double_click_counts_once(served, teams, tablet):
    page = tablet("purpose", "/team/1/plan/purpose/")
    fill(page, {"purpose": "It must fall slowly. We may only use 375 points."})
    page.get_by_role("button", name="Save and go on", exact=True).dblclick()
    page.wait_for_url("**/idea-a/")
    assert rows(served, "Note", teams["purpose"]["team"]) == 1


def test_a_form_sent_again_with_the_back_button_counts_once(served, teams, tablet):
    page = tablet("worked", "/team/1/compare/")
    form = page.evaluate("() => document.documentElement.innerHTML")
    fill(page, {"noticing": "Wide canopies go with slow falls."})
    send(page, "Save")
    expect(page.get_by_text("Wide canopies go with slow falls.")).to_be_visible()
    # The page took its own place in the tablet's history; here it is again as it was sent.
    page.evaluate("html => { document.documentElement.innerHTML = html }", form)
    fill(page, {"noticing": "Wide canopies go with slow falls."})
    send(page, page.get_by_role("button", name=re.compile("^(Save|Add this one, too)$")))
    quotes = page.locator("blockquote", has_text="Wide canopies go with slow falls.")
    expect(quotes).to_have_count(1)
    kept = served.ask_python(
        "from design_challenges.models import Note\n"
        f"notes = Note.objects.filter(iteration__team={teams['worked']['team']}, prompt='noticing')\n"
        "print(notes.count())"
    )
    assert kept == 1


# --- two tablets -------------------------------------------------------------------------------------


def test_the_later_of_two_tablets_is_told_and_shown_both_sizes(served, teams, tablet):
    first, second = (tablet("cleared", "/team/1/build/") for _ in range(2))
    fill(first, {"canopy_diameter_1": "14", "canopy_diameter_2": "14"})
    fill(second, {"canopy_diameter_1": "15", "canopy_diameter_2": "14"})
    send(first, "Save")
    send(second, "Save")
    summary = second.locator("[data-error-summary]")
    expect(summary).to_be_focused()
    expect(summary).to_contain_text("Another tablet saved 14 a moment ago. You typed 15.")
    expect(field(second, "canopy_diameter_1")).to_have_value("15")
    tap(second, "keep_canopy_diameter_1", "theirs")
    send(second, "Save")
    expect(second.locator("[name=line_length_1]")).to_be_visible()
    stands = served.ask_python(
        "from design_challenges.models import Measurement\n"
        f"rows = Measurement.objects.filter(iteration__team={teams['cleared']['team']}, stage='built')\n"
        "print(json.dumps(rows.filter(spot=1).order_by('-pk')[0].typed))"
    )
    assert stands == "14"


def test_the_later_of_two_tablets_is_shown_both_times_of_a_drop_and_both_are_kept(served, teams, tablet):
    first, second = (tablet("time", "/team/1/test/") for _ in range(2))
    for page, typed in ((first, "3.45"), (second, "3.54")):
        fill(page, {"time": typed})
        send(page, "Save the time")
    expect(second.get_by_role("heading", level=1)).to_have_text("Drop 1: two times")
    expect(second.get_by_role("main")).to_contain_text("3.45")
    second.get_by_role("main").locator("label", has_text="3.54").click()
    send(second, "Use this time")
    assert rows(served, "Reading", teams["time"]["team"]) == 2
    first.reload()
    expect(first.get_by_role("main")).to_contain_text("3.54")


# --- signed out in the middle --------------------------------------------------------------------------


def test_a_tablet_signed_out_in_the_middle_of_a_form_sends_it_once_it_is_back(served, teams, tablet):
    page = tablet("change", "/team/2/plan/change/")
    tap(page, "change", "line_length")
    fill(page, {"change_why": "Because long lines let it open wider."})
    served.run_python(
        "from classroom.models import Device\nfrom django.utils import timezone\n"
        f"Device.objects.filter(team={teams['change']['team']}).update(revoked_at=timezone.now())"
    )
    send(page, "Save and go on")
    line = page.locator("#outbox-line")
    expect(line).to_contain_text("On this tablet only")
    line.locator("summary").click()
    expect(line.locator("li")).to_contain_text("Because long lines let it open wider.")
    fill(page, {"class_code": teams["change"]["code"], "team_code": teams["change"]["team_code"]})
    send(page, "Join")
    # Back in its team, it sends what waited, and goes on by itself.
    page.wait_for_url("**/team/2/plan/sizes/", wait_until="commit")
    expect(line).to_contain_text("Saved")


def test_a_teacher_signed_out_in_the_middle_of_a_form_finds_it_filled_in_again(served, teams, teacher):
    page = teacher.page
    teacher.code = teams["worked"]["code"]
    teacher.open(f"teams/{teams['worked']['team']}/work/1/clear/")
    fill(page, {"reason": "They trimmed it on paper."})
    page.context.clear_cookies(name=settings.SESSION_COOKIE_NAME)
    send(page, "Clear to build")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Sign in")
    fill(page, {"username": "b.adams", "password": PASSWORD})
    send(page, "Sign in")
    assert page.url.endswith("/clear/")
    expect(field(page, "reason")).to_have_value("They trimmed it on paper.")
    send(page, "Clear to build")
    expect(page.get_by_role("main")).to_contain_text("They trimmed it on paper.")


def test_a_live_page_of_a_teacher_who_was_signed_out_leads_to_sign_in_and_back(served, teams, teacher):
    page = teacher.page
    teacher.dashboard()
    served.run_python("from django.contrib.sessions.models import Session\nSession.objects.all().delete()")
    expect(page.get_by_label("User name")).to_be_visible()
    fill(page, {"username": "b.adams", "password": PASSWORD})
    send(page, "Sign in")
    expect(page.get_by_role("heading", level=1)).to_have_text("Dashboard")


# --- the teacher's own forms ---------------------------------------------------------------------------

SETTINGS = {
    "empty": ("drop_height", ""),
    "letters": ("drop_height", "high"),
    "negative": ("limit", "-5"),
    "zero": ("line_count", "0"),
    "too much": ("drop_height", "1000"),
    "a part of a trial": ("trials_per_round", "2.5"),
    "too many trials": ("trials_per_round", "11"),
}


@pytest.mark.parametrize(("name", "typed"), SETTINGS.values(), ids=SETTINGS)
def test_a_setting_that_cannot_be_is_asked_about(name, typed, teacher):
    page = teacher.page
    teacher.open("settings/change/")
    fill(page, {"load_mass": "7,5", name: typed})
    send(page, "See what changes")
    asks_for_a_mend(page, name, typed)
    expect(field(page, "load_mass")).to_have_value("7,5")


def test_a_correction_without_a_reason_is_asked_for_one_and_keeps_the_time(served, teams, teacher):
    page = teacher.page
    teacher.code = teams["worked"]["code"]
    teacher.open(f"teams/{teams['worked']['team']}/work/")
    follow(page, page.get_by_role("link", name="Correct the time of drop 1").first)
    fill(page, {"time": "3,33", "reason": ""})
    send(page, "Save")
    asks_for_a_mend(page, "reason", "")
    expect(field(page, "time")).to_have_value("3,33")
    fill(page, {"time": "3,333", "reason": "Read wrongly."})
    send(page, "Save")
    asks_for_a_mend(page, "time", "3,333", "two digits")
    expect(field(page, "reason")).to_have_value("Read wrongly.")


def test_names_that_cannot_be_are_asked_about(served, teams, teacher):
    page = teacher.page
    page.goto(f"{served.base_url}/classes/new/")
    fill(page, {"name": "  "})
    send(page, "Make the class")
    asks_for_a_mend(page, "name", "  ")
    teacher.open("students/paste/")
    fill(page, {"names": "123\n456"})
    send(page, "See what was read")
    asks_for_a_mend(page, "names", "123\n456")


def test_without_scripts_a_form_asks_for_a_mend_as_well(served, teams, new_page):
    page = new_page(java_script_enabled=False)
    page.goto(f"{served.base_url}/join/")
    page.fill("main [name=class_code]", "NONE1")
    page.fill("main [name=team_code]", "NONE22")
    page.click("main button")
    assert "No class has this code" in page.locator("[data-error-summary]").inner_text()
    assert "No class has this code" in page.locator("main [id$=_error]").first.inner_text()
    assert page.input_value("main [name=class_code]") == "NONE1"
    assert page.input_value("main [name=team_code]") == "NONE22"

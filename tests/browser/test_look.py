"""The scripts and parts of the look in a real browser, each on a small page of its own."""

from __future__ import annotations

import json
import re
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support.browser import PHONE, PROJECTOR, first_visit_weight, sideways_scroll
from tests.support.server import ServedSite, copy_template

VENDOR = Path(__file__).resolve().parents[2] / "static" / "vendor" / "plotly-4.1.1"
LOST = "Lost touch with the server. What is saved is safe. Trying again…"


class LookSite(ServedSite):
    """The server with the small pages, and what they were sent."""

    def state(self, **changes: object) -> dict:
        """Change the pages' state and return it."""
        body = json.dumps(changes).encode() if changes else None
        with urllib.request.urlopen(f"{self.base_url}/state", data=body, timeout=10) as answer:  # noqa: S310
            return json.load(answer)

    def next_revision(self, **changes: object) -> int:
        """Raise the revision, with changes or without, and return it."""
        revision = self.state()["revision"] + 1
        self.state(revision=revision, **changes)
        return revision


@pytest.fixture(scope="module")
def look(tmp_path_factory: pytest.TempPathFactory, data_template: Path) -> Iterator[LookSite]:
    data = tmp_path_factory.mktemp("look")
    copy_template(data_template, data)
    site = LookSite(data, {"DJANGO_SETTINGS_MODULE": "tests.support.look_settings"})
    site.start()
    yield site
    site.kill()


def open_live(look, page):
    """Open the live page and wait until its chart stands; from then on note what a screen reader is told."""
    page.goto(f"{look.base_url}/live")
    page.wait_for_selector("#speed-plot[data-drawn='1']")
    page.evaluate(
        """() => {
            const place = document.querySelector("#announcer");
            window.told = [place.textContent];
            new MutationObserver(() => window.told.push(place.textContent)).observe(place, {childList: true});
        }"""
    )
    return page


def wait_until_told(page, text):
    """Wait until a screen reader is told this, by itself or with what came in the same second."""
    page.wait_for_function("text => window.told.some((told) => told.includes(text))", arg=text)


def wait_for_revision(page, revision):
    page.wait_for_function(
        "n => document.querySelector('#points').textContent.endsWith(`revision ${n}`)", arg=revision
    )
    page.wait_for_timeout(150)


# ---- forms ----


def test_the_error_summary_takes_the_focus_and_leads_to_each_field(look, page):
    page.goto(f"{look.base_url}/form")
    page.fill("#id_across", "wide")
    page.click("text=Save")
    page.wait_for_selector("[data-error-summary]:focus")
    assert page.title().startswith("Please check")
    assert page.input_value("#id_across") == "wide"
    links = page.locator("[data-error-summary] a").all_inner_texts()
    assert links == [
        "Across the canopy: Type a number, like 14.",
        "Which one falls slower: Choose one of the two ideas.",
        "Why: Write a few words.",
    ]
    page.locator("[data-error-summary] a").nth(0).click()
    assert page.evaluate("document.activeElement.id") == "id_across"
    page.locator("[data-error-summary] a").nth(1).click()
    assert page.evaluate("document.activeElement.name") == "which"


def test_a_field_in_error_is_marked_and_described_for_a_screen_reader(look, page, axe):
    page.goto(f"{look.base_url}/form")
    page.click("text=Save")
    page.wait_for_selector("[data-error-summary]")
    field = page.locator("#id_across")
    assert field.get_attribute("aria-invalid") == "true"
    described = field.get_attribute("aria-describedby").split()
    assert [page.locator(f"#{name}").inner_text() for name in described] == [
        "Start at the 0.",
        "Type how far it is across.",
    ]
    assert page.locator("label[for=id_across]").text_content() == "Across the canopy (inches)"
    assert field.get_attribute("unit") is None
    assert axe(page) == []
    assert sideways_scroll(page) == {}


def test_a_message_about_the_whole_form_stands_in_the_summary(look, page):
    page.goto(f"{look.base_url}/form")
    page.fill("#id_across", "13")
    page.check("text=Idea 1")
    page.fill("#id_why", "Because")
    page.click("text=Save")
    assert "The two ideas are the same." in page.inner_text("[data-error-summary]")


def test_without_scripts_the_summary_has_the_focus_and_the_form_saves(look, new_page):
    page = new_page(java_script_enabled=False)
    page.goto(f"{look.base_url}/form")
    page.click("text=Save")
    page.wait_for_selector("[data-error-summary]")
    assert page.locator("[data-error-summary]:focus").count() == 1
    page.fill("#id_across", "14")
    page.check("text=Idea 2")
    page.fill("#id_why", "It is wide")
    page.click("text=Save")
    page.wait_for_function("() => document.body.textContent === 'saved'")
    assert look.state()["saved"][-1]["why"] == "It is wide"


def test_a_form_is_sent_once_with_its_button_however_often_it_is_pressed(look, page):
    before = len(look.state()["saved"])
    page.goto(f"{look.base_url}/form")
    page.fill("#id_across", "14")
    page.check("text=Idea 2")
    page.fill("#id_why", "It is wide")
    page.evaluate("for (let i = 0; i < 4; i += 1) document.querySelector('.button-next').click()")
    page.wait_for_function("() => document.body.textContent === 'saved'")
    saved = look.state()["saved"][before:]
    assert len(saved) == 1
    assert saved[0]["button"] == "main"


def test_a_browser_without_request_submit_sends_the_form_with_its_button(look, page):
    page.add_init_script("delete HTMLFormElement.prototype.requestSubmit;")
    page.goto(f"{look.base_url}/form")
    page.fill("#id_across", "14")
    page.check("text=Idea 2")
    page.fill("#id_why", "An older tablet")
    page.click("text=Save")
    page.wait_for_function("() => document.body.textContent === 'saved'")
    saved = look.state()["saved"][-1]
    assert (saved["why"], saved["button"]) == ("An older tablet", "main")


def test_a_dead_network_leaves_the_entry_in_the_form_and_it_can_be_sent_again(look, page):
    page.goto(f"{look.lan_url}/form")
    page.fill("#id_across", "15")
    page.check("text=Idea 2")
    page.fill("#id_why", "The net is down")
    page.context.set_offline(True)
    page.click("text=Save")
    page.wait_for_selector(".lost-touch")
    assert "What you typed is still here" in page.inner_text(".lost-touch")
    assert page.input_value("#id_why") == "The net is down"
    page.context.set_offline(False)
    page.click("text=Save")
    page.wait_for_function("() => document.body.textContent === 'saved'")
    assert look.state()["saved"][-1]["why"] == "The net is down"


def test_a_sentence_starter_is_put_into_the_text(look, page):
    page.goto(f"{look.base_url}/form")
    page.fill("#id_why", "So.")
    page.get_by_role("button", name="When the canopy is wider, …").click()
    assert page.input_value("#id_why") == "So. When the canopy is wider, "
    assert page.evaluate("document.activeElement.id") == "id_why"


def test_without_scripts_the_starters_are_plain_words(look, new_page):
    page = new_page(java_script_enabled=False)
    page.goto(f"{look.base_url}/form")
    assert page.locator("[data-starters] button").count() == 0
    assert "When the canopy is wider" in page.inner_text("[data-starters]")


# ---- live pages ----


def test_nothing_new_touches_nothing_on_the_page(look, page):
    open_live(look, page)
    page.evaluate("document.querySelector('#points').dataset.mine = 'yes'")
    asked = look.state()["asked"]
    page.wait_for_timeout(2500)
    assert look.state()["asked"] > asked
    assert page.get_attribute("#points", "data-mine") == "yes"


def test_what_is_new_comes_onto_the_page_by_itself_and_is_read_out(look, page):
    open_live(look, page)
    revision = look.next_revision()
    page.wait_for_function(
        "n => document.querySelector('#points').textContent.endsWith(`revision ${n}`)",
        arg=revision,
    )
    wait_until_told(page, f"Revision {revision}")


def test_a_swap_keeps_focus_scroll_and_what_is_open(look, new_page):
    page = open_live(look, new_page(PHONE))
    page.click("#more summary")
    page.evaluate("document.querySelector('#speed-scroll').scrollLeft = 120")
    page.evaluate("document.querySelector('a[href=\"/form\"]').focus()")
    page.evaluate("window.scrollTo(0, 30)")
    wait_for_revision(page, look.next_revision())
    assert page.evaluate("document.activeElement.getAttribute('href')") == "/form"
    assert page.evaluate("document.querySelector('#more').open") is True
    assert page.evaluate("document.querySelector('#speed-scroll').scrollLeft") == 120
    assert page.evaluate("window.scrollY") == 30


def test_a_poll_never_eats_what_is_being_typed(look, page):
    open_live(look, page)
    page.fill("#typed", "half a wor")
    revision = look.next_revision()
    page.wait_for_timeout(2200)
    assert page.input_value("#typed") == "half a wor"
    page.fill("#typed", "")
    page.evaluate("document.activeElement.blur()")
    wait_for_revision(page, revision)


def test_a_lost_server_is_said_quietly_and_taken_back_when_it_answers(look, new_page):
    page = open_live(look, new_page())
    new_page.forgive("/live")  # the errors that this test asks for
    look.state(status=503)
    page.wait_for_selector(".lost-touch")
    assert page.inner_text(".lost-touch") == LOST
    assert page.locator("#points").count() == 1
    look.state(status=0)
    page.wait_for_selector(".lost-touch", state="detached")
    wait_until_told(page, "Back in touch with the server.")


def test_a_server_that_answers_with_news_each_time_is_found_again_and_both_are_read_out(look, new_page):
    page = open_live(look, new_page())
    new_page.forgive("/live")  # the errors that this test asks for
    revision = look.state(status=503)["revision"]
    page.wait_for_selector(".lost-touch")
    look.state(status=0, always_new=True)
    page.wait_for_selector(".lost-touch", state="detached")
    look.state(always_new=False)
    # In the same moment, so one after the other.
    wait_until_told(page, f"Revision {revision + 1}")
    wait_until_told(page, "Back in touch with the server.")


def test_news_leaves_the_line_about_an_unsent_form_where_it_is(look, page):
    open_live(look, page)
    page.evaluate(
        """async () => {
            const { tell } = await import(document.querySelector("script[src*='js/page']").src);
            tell("Not sent yet.");
        }"""
    )
    wait_for_revision(page, look.next_revision())
    assert page.inner_text(".lost-touch") == "Not sent yet."


def test_a_killed_server_is_found_again_when_it_comes_back(look, new_page):
    page = open_live(look, new_page())
    new_page.forgive("")  # a dead server makes the browser complain about everything
    look.kill()
    page.wait_for_selector(".lost-touch")
    look.start()
    page.wait_for_selector(".lost-touch", state="detached")
    assert page.locator("#speed-plot .main-svg").count() > 0


# ---- charts ----


def test_a_chart_has_one_button_and_asks_no_other_host(look, page, axe):
    hosts = set()
    page.on("request", lambda request: hosts.add(re.sub(r"^(\w+:/*[^/]*).*", r"\1", request.url)))
    open_live(look, page)
    buttons = page.locator(".modebar-btn")
    assert buttons.count() == 1
    assert "PNG" in buttons.first.get_attribute("aria-label")
    with page.expect_download() as download:
        buttons.first.click()
    assert download.value.suggested_filename == "speed.png"
    assert {host for host in hosts if host.startswith("http")} == {look.base_url}
    assert axe(page) == []
    assert sideways_scroll(page) == {}


def test_an_unchanged_chart_is_not_drawn_again(look, page):
    open_live(look, page)
    page.evaluate("document.querySelector('#speed-plot .main-svg').dataset.mine = 'yes'")
    wait_for_revision(page, look.next_revision())
    assert page.get_attribute("#speed-plot", "data-drawn") == "1"
    assert page.get_attribute("#speed-plot .main-svg", "data-mine") == "yes"


def test_a_changed_figure_is_drawn_once_more_in_the_same_place(look, page):
    look.state(points=3)
    open_live(look, page)
    before = page.locator("#speed").bounding_box()
    assert page.locator("#speed-plot .point").count() == 3
    look.next_revision(points=5)
    page.wait_for_selector("#speed-plot[data-drawn='2']")
    assert page.locator("#speed-plot .point").count() == 5
    assert page.locator("#speed").bounding_box() == before


def test_the_figure_survives_marks_that_would_end_a_script(look, page):
    open_live(look, page)
    assert "Canopy </script> & more" in page.locator("#speed-plot .xtitle").text_content()


def test_the_charts_rules_in_our_file_are_those_that_the_program_would_add(look, new_page):
    page = new_page()
    page.goto(f"{look.base_url}/form")
    new_page.forgive("Content Security Policy")  # the page's policy; the rules are read on a page without one
    page.goto("about:blank")
    page.evaluate("document.body.append(document.createElement('div'))")
    page.add_script_tag(path=VENDOR / "plotly-basic.min.js")
    page.evaluate("Plotly.newPlot(document.querySelector('div'), [{x: [1], y: [1]}])")
    rules = "sheet => [...sheet.cssRules].map(rule => rule.cssText)"
    added = page.evaluate(f"({rules})(document.getElementById('plotly.js-style-global').sheet)")
    page.add_style_tag(path=VENDOR / "plotly-global.css")
    ours = page.evaluate(f"({rules})(document.styleSheets[document.styleSheets.length - 1])")
    assert len(added) > 50
    assert ours == added


# ---- drawing pad ----


def draw_line(page, *, start=(100, 100), end=(300, 200)):
    box = page.locator("canvas").bounding_box()
    page.mouse.move(box["x"] + start[0], box["y"] + start[1])
    page.mouse.down()
    page.mouse.move(box["x"] + end[0], box["y"] + end[1], steps=6)
    page.mouse.up()


def ink(page):
    """Return how many pixels of the drawing are dark."""
    return page.evaluate(
        """() => {
            const canvas = document.querySelector('canvas');
            const data = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height).data;
            let dark = 0;
            for (let i = 0; i < data.length; i += 4) if (data[i] < 100) dark += 1;
            return dark;
        }"""
    )


def test_a_drawing_with_labels_is_sent_as_a_png_on_plain_http(look, page, axe):
    page.goto(f"{look.lan_url}/drawing")
    assert page.evaluate("window.isSecureContext") is False
    empty = ink(page)
    draw_line(page)
    drawn = ink(page)
    assert drawn > empty
    page.get_by_role("button", name="Load").click()
    page.locator("canvas").click(position={"x": 400, "y": 300})
    assert ink(page) > drawn
    assert axe(page) == []
    page.click("text=Save")
    page.wait_for_function("() => document.body.textContent === 'saved'")
    assert look.state()["drawing"] == {"name": "drawing.png", "png": True}


def test_undo_takes_back_one_mark_and_clear_asks_first(look, page):
    page.goto(f"{look.base_url}/drawing")
    empty = ink(page)
    draw_line(page)
    one = ink(page)
    draw_line(page, start=(100, 300), end=(300, 350))
    page.get_by_role("button", name="Undo").click()
    assert ink(page) == one
    page.get_by_role("button", name="Clear").click()
    assert ink(page) == one
    page.get_by_role("button", name="Clear").click()
    assert ink(page) == empty


def test_a_label_can_be_placed_by_keyboard_alone(look, page):
    page.goto(f"{look.base_url}/drawing")
    empty = ink(page)
    page.get_by_label("Another label").focus()
    page.keyboard.type("4 lines")
    page.keyboard.press("Enter")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Enter")
    assert page.get_attribute("[data-sketch]", "data-marks") == "1"
    assert ink(page) > empty


def test_an_empty_drawing_sends_no_file(look, page):
    page.goto(f"{look.base_url}/drawing")
    page.click("text=Save")
    page.wait_for_function("() => document.body.textContent === 'saved'")
    assert look.state()["drawing"] is None


def test_without_scripts_there_is_no_drawing_pad(look, new_page):
    page = new_page(java_script_enabled=False)
    page.goto(f"{look.base_url}/drawing")
    assert page.locator("[data-sketch]").is_hidden()


def test_the_drawing_pad_fits_a_tablet_with_its_button_in_view(look, page):
    page.goto(f"{look.base_url}/drawing")
    page.wait_for_selector("canvas")
    button = page.locator(".button-next").bounding_box()
    assert button["y"] + button["height"] <= 1180
    assert sideways_scroll(page) == {}


# ---- timer and weight ----


def test_the_timer_goes_by_the_servers_clock(look, new_page):
    page = new_page(PROJECTOR)
    page.add_init_script("const real = Date.now; Date.now = () => real() + 3_600_000;")
    open_live(look, page)
    assert re.fullmatch(r"1:0[0-2]|0:5\d", page.inner_text(".timer"))
    page.wait_for_function("() => document.querySelector('#announcer').textContent === 'One minute left'")


def test_a_timer_that_has_run_out_says_so(look, page):
    open_live(look, page)
    page.evaluate("document.querySelector('.timer').dataset.endsAt = '1'")
    page.wait_for_function("() => document.querySelector('.timer').textContent === 'Time is up'")


@pytest.mark.parametrize("path", ["/form", "/drawing"])
def test_a_first_visit_is_light(look, page, path):
    sizes = first_visit_weight(page, lambda: page.goto(look.base_url + path))
    # About 13 kB of it keeps what is typed on the tablet, sends it, and opens the page without a network.
    assert sum(sizes.values()) <= 88_000, sizes


def test_a_page_with_a_chart_is_light_before_its_chart(look, page):
    sizes = first_visit_weight(page, lambda: open_live(look, page))
    before = {url: size for url, size in sizes.items() if "plotly-basic" not in url}
    assert len(before) == len(sizes) - 1
    assert sum(before.values()) <= 80_000, before


def test_no_script_is_loaded_twice_under_two_names(look, page):
    urls = []
    page.on("request", lambda request: urls.append(re.sub(r"\.[0-9a-f]{12}\.", ".", request.url)))
    open_live(look, page)
    scripts = [url for url in urls if url.endswith(".js")]
    assert len(scripts) > 4
    assert sorted(set(scripts)) == sorted(scripts)


def test_a_page_without_a_chart_does_not_load_the_chart_program(look, page):
    urls = []
    page.on("request", lambda request: urls.append(request.url))
    page.goto(f"{look.base_url}/form")
    page.wait_for_timeout(300)
    assert not any("plotly" in url for url in urls)

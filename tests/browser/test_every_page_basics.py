"""The fixtures themselves and the pages that exist without any data."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page

from tests.support.browser import first_visit_weight, sideways_scroll


def test_a_missing_page_says_so_and_passes_axe(served, page, axe):
    answer = page.goto(f"{served.base_url}/no-such-page")
    assert answer.status == 404
    assert page.locator("h1").count() == 1
    assert axe(page) == []


def test_a_missing_page_fits_every_width(served, page):
    page.goto(f"{served.base_url}/no-such-page")
    assert sideways_scroll(page) == {}


def test_a_missing_page_carries_less_than_100_kilobytes(served, page):
    sizes = first_visit_weight(page, lambda: page.goto(f"{served.base_url}/no-such-page"))
    assert len(sizes) > 1
    assert 1_000 < sum(sizes.values()) <= 100_000, sizes


def test_by_a_name_on_the_network_the_page_works_without_a_secure_context(served, page):
    page.goto(f"{served.lan_url}/no-such-page")
    assert page.evaluate("window.isSecureContext") is False
    assert page.evaluate("getComputedStyle(document.body).fontSize") != ""


def test_axe_does_find_what_is_wrong(served, page, axe):
    page.goto(f"{served.base_url}/no-such-page")
    page.evaluate("document.body.append(document.createElement('img'), document.createElement('input'))")
    found = axe(page)
    assert any(line.startswith("image-alt") for line in found)
    assert any(line.startswith("label") for line in found)


def test_a_page_that_scrolls_sideways_is_found(served, page):
    page.goto(f"{served.base_url}/no-such-page")
    page.evaluate(
        "const d = document.createElement('pre'); d.textContent = 'x'.repeat(500); document.body.append(d)"
    )
    assert 320 in sideways_scroll(page)


def test_the_policy_stops_an_inline_script(served, new_page):
    page: Page = new_page()
    page.goto(f"{served.base_url}/no-such-page")
    new_page.forgive("Content Security Policy")  # it is what this test provokes
    page.evaluate(
        "const s = document.createElement('script'); s.text = 'window.ran = 1'; document.body.append(s)"
    )
    assert page.evaluate("window.ran === undefined")
    assert any("Content Security Policy" in fault for fault in new_page.faults)


@pytest.mark.parametrize("path", ["/healthz"])
def test_the_health_check_answers(served, page, path):
    answer = page.goto(served.base_url + path)
    assert answer.status == 200
    assert answer.json()["database"] == "answers"

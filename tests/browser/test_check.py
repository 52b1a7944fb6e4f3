"""The page that says on each device, the day before, what will and will not work."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from tests.support.server import ServedSite

# Whether this browser keeps a screen on for a page: one without windows does not, whatever the address.
STAYS_ON = """async () => {
    try {
        await (await navigator.wakeLock.request("screen")).release();
        return true;
    } catch {
        return false;
    }
}"""


@pytest.mark.parametrize("plain", [False, True], ids=["secure", "plain-http"])
def test_the_check_says_what_will_and_will_not_work(served: ServedSite, page: Page, plain: bool) -> None:
    page.goto(f"{served.lan_url if plain else served.base_url}/check/")
    line = lambda name: page.locator(f"[data-check={name}] p").first  # noqa: E731
    expect(line("server")).to_have_text("The server answers.")
    expect(line("storage")).to_contain_text("Now load the page again")
    page.get_by_role("button", name="Load again").click()
    expect(line("storage")).to_contain_text("still there after the page is loaded again")
    expect(line("secure")).to_contain_text("Plain HTTP" if plain else "HTTPS, or this machine itself")
    stays_on = page.evaluate(STAYS_ON)
    assert not (plain and stays_on)
    expect(line("awake")).to_contain_text("stays on" if stays_on else "does not let a page")
    expect(page.locator("#summary")).to_have_text(
        "Teams can work and drops can be timed. Keep the pages open where there is no network."
        if plain
        else "Everything works, also without a network."
    )
    expect(line("camera")).to_contain_text("Take a picture")
    page.locator("#picture").set_input_files(
        {
            "name": "one.svg",
            "mimeType": "image/svg+xml",
            "buffer": b"<svg xmlns='http://www.w3.org/2000/svg' width='9' height='9'/>",
        }
    )
    expect(line("camera")).to_contain_text("photos of drawings will work")

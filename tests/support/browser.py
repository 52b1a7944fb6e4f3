"""Chromium for tests: finding it, starting it, and what every page is held to."""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, Playwright, Response, expect

from tests.support.server import LAN_NAME

# Only a hang takes so long, on a loaded machine, too: nothing here says how fast a page must be.
PATIENCE_S = 30
AXE = Path(__file__).resolve().parents[1] / "browser" / "vendor" / "axe.min.js"
AXE_TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
TABLET = (820, 1180)
PHONE = (390, 844)
PROJECTOR = (1280, 720)
WIDTHS = (320, 390, 820, 1280)
# A page's own request, htmx's, and that for a worker's script.
DEAD_LINE = ("net::ERR", "Failed to load", "Failed to fetch", "htmx:", "when fetching the script")
OWN_HOSTS = {"127.0.0.1", "localhost", LAN_NAME}

# First the same engine without windows of its own: it starts no process for a tool bar with each new device.
NAMES = (
    "chromium-headless-shell",
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "chrome",
)
PLACES = {
    "darwin": (
        "/Applications/Chromium.app/Contents/MacOS/Chromium",
        "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    ),
    "win32": (
        r"C:\Program Files\Google\Chrome\Application\chrome.exe",
        r"C:\Program Files (x86)\Google\Chrome\Application\chrome.exe",
    ),
}
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--disable-dev-shm-usage",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    # Letters as wide as they are on a screen of any sharpness and on paper, in either Chromium.
    "--font-render-hinting=none",
    f"--host-resolver-rules=MAP {LAN_NAME} 127.0.0.1",
]


def find_chromium() -> str | None:
    """Return the path of this machine's Chromium or its sibling, None where there is none."""
    if named := os.environ.get("SECOND_BUILD_CHROMIUM"):
        return named
    for name in NAMES:
        if path := shutil.which(name):
            return path
    return next((path for path in PLACES.get(sys.platform, ()) if Path(path).exists()), None)


def launch(playwright: Playwright, path: str) -> Browser:
    """Start Chromium with nothing of its own going over the network."""
    expect.set_options(timeout=PATIENCE_S * 1000)
    return playwright.chromium.launch(executable_path=path, args=FLAGS)


class PageMaker:
    """Make pages in contexts of their own (own cookies), and watch each for what no page may do.

    A page may not report an error or a policy violation on its console, fail in a script, ask another host
    for anything, or miss a static file. `requests=False` leaves requests alone: to hear of each one costs as
    much as making it, and tests that load hundreds of pages are about something else.
    """

    def __init__(self, browser: Browser, *, requests: bool = True) -> None:
        self.browser = browser
        self.requests = requests
        self.contexts: list[BrowserContext] = []
        self.faults: list[str] = []
        self.forgiven: list[str] = []

    def __call__(self, size: tuple[int, int] = TABLET, **options: Any) -> Page:
        """Return a page of a new device (`size` in CSS pixels); `options` are those of a browser context."""
        context = self.browser.new_context(viewport={"width": size[0], "height": size[1]}, **options)
        context.set_default_timeout(PATIENCE_S * 1000)
        self.contexts.append(context)
        context.on("page", self._watch)
        return context.new_page()

    def forgive(self, part: str) -> None:
        """Let faults whose text contains `part` pass in this test: say in the test why."""
        self.forgiven.append(part)

    def forgive_a_dead_line(self) -> None:
        """Let what Chromium writes on the console pass when nobody is at the other end of the line."""
        for part in DEAD_LINE:
            self.forgive(part)

    def _watch(self, page: Page) -> None:
        page.on("console", self._console)
        page.on("pageerror", lambda error: self.faults.append(f"script failed on {page.url}: {error}"))
        if self.requests:
            page.on("request", lambda request: self._request(request.url))
            page.on("response", self._response)

    def _console(self, message: ConsoleMessage) -> None:
        # A 404 or 422 that a test asks for is written to the console, too; static files are seen to below.
        if message.type == "error" and not message.text.startswith("Failed to load resource"):
            self.faults.append(f"console: {message.text}")

    def _request(self, url: str) -> None:
        parts = urlsplit(url)
        if parts.scheme in ("http", "https", "ws", "wss") and parts.hostname not in OWN_HOSTS:
            self.faults.append(f"another host was asked: {url}")

    def _response(self, response: Response) -> None:
        if urlsplit(response.url).path.startswith("/static/") and response.status >= 400:
            self.faults.append(f"{response.status} for {response.url}")
        if response.status >= 500:
            self.faults.append(f"{response.status} for {response.url}")

    def close(self) -> list[str]:
        """Close every page and return the faults that were not forgiven."""
        for context in self.contexts:
            context.close()
        return self.faults_left()

    def faults_left(self) -> list[str]:
        """Return the faults so far that were not forgiven."""
        return [fault for fault in self.faults if not any(part in fault for part in self.forgiven)]


def axe_violations(page: Page) -> list[str]:
    """Return what axe-core finds on the page against WCAG 2.2 A and AA, a readable line for each element."""
    page.evaluate(AXE.read_text(encoding="utf-8"))
    result = page.evaluate(
        "tags => axe.run(document, {runOnly: {type: 'tag', values: tags}, resultTypes: ['violations']})",
        AXE_TAGS,
    )
    return [
        f"{found['id']}: {found['help']} · {' '.join(map(str, node['target']))} · {node['html'][:160]}"
        for found in result["violations"]
        for node in found["nodes"]
    ]


def sideways_scroll(page: Page, widths: tuple[int, ...] = WIDTHS) -> dict[int, int]:
    """Return by how many CSS pixels the page is wider than the window, for each width where it is."""
    before = page.viewport_size
    too_wide = {}
    for width in widths:
        page.set_viewport_size({"width": width, "height": before["height"] if before else 900})
        page.wait_for_timeout(50)
        # A page that clips would pass a comparison of widths, so it is asked to scroll as well.
        over = page.evaluate(
            """() => {
                const root = document.documentElement;
                window.scrollTo(10000, window.scrollY);
                const moved = window.scrollX;
                window.scrollTo(0, window.scrollY);
                return Math.max(moved, root.scrollWidth - root.clientWidth);
            }"""
        )
        if over > 0:
            too_wide[width] = over
    if before:
        page.set_viewport_size(before)
    return too_wide


def first_visit_weight(page: Page, go: Callable[[], object]) -> dict[str, int]:
    """Return the bytes over the wire for each address that `go` makes it fetch: compressed, with headers.

    The cache is off, so every file counts as on a first visit.
    """
    session = page.context.new_cdp_session(page)
    session.send("Network.enable")
    session.send("Network.setCacheDisabled", {"cacheDisabled": True})
    urls: dict[str, str] = {}
    sizes: dict[str, int] = {}
    session.on(
        "Network.requestWillBeSent", lambda event: urls.update({event["requestId"]: event["request"]["url"]})
    )

    def finished(event: dict[str, Any]) -> None:
        url = urls.get(event["requestId"], "?")
        sizes[url] = sizes.get(url, 0) + int(event["encodedDataLength"])

    session.on("Network.loadingFinished", finished)
    go()
    page.wait_for_load_state("load")
    page.wait_for_timeout(300)
    session.detach()
    return {url: size for url, size in sizes.items() if not url.startswith(("data:", "blob:"))}

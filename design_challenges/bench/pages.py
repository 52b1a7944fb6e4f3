"""What pages weigh in a Chromium slowed four times: bytes, largest paint, longest task, time in scripts."""

from __future__ import annotations

import importlib.util
import shutil
from typing import Any

from django.conf import settings

from classroom.access import TEAM_COOKIE
from design_challenges.bench import school
from design_challenges.bench.rows import Row

BYTES, SCRIPT_MS = 100_000.0, 200.0
SLOWED = 4
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
]
_WATCH = """() => { window.seen = {paint: 0, task: 0};
  const note = (name, of) => list => list.getEntries().forEach(
    entry => { seen[name] = Math.max(seen[name], entry[of]); });
  new PerformanceObserver(note('paint', 'startTime'))
    .observe({type: 'largest-contentful-paint', buffered: true});
  new PerformanceObserver(note('task', 'duration'))
    .observe({type: 'longtask', buffered: true}); }"""


def chromium_path() -> str:
    """Return the path of a Chromium, "" where there is none or no playwright."""
    if importlib.util.find_spec("playwright") is None:
        return ""
    found = (
        shutil.which(name)
        for name in ("chromium", "chromium-headless-shell", "chromium-browser", "google-chrome")
    )
    return next((path for path in found if path), "")


def page_rows(base_url: str, teacher: Any) -> list[Row]:
    """Measure first visits; one row that says so where there is no Chromium or no playwright."""
    path = chromium_path()
    if not path:
        return [
            Row("Pages in a Chromium slowed four times", None, "", note="no Chromium or no playwright here")
        ]
    from playwright.sync_api import sync_playwright

    pattern = school.make_pattern(teacher)
    challenge = school.make_class("Pages", 8, teacher, pattern)
    cookies = school.let_in(list(challenge.classroom.teams.order_by("pk")[:1]))
    code = challenge.classroom.code
    visits = [
        ("the page to join", "/join/", {}, True),
        ("a team's plan", "/team/1/plan/", {TEAM_COOKIE: cookies[0]}, True),
        ("a team's drops", "/team/1/test/", {TEAM_COOKIE: cookies[0]}, True),
        ("a team's results", "/team/1/results/", {TEAM_COOKIE: cookies[0]}, True),
        ("a team's comparing", "/team/2/compare/", {TEAM_COOKIE: cookies[0]}, True),
    ]
    session = {settings.SESSION_COOKIE_NAME: school.sign_in(teacher)}
    visits += [
        ("the class board", f"/classes/{code}/board/", session, False),
        ("the dashboard", f"/classes/{code}/dashboard/", session, False),
    ]
    rows: list[Row] = []
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=FLAGS)
        for name, address, given, is_team in visits:
            rows += _visit(browser, base_url, name, address, given, is_team)
        browser.close()
    return rows


def _visit(
    browser: Any, base_url: str, name: str, address: str, cookies: dict[str, str], is_team: bool
) -> list[Row]:
    context = browser.new_context(viewport={"width": 820, "height": 1180})
    context.add_cookies([{"name": key, "value": value, "url": base_url} for key, value in cookies.items()])
    page = context.new_page()
    session = context.new_cdp_session(page)
    size = 0

    def finished(event: dict[str, Any]) -> None:
        nonlocal size
        size += int(event["encodedDataLength"])

    session.on("Network.loadingFinished", finished)
    for command, options in (
        ("Network.enable", {}),
        ("Network.setCacheDisabled", {"cacheDisabled": True}),
        ("Performance.enable", {}),
        ("Emulation.setCPUThrottlingRate", {"rate": SLOWED}),
    ):
        session.send(command, options)
    answer = page.goto(base_url + address)
    page.wait_for_load_state("load")
    page.evaluate(_WATCH)
    page.wait_for_timeout(1500)
    if answer is None or answer.status != 200:
        raise RuntimeError(f"{address} answered {answer and answer.status}")
    seen = page.evaluate("() => window.seen")
    metrics = {row["name"]: row["value"] for row in session.send("Performance.getMetrics")["metrics"]}
    context.close()
    script_ms = metrics["ScriptDuration"] * 1000
    limits: tuple[float | None, float | None] = (BYTES, SCRIPT_MS) if is_team else (None, None)
    about = f"largest paint {seen['paint']:.0f} ms, longest task {seen['task']:.0f} ms"
    return [
        Row(
            f"Page, first visit: {name}, over the wire",
            float(size),
            "bytes",
            None,
            limits[0],
            "at most" if is_team else "",
        ),
        Row(
            f"Page, slowed × {SLOWED}: {name}, in scripts",
            script_ms,
            "ms",
            None,
            limits[1],
            "at most" if is_team else "",
            about,
        ),
    ]

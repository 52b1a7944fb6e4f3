"""The timing station in a Chromium: how soon a time is kept, how soon after an outage the board has all."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from decimal import Decimal
from typing import Any

from django.conf import settings

from classroom.access import STATION_COOKIE
from design_challenges.bench import school
from design_challenges.bench.pages import FLAGS, SLOWED, chromium_path
from design_challenges.bench.rows import Row
from design_challenges.services.rounding import round_half_up

KEPT_MS, BACK_S = 50.0, 3.0
FALLS, TEAMS, DROPS = 20, 8, 3
PORTRAIT: Any = {"width": 360, "height": 640}
# Chromium finds this machine by it, and like a tablet does not count it as its own.
LAN_NAME = "school.lan"
_KEPT = """() => {
  const at = (name) => performance.getEntriesByName(name, 'mark').map((mark) => mark.startTime);
  const kept = at('on-this-tablet');
  return at('second-touch').map((touched, place) => kept[place] - touched);
}"""
_HAS = """(figures) => {
  const rows = [...document.querySelectorAll('#board-live tbody tr')];
  return figures.every(([team, figure]) => rows.some((row) => {
    const texts = [...row.cells].map((cell) => cell.textContent.trim());
    return texts.includes(team) && texts.includes(figure);
  }));
}"""


def station_rows(base_url: str, teacher: Any) -> list[Row]:
    """Measure on an origin that counts as secure and on plain HTTP; no rows where there is no Chromium."""
    path = chromium_path()
    if not path:
        return []
    from playwright.sync_api import sync_playwright

    pattern = school.make_pattern(teacher)
    flags = [*FLAGS, f"--host-resolver-rules=MAP {LAN_NAME} 127.0.0.1"]
    sites = {"secure": base_url, "plain HTTP": base_url.replace("127.0.0.1", LAN_NAME)}
    # All that the database is asked for comes first: beside a browser's loop Django's ORM refuses to work.
    classes = {}
    for name in sites:
        for what in ("kept", "back"):
            room = school.make_dropping_class(f"{name} {what}", TEAMS, teacher, pattern).classroom
            classes[name, what] = (room.code, school.let_station_in(room))
    session = school.sign_in(teacher)
    rows: list[Row] = []
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=flags)
        board = browser.new_context(viewport={"width": 1280, "height": 720})
        board.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": session, "url": base_url}])
        for name, url in sites.items():
            for what in ("kept", "back"):
                code, token = classes[name, what]
                phone = browser.new_context(viewport=PORTRAIT, has_touch=True, is_mobile=True)
                phone.add_cookies([{"name": STATION_COOKIE, "value": token, "url": url}])
                page = phone.new_page()
                page.goto(f"{url}/station/")
                page.locator("#watch").wait_for()
                if what == "kept":
                    rows.append(_kept(page, name))
                else:
                    rows.append(_back(board, page, f"{base_url}/classes/{code}/board/", name))
                phone.close()
        browser.close()
    return rows


def _thumb(page: Any) -> Callable[[float], None]:
    """Return what times one drop with a finger that waits for nothing of the page, and calls it good."""
    session = page.context.new_cdp_session(page)
    box = page.locator("#watch").bounding_box()
    point = {"x": box["x"] + box["width"] / 2, "y": box["y"] + box["height"] / 2}

    def touch() -> None:
        session.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [point]})
        session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})

    def fall(seconds: float) -> None:
        page.locator("#watch").wait_for()
        touch()
        time.sleep(seconds)
        touch()
        page.locator("[data-call=yes]").wait_for()
        page.wait_for_timeout(400)  # the page is deaf for a moment after the second touch
        page.locator("[data-call=yes]").tap()
        page.locator("#next").tap()

    return fall


def _back(board: Any, page: Any, board_url: str, name: str) -> Row:
    """Time every team's drops without a network; return how long after its return the board has them."""
    wall, phone = board.new_page(), page.context
    wall.goto(board_url)
    phone.set_offline(True)
    fall = _thumb(page)
    for drop in range(TEAMS * DROPS):
        # Every drop changes its team's figure, so that the board is whole only when it has the last one.
        fall((0.4, 0.5, 0.8)[drop // TEAMS])
    page.locator("[data-go=readings]").tap()
    shown = page.locator("#readings .st-read").all_inner_texts()
    times = [Decimal(text.removesuffix("s").strip()) for text in shown]
    figures = [[f"Team {team + 1}", str(_speed(times[team::TEAMS]))] for team in range(TEAMS)]
    phone.set_offline(False)
    back = time.perf_counter()
    wall.wait_for_function(_HAS, arg=figures)
    took = time.perf_counter() - back
    wall.close()
    label = f"Station, {name}: {TEAMS * DROPS} drops on the board after the network's return"
    return Row(label, took, "s", None, BACK_S, "at most")


def _speed(times: list[Decimal]) -> Decimal:
    """Return a team's class figure as children work it: 15 ft by the rounded mean of the rounded times."""
    mean = round_half_up(sum((round_half_up(time, 1) for time in times), Decimal(0)) / len(times), 1)
    return round_half_up(15 / mean, 1)


def _kept(page: Any, name: str) -> Row:
    """Return the 95th percentile from the second touch, by its own time stamp, to *on this tablet*."""
    fall = _thumb(page)
    session = page.context.new_cdp_session(page)
    session.send("Emulation.setCPUThrottlingRate", {"rate": SLOWED})
    for _fall in range(FALLS):
        fall(0.4)
    took = sorted(page.evaluate(_KEPT))
    return Row(
        f"Station, {name}, slowed × {SLOWED}: second touch to “on this tablet”, 95th percentile",
        took[math.ceil(0.95 * len(took)) - 1],
        "ms",
        None,
        KEPT_MS,
        "at most",
        f"median {took[len(took) // 2]:.0f} ms",
    )

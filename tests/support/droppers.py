"""Devices at the drop site for tests of faults: a phone that is a station, a team's tablet; both type."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

from playwright.sync_api import Browser, Error

from tests.support.browser import PageMaker

LONGEST_S = 30
# What a screen has called safe stays on this list for the end of the test.
Promised = list[tuple[str, int]]

SETUP = """
from django.db import transaction
from tests import builders as b
from tests.support import site
from design_challenges.models import QueueMove
teacher = b.make_teacher(%r, "a long pass phrase")
rooms, built = [], None

def fill(room):
    global built
    challenge = b.make_challenge(room, sums_by="software")
    teams = list(room.teams.order_by("place"))
    if built is None:
        built = teams[0]
        b.plan_round(challenge, built); b.clear_round(challenge, built); b.build_round(challenge, built)
    site.add_to_class(room, built, [team for team in teams if team != built])
    QueueMove.objects.create(class_challenge=challenge, move="start")
    QueueMove.objects.create(class_challenge=challenge, move="noref")
    rooms.append({
        "code": room.code, "teams": [team.name for team in teams],
        "stations": [site.let_station_in(room) for _one in range(2)],
        "tablets": [site.let_in(team) for team in teams],
    })

with transaction.atomic():
    for _number in range(%d):
        fill(b.make_class(teams=%d, teacher=teacher))
print(json.dumps({"rooms": rooms, "session": site.sign_in(teacher)}))
"""
READ = """
from design_challenges.models import Reading
found = {}
for r in Reading.objects.select_related("team", "class_challenge__classroom").order_by("pk"):
    row = [r.team.name if r.team_id else "", r.drop_id is not None, r.hundredths]
    found.setdefault(r.class_challenge.classroom.code, []).append(row)
print(json.dumps(found))
"""


class Device:
    """One browser in which somebody types; it opens its page again after whatever befell it."""

    cookie = ""
    path = ""
    ready = ""

    def __init__(self, maker: PageMaker, base_url: str, token: str, promised: Promised) -> None:
        self.base_url, self.promised = base_url, promised
        self.page = maker()
        self.page.context.add_cookies([{"name": self.cookie, "value": token, "url": base_url}])
        self.open()

    def open(self) -> None:
        """Open the page, again and again until it stands with its scripts."""
        self._until(self._opened)

    def _opened(self) -> bool:
        self.page.goto(f"{self.base_url}{self.path}", timeout=5000)
        self.page.locator(self.ready).wait_for(timeout=2000)
        return True

    def _until(self, done: Callable[[], bool]) -> None:
        end = time.monotonic() + LONGEST_S
        while True:
            try:
                if done():
                    return
            except Error:
                # A page that moves on, or that the dead line left half loaded.
                pass
            assert time.monotonic() < end, f"{self.page.url} does not get there: {self.words()}"
            time.sleep(0.05)

    def words(self) -> str:
        try:
            return self.page.locator("body").inner_text()[:600]
        except Error:
            return ""

    def close_and_open(self) -> None:
        """Close the page and open another in the same browser."""
        context = self.page.context
        self.page.close()
        self.page = context.new_page()
        self.open()

    def kept(self) -> list[str]:
        """Return every time that the device says it has, saved or not."""
        found: list[str] = []

        def ask() -> bool:
            found[:] = self.page.evaluate(
                """async () => {
                    const asked = indexedDB.open("second-build");
                    const base = await new Promise((done) => (asked.onsuccess = () => done(asked.result)));
                    const all = base.transaction("entries").objectStore("entries").getAll();
                    const items = await new Promise((done) => (all.onsuccess = () => done(all.result)));
                    base.close();
                    return items.map((item) => String(item.fields.time ?? ""));
                }"""
            )
            return True

        self._until(ask)
        return found

    def promise(self, team: str, hundredths: int) -> None:
        """Note that the screen has called this time safe."""
        self.promised.append((team, hundredths))

    def press(self, team: str, hundredths: int) -> None:
        """Type a time and press the button, waiting for nothing."""
        raise NotImplementedError

    def type_time(self, team: str, hundredths: int) -> None:
        """Type a time, and promise it once the screen calls it safe."""
        raise NotImplementedError

    def get_ready(self) -> None:
        """Come to the screen that asks for a time."""

    def wait_until_saved(self) -> None:
        """Wait until the screen says that nothing waits."""
        raise NotImplementedError


class Phone(Device):
    """A station; it types what a colleague's stopwatch showed."""

    cookie, path, ready = "sb_station", "/station/", "#safe:not([hidden])"

    def press(self, team: str, hundredths: int) -> None:
        """Type a time for a team's next drop and press the button, waiting for nothing."""
        self.page.get_by_role("button", name="Type a time").click(timeout=3000)
        place = self.page.locator("#typed-form [name=place]")
        texts = place.locator("option").all_inner_texts()
        place.select_option(index=next(at for at, text in enumerate(texts) if text.startswith(f"{team},")))
        self.page.get_by_label("What does the stopwatch show?").fill(f"{hundredths / 100:.2f}")
        self.page.get_by_role("button", name="Save the time").click()

    def type_time(self, team: str, hundredths: int) -> None:
        """Type a time; it is promised once the screen has gone on."""
        self.press(team, hundredths)
        self.page.locator("#typed").wait_for(state="hidden")
        self.promise(team, hundredths)

    def wait_until_saved(self) -> None:
        self._until(lambda: self.page.locator("#safe").inner_text().strip() == "saved")


class Tablet(Device):
    """A team's tablet at its own Test page: each drop is called, then timed."""

    cookie, path, ready = "sb_team", "/team/1/test/", "#outbox-line:not([hidden])"
    timed = 0

    def call(self) -> None:
        """Call the next drop good and wait for its time to be asked."""

        def called() -> bool:
            page = self.page
            # The page of the drop before may still stand until its time is saved.
            if not page.locator("h1").inner_text(timeout=1000).startswith(f"Drop {self.timed + 1} of"):
                return False
            if page.locator("input[name=time]").count():
                return True
            good = page.locator("main input[name=call][value=yes]")
            if good.count() and not good.is_checked():
                page.locator("main label:has(input[name=call][value=yes])").click(timeout=1000)
                page.get_by_role("button", name="Go on").click(timeout=1000)
            elif not page.locator("#outbox-line:not([hidden])").count():
                self.open()
            return False

        self._until(called)

    def get_ready(self) -> None:
        self.call()
        self._until(lambda: bool(self.page.locator(self.ready).count()) or self._again())

    def press(self, _team: str, hundredths: int) -> None:
        """Type the time and press the button, waiting for nothing."""
        self.page.locator("input[name=time]").fill(f"{hundredths / 100:.2f}")
        self.page.get_by_role("button", name="Save the time").click()

    def type_time(self, team: str, hundredths: int) -> None:
        """Call a drop and type its time; it is promised once the form says that the tablet has it."""
        self.get_ready()
        self.press(team, hundredths)
        self._until(self._has_it)
        self.promise(team, hundredths)

    def promise(self, team: str, hundredths: int) -> None:
        self.timed += 1
        super().promise(team, hundredths)

    def _again(self) -> bool:
        self.open()
        return False

    def _has_it(self) -> bool:
        return bool(
            self.page.evaluate(
                "() => document.readyState !== 'loading' && "
                "(document.querySelector('main form[data-entry]') !== null || "
                "document.querySelector('input[name=time]') === null)"
            )
        )

    def wait_until_saved(self) -> None:
        self._until(lambda: self.page.locator("#outbox-line").get_attribute("data-state") == "saved")


def new_maker(chromium: Browser) -> PageMaker:
    """Return a maker of devices that lets pass what a dead line writes on the console."""
    maker = PageMaker(chromium)
    for part in ("htmx:", "Failed to fetch", "net::ERR", "Failed to load"):
        maker.forgive(part)
    return maker


def read_rooms(served: Any) -> dict[str, list[list[Any]]]:
    """Return [team, placed on a drop, hundredths] of every reading, by the code of its class."""
    found: dict[str, list[list[Any]]] = served.ask_python(READ)
    return found


def lost_and_double(rows: list[list[Any]], promised: Promised) -> tuple[Promised, Promised]:
    """Return what was promised and is not there as it was typed, and what is there more than once."""
    times = [row[2] for row in rows]
    lost = [one for one in promised if [one[0], True, one[1]] not in rows]
    double = [one for one in promised if times.count(one[1]) > 1]
    return lost, double

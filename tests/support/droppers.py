"""Devices at the drop site for tests of faults: a phone that is a station, a team's tablet; both type.

What a thumb and a keyboard do is tested in tests/browser. Here fields are filled in and buttons pressed by a
script in the page, so that a run's time goes into faults: the forms and their events are the same.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import suppress
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from playwright.sync_api import Browser, Error, Page, Request

from tests.support.browser import PageMaker

# Only a hang takes so long, on a loaded machine, too.
LONGEST_S = 90
READY_S = 15
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
    challenge = b.make_challenge(room, sums_by="software", trials_per_round=%d)
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


KEPT_SINCE = """
async (counter) => {
    const asked = indexedDB.open("second-build");
    const base = await new Promise((done) => (asked.onsuccess = () => done(asked.result)));
    const all = base.transaction("entries").objectStore("entries").getAll();
    const items = await new Promise((done) => (all.onsuccess = () => done(all.result)));
    base.close();
    const newer = items.filter((item) => item.counter > counter);
    return newer.map((item) => [item.counter, `${item.fields.time ?? ""}`]);
}
"""
# Asks in the page itself, again and again for a second, instead of from here each time.
WAIT = """
async (arg) => {
    const test = %s;
    for (const end = performance.now() + 1000; ; await new Promise((done) => setTimeout(done, 15))) {
        const found = test(arg);
        if (found || performance.now() > end) return found;
    }
}
"""
IS_THERE = """
(line) => document.readyState !== "loading" && document.querySelector(`${line}:not([hidden])`) !== null
"""
PRESS_AT_STATION = """
async ([team, time, waits]) => {
    document.querySelector("[data-go=typed]").click();
    const { elements } = document.getElementById("typed-form");
    const option = [...elements.place.options].find((one) => one.text.startsWith(`${team},`));
    if (!option) throw new Error(`no drop of ${team} may be timed`);
    elements.place.value = option.value;
    elements.time.value = time;
    document.querySelector("#typed-form .button-next").click();
    const screen = document.getElementById("typed");
    for (const end = performance.now() + 60_000; waits && !screen.hidden; ) {
        if (performance.now() > end) throw new Error(`the screen does not go on: ${screen.textContent}`);
        await new Promise((done) => setTimeout(done, 10));
    }
}
"""
IS_SAVED_AT_STATION = "() => document.getElementById('safe')?.textContent.trim() === 'saved'"
IS_SAVED_AT_TABLET = "() => document.getElementById('outbox-line')?.dataset.state === 'saved'"
CALL_AT_TABLET = """
(drop) => {
    const title = document.querySelector("h1")?.textContent.trim() ?? "";
    const isReady = document.readyState !== "loading" && document.querySelector("#outbox-line:not([hidden])");
    // The page of the drop before may still stand until its time is saved.
    if (!isReady || !title.startsWith(`Drop ${drop} of`)) return false;
    if (document.querySelector("main input[name=time]")) return true;
    const good = document.querySelector("main input[name=call][value=yes]");
    if (good && !good.checked) {
        good.checked = true;
        good.form.querySelector(".button-next").click();
    }
    return false;
}
"""
PRESS_AT_TABLET = """
async ([time, waits]) => {
    const field = document.querySelector("main input[name=time]");
    field.value = time;
    field.form.querySelector(".button-next").click();
    for (const end = performance.now() + 5000; waits && performance.now() < end; ) {
        if (field.form.hasAttribute("data-entry")) return;
        await new Promise((done) => setTimeout(done, 10));
    }
}
"""
# The form says so itself, or the page has gone on, which it does when the entry was saved.
TABLET_HAS_IT = """
() => document.readyState !== "loading" && (document.querySelector("main form[data-entry]") !== null ||
    document.querySelector("input[name=time]") === null)
"""


class Device:
    """One browser in which people type, one class after the other; it opens its page again after a fault."""

    cookie = ""
    path = ""
    line = ""
    """The line that says what is saved; shown by the page's scripts once the outbox is open."""

    def __init__(self, maker: PageMaker, base_url: str) -> None:
        self.base_url = base_url
        self.promised: Promised = []
        self.token = ""
        self.since = 0
        self.broke_off = False
        self.page = self._watched(maker())

    def enter(self, token: str, promised: Promised) -> None:
        """Become the device of this token; what its screen calls safe from now on goes on `promised`."""
        self.promised = promised
        if token != self.token:
            self.token = token
            self.page.context.add_cookies([{"name": self.cookie, "value": token, "url": self.base_url}])
            self.open()
        self.since = max((counter for counter, _time in self._kept(0)), default=0)

    def _watched(self, page: Page) -> Page:
        page.on("requestfailed", self._failed)
        return page

    def _failed(self, request: Request) -> None:
        # A page that misses one of its files never gets ready; its questions and entries may fail.
        if request.resource_type in ("document", "script", "stylesheet"):
            self.broke_off = True

    def open(self) -> None:
        """Open the page, again and again until it stands with its scripts."""
        self.until(self._opened)

    def _opened(self) -> bool:
        self.broke_off = False
        self.page.goto(f"{self.base_url}{self.path}", timeout=READY_S * 1000)
        end = time.monotonic() + READY_S
        while time.monotonic() < end:
            if self.page.evaluate(WAIT % IS_THERE, self.line):
                return True
            if self.broke_off:
                return False
        return False

    def until(self, done: Callable[[], bool]) -> None:
        """Wait until `done`; a page that moves on, or that the dead line left half loaded, is no error."""
        end = time.monotonic() + LONGEST_S
        while True:
            try:
                if done():
                    return
            except Error as error:
                said = str(error)
            else:
                said = ""
            assert time.monotonic() < end, f"{self.page.url} does not get there: {said} {self.words()}"
            time.sleep(0.03)

    def words(self) -> str:
        try:
            return self.page.locator("body").inner_text(timeout=1000)[:600]
        except Error:
            return ""

    def close_and_open(self) -> None:
        """Close the page and open another in the same browser."""
        context = self.page.context
        self.page.close()
        self.page = self._watched(context.new_page())
        self.open()

    def has(self, hundredths: int) -> bool:
        """Say whether the device has this time of the class that it is in now, saved or not."""
        return seconds(hundredths) in [time for _counter, time in self._kept(self.since)]

    def _kept(self, since: int) -> list[tuple[int, str]]:
        found: list[tuple[int, str]] = []

        def ask() -> bool:
            found[:] = self.page.evaluate(KEPT_SINCE, since)
            return True

        self.until(ask)
        return found

    def promise(self, team: str, hundredths: int) -> None:
        """Note that the screen has called this time safe."""
        self.promised.append((team, hundredths))

    def get_ready(self) -> None:
        """Come to the screen that asks for a time."""

    def press(self, team: str, hundredths: int) -> None:
        """Type a time and press the button, waiting for nothing."""
        raise NotImplementedError

    def type_time(self, team: str, hundredths: int) -> None:
        """Type a time, and promise it once the screen calls it safe."""
        raise NotImplementedError

    def wait_until_saved(self) -> None:
        """Wait until the screen says that nothing waits."""
        raise NotImplementedError


class Phone(Device):
    """A station; it types what a colleague's stopwatch showed."""

    cookie, path, line = "sb_station", "/station/", "#safe"

    def press(self, team: str, hundredths: int) -> None:
        """Type a time for a team's next drop and press the button, waiting for nothing."""
        self.page.evaluate(PRESS_AT_STATION, [team, seconds(hundredths), False])

    def type_time(self, team: str, hundredths: int) -> None:
        """Type a time; it is promised once the screen has gone on."""
        self.page.evaluate(PRESS_AT_STATION, [team, seconds(hundredths), True])
        self.promise(team, hundredths)

    def wait_until_saved(self) -> None:
        self.until(lambda: bool(self.page.evaluate(WAIT % IS_SAVED_AT_STATION)))


class Tablet(Device):
    """A team's tablet at its own Test page: each drop is called, then timed."""

    cookie, path, line = "sb_team", "/team/1/test/", "#outbox-line"
    timed = 0

    def enter(self, token: str, promised: Promised) -> None:
        self.timed = 0
        super().enter(token, promised)

    def get_ready(self) -> None:
        """Call the next drop good and wait for its time to be asked."""
        missing_since = 0.0

        def called() -> bool:
            nonlocal missing_since
            if self.page.evaluate(WAIT % CALL_AT_TABLET, self.timed + 1):
                return True
            if self.page.evaluate(IS_THERE, self.line):
                missing_since = 0.0
            elif self.broke_off or (missing_since and time.monotonic() - missing_since > READY_S):
                missing_since = 0.0
                self.open()
            else:
                missing_since = missing_since or time.monotonic()
            return False

        self.until(called)

    def press(self, _team: str, hundredths: int) -> None:
        """Type the time and press the button, waiting for nothing."""
        self.page.evaluate(PRESS_AT_TABLET, [seconds(hundredths), False])

    def type_time(self, team: str, hundredths: int) -> None:
        """Call a drop and type its time; it is promised once the form says that the tablet has it."""
        self.get_ready()
        with suppress(Error):  # the page went on while it was asked
            self.page.evaluate(PRESS_AT_TABLET, [seconds(hundredths), True])
        self.until(lambda: bool(self.page.evaluate(TABLET_HAS_IT)))
        self.promise(team, hundredths)

    def promise(self, team: str, hundredths: int) -> None:
        self.timed += 1
        super().promise(team, hundredths)

    def wait_until_saved(self) -> None:
        def saved() -> bool:
            if self.page.evaluate(WAIT % IS_SAVED_AT_TABLET):
                return True
            if self.broke_off:
                self.open()
            return False

        self.until(saved)


def seconds(hundredths: int) -> str:
    """Return a time as a stopwatch shows it."""
    return f"{hundredths / 100:.2f}"


def new_maker(chromium: Browser) -> PageMaker:
    """Return a maker of devices that lets pass what a dead line writes on the console."""
    maker = PageMaker(chromium, requests=False)
    maker.forgive_a_dead_line()
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


def speed_of(hundredths: list[int]) -> str:
    """Return the class figure by hand: each time rounded, their mean rounded, 15 ft by it rounded."""

    def tenths(value: Decimal) -> Decimal:
        return value.quantize(Decimal("0.1"), ROUND_HALF_UP)

    times = [tenths(Decimal(time) / 100) for time in hundredths]
    return str(tenths(15 / tenths(sum(times, Decimal(0)) / len(times))))

"""Nothing that a screen called safe is lost or doubled: the line cut anywhere, pages closed, servers killed.

A seeded mix of every fault at once, and before it each place at which the line can be cut, once each.
"""

from __future__ import annotations

import http.client
import random
import re
import threading
import time
from collections import Counter
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser

from tests.support.browser import PageMaker
from tests.support.cut_line import Cut, CutLine, every_cut
from tests.support.droppers import (
    SETUP,
    Device,
    Phone,
    Promised,
    Tablet,
    lost_and_double,
    new_maker,
    read_rooms,
    speed_of,
)
from tests.support.server import LAN_NAME, ServedSite

# Drops a round: of the teams of the cuts, and of those of the mix.
DROPS, MIX_DROPS = 3, 2
CUTS = every_cut()
SEND_CUTS = [cut for cut in CUTS if cut.of == "send"]
CI_RUNS, LONG_RUNS = 25, 200
# Three teams a run; phones that stay a class's stations need not load their page for each run.
RUNS_A_ROOM = 5
FIRST_SEED = 20_260_301
FAULTS = (
    "answer lost",
    "cut before sending",
    "cut in an answer",
    "cut in sending",
    "line dead for a while",
    "page closed",
    "page loaded again",
    "page loaded again at the press",
    "server killed",
)


@pytest.fixture(scope="module")
def runs(request: pytest.FixtureRequest) -> range:
    """The numbers of the mix's runs: their seeds, and what befalls them."""
    if some := request.config.getoption("--mix"):
        first, last = some.split("-")
        return range(int(first), int(last) + 1)
    return range(LONG_RUNS if request.config.getoption("--long") else CI_RUNS)


@pytest.fixture(scope="module")
def rooms(served: ServedSite, runs: range) -> dict[str, Any]:
    """Classes whose teams have built: one for each test of the cuts, and for every few runs of the mix."""
    cuts = served.ask_python(SETUP % ("cuts", DROPS, 3, len(CUTS) // DROPS + 1))
    mix = served.ask_python(SETUP % ("mix", MIX_DROPS, (len(runs) - 1) // RUNS_A_ROOM + 1, 3 * RUNS_A_ROOM))
    return {"cuts": iter(cuts["rooms"]), "mix": mix["rooms"], "session": mix["session"]}


@pytest.fixture(scope="module")
def one_line(served: ServedSite) -> Iterator[CutLine]:
    cut_line = CutLine(served.port)
    yield cut_line
    cut_line.close()


@pytest.fixture
def line(one_line: CutLine) -> CutLine:
    """The line to the server, whole at first; one for all tests, so that browsers keep their files."""
    one_line.heal()
    one_line.done.clear()
    return one_line


@pytest.fixture(scope="module")
def maker(chromium: Browser) -> Iterator[PageMaker]:
    pages = new_maker(chromium)
    yield pages
    pages.close()


def base_url(line: CutLine, *, plain: bool) -> str:
    return f"http://{LAN_NAME if plain else '127.0.0.1'}:{line.port}"


def say(what: str, runs: int, promised: int, lost: Promised, double: Promised) -> None:
    print(f"\n{what}: {runs} runs, {promised} readings, {len(lost)} losses, {len(double)} duplicates")


def test_a_station_s_reading_arrives_once_wherever_the_line_is_cut(
    served: ServedSite, rooms: dict[str, Any], line: CutLine, maker: PageMaker
) -> None:
    room, promised = next(rooms["cuts"]), Promised()
    phone = Phone(maker, base_url(line, plain=True))
    phone.enter(room["stations"][0], promised)
    for number, cut in enumerate(CUTS):
        line.cuts.append(cut)
        phone.type_time(room["teams"][number // DROPS], 400 + number)
        phone.wait_until_saved()
        assert line.done[-1] is cut, f"{cut} was not made"
    lost, double = lost_and_double(read_rooms(served)[room["code"]], promised)
    say("every cut, station", len(CUTS), len(promised), lost, double)
    assert maker.faults_left() == []
    assert (lost, double, len(promised)) == ([], [], len(CUTS))


def test_readings_that_are_sent_together_arrive_once_each_wherever_the_line_is_cut(
    served: ServedSite, rooms: dict[str, Any], line: CutLine, maker: PageMaker
) -> None:
    room, promised = next(rooms["cuts"]), Promised()
    phone = Phone(maker, base_url(line, plain=False))
    phone.enter(room["stations"][0], promised)
    for number, cut in enumerate(SEND_CUTS):
        line.down = True
        for drop in (2 * number, 2 * number + 1):
            phone.type_time(room["teams"][drop // DROPS], 400 + drop)
        line.cuts.append(cut)
        line.down = False
        phone.wait_until_saved()
        assert line.done[-1] is cut, f"{cut} was not made"
        assert line.together, "they were not sent together"
    lost, double = lost_and_double(read_rooms(served)[room["code"]], promised)
    say("every cut, two at a time", len(SEND_CUTS), len(promised), lost, double)
    assert maker.faults_left() == []
    assert (lost, double, len(promised)) == ([], [], 2 * len(SEND_CUTS))


def test_a_team_s_reading_arrives_once_wherever_the_line_is_cut(
    served: ServedSite, rooms: dict[str, Any], line: CutLine, maker: PageMaker
) -> None:
    room, promised = next(rooms["cuts"]), Promised()
    tablet = Tablet(maker, base_url(line, plain=True))
    # A drop is two entries, its call and its time: each is cut.
    for number, (at_call, at_time) in enumerate(zip(CUTS[::2], CUTS[1::2], strict=True)):
        team = number // DROPS
        if number % DROPS == 0:
            tablet.enter(room["tablets"][team], promised)
        line.cuts.append(at_call)
        tablet.get_ready()
        line.cuts.append(at_time)
        tablet.type_time(room["teams"][team], 400 + number)
        tablet.wait_until_saved()
        assert line.done[-2:] == [at_call, at_time], f"{at_call} or {at_time} was not made"
    lost, double = lost_and_double(read_rooms(served)[room["code"]], promised)
    say("every cut, team's tablet", len(CUTS), len(promised), lost, double)
    assert maker.faults_left() == []
    assert (lost, double, len(promised)) == ([], [], len(CUTS) // 2)


# --- everything at once -----------------------------------------------------------------------------


def is_dead(port: int) -> bool:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=2)
    try:
        connection.request("GET", "/healthz")
        connection.getresponse()
    except OSError:
        return True
    finally:
        connection.close()
    return False


def kill_and_restart(served: ServedSite, after_s: float, told: list[bool]) -> threading.Thread:
    """Kill the server's whole group in a moment, show that its ports are dead, and start it again."""

    def work() -> None:
        time.sleep(after_s)
        ports = served.ports
        served.kill()
        told.extend(is_dead(port) for port in ports)
        served.start()

    thread = threading.Thread(target=work)
    thread.start()
    return thread


class Mix:
    """One run: two stations, with or without a team's tablet, and whatever its seed lets happen to them."""

    def __init__(self, served: ServedSite, line: CutLine, devices: list[Device], run: int) -> None:
        self.served, self.line, self.devices = served, line, devices
        self.dice = random.Random(FIRST_SEED + run)
        self.promised = Promised()
        self.killing: threading.Thread | None = None
        self.dead: list[bool] = []
        self.faults: Counter[str] = Counter()

    def play(self, tokens: list[str], teams: list[str], *, first_time: int, kills: bool) -> None:
        """Let each device time the drops of a team of its own, in an order and with faults by the dice."""
        for device, token in zip(self.devices, tokens, strict=True):
            device.enter(token, self.promised)
        steps = [(at, drop) for at in range(len(self.devices)) for drop in range(MIX_DROPS)]
        self.dice.shuffle(steps)
        kill_at = self.dice.randrange(len(steps)) if kills else -1
        for number, (at, drop) in enumerate(steps):
            if number == kill_at:
                self.killing = kill_and_restart(self.served, self.dice.uniform(0, 0.3), self.dead)
            self._step(self.devices[at], teams[at], first_time + MIX_DROPS * at + drop)
        if self.killing is not None:
            self.killing.join()
        self.line.heal()
        for device in self.devices:
            device.wait_until_saved()

    def _step(self, device: Device, team: str, hundredths: int) -> None:
        chance = self.dice.random()
        healing = None
        if chance < 0.35:
            self.line.cuts.extend(self.dice.sample(CUTS, k=self.dice.randint(1, 2)))
        elif chance < 0.5 and isinstance(device, Phone):
            self.faults["line dead for a while"] += 1
            self.line.down = True
            healing = threading.Timer(self.dice.uniform(0.1, 0.5), self.line.heal)
            healing.start()
        if chance > 0.85:
            self._press_and_reload(device, team, hundredths)
        else:
            device.type_time(team, hundredths)
        after = self.dice.random()
        if healing is not None and after < 0.5:
            healing.join()
        if after < 0.08:
            self.faults["page loaded again"] += 1
            device.open()
        elif after < 0.16:
            self.faults["page closed"] += 1
            device.close_and_open()

    def _press_and_reload(self, device: Device, team: str, hundredths: int) -> None:
        """Load the page again in the instant of the press; what the device does not have is typed again."""
        self.faults["page loaded again at the press"] += 1
        device.get_ready()
        device.press(team, hundredths)
        if self.dice.random() < 0.5:
            time.sleep(self.dice.uniform(0, 0.05))
        device.open()
        if device.has(hundredths):
            device.promise(team, hundredths)
        else:
            device.type_time(team, hundredths)


def count_faults(mix: Mix, done: list[Cut]) -> Counter[str]:
    """Return how often each kind of fault befell a run."""
    counts = mix.faults + Counter({"server killed": len(mix.dead)})
    for cut in done:
        if cut.way == "answer":
            counts["answer lost" if cut.share == 0.0 else "cut in an answer"] += 1
        else:
            counts["cut before sending" if cut.share == 0.0 else "cut in sending"] += 1
    return counts


def board_rows(served: ServedSite, session: str, code: str) -> dict[str, list[str]]:
    """Return the cells of each team's row on the class board."""
    connection = http.client.HTTPConnection("127.0.0.1", served.port, timeout=20)
    connection.request("GET", f"/classes/{code}/board/", headers={"Cookie": f"sb_session={session}"})
    page = connection.getresponse().read().decode()
    connection.close()
    table = page.split("<tbody>", 1)[1].split("</tbody>", 1)[0]
    rows = {}
    for row in table.split("<tr>")[1:]:
        team = re.search(r'<th scope="row">(.*?)</th>', row)
        assert team, row
        rows[team[1]] = re.findall(r"<td[^>]*>(.*?)</td>", row, re.DOTALL)
    return rows


def test_a_seeded_mix_of_every_fault_loses_nothing_and_doubles_nothing(
    served: ServedSite, rooms: dict[str, Any], runs: range, line: CutLine, maker: PageMaker
) -> None:
    phones: dict[bool, list[Device]] = {}
    tablets: dict[bool, list[Device]] = {}
    faults: Counter[str] = Counter()
    promised: dict[str, Promised] = {room["code"]: [] for room in rooms["mix"]}
    for place, run in enumerate(runs):
        at, seat = divmod(place, RUNS_A_ROOM)
        room, plain = rooms["mix"][at], at % 2 == 0
        if plain not in phones:
            base = base_url(line, plain=plain)
            phones[plain] = [Phone(maker, base), Phone(maker, base)]
            tablets[plain] = [Tablet(maker, base)]
        line.heal()
        line.done.clear()
        # Every other time: a tablet loads a page for each call and each time.
        devices = [*phones[plain], *tablets[plain]] if run % 2 == 0 else phones[plain]
        mix = Mix(served, line, devices, run)
        teams = room["teams"][3 * seat : 3 * seat + len(devices)]
        tokens = [*room["stations"], room["tablets"][3 * seat + 2]][: len(devices)]
        try:
            mix.play(tokens, teams, first_time=400 + 3 * MIX_DROPS * seat, kills=run % 5 == 1)
        except BaseException:
            print(f"run {run}")
            raise
        finally:
            if mix.killing is not None:
                mix.killing.join()
        assert all(mix.dead), "a port answered although its server was killed"
        assert maker.faults_left() == []
        faults += count_faults(mix, line.done)
        promised[room["code"]] += mix.promised
    lost, double, not_shown = Promised(), Promised(), []
    rows = read_rooms(served)
    for code, kept in promised.items():
        gone, twice = lost_and_double(rows.get(code, []), kept)
        lost, double = lost + gone, double + twice
        board = board_rows(served, rooms["session"], code)
        for team in {name for name, _time in kept}:
            figure = speed_of([time for name, time in kept if name == team])
            if figure not in board[team]:
                not_shown.append((code, team, figure, board[team]))
    readings = sum(len(kept) for kept in promised.values())
    say("mix of faults", len(runs), readings, lost, double)
    print(", ".join(f"{name} {count}" for name, count in sorted(faults.items())))
    assert (lost, double, not_shown) == ([], [], [])
    assert readings == MIX_DROPS * sum(3 if run % 2 == 0 else 2 for run in runs)
    if len(runs) >= CI_RUNS:
        assert set(FAULTS) == set(faults), "a kind of fault did not happen"

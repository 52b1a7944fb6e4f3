"""Nothing that a screen called safe is lost or doubled: the line cut anywhere, pages closed, servers killed.

A seeded mix of every fault at once, and before it each place at which the line can be cut, once each.
"""

from __future__ import annotations

import http.client
import random
import re
import threading
import time
from collections.abc import Iterator
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

import pytest
from playwright.sync_api import Browser

from tests.support.cut_line import CutLine, every_cut
from tests.support.droppers import (
    SETUP,
    Device,
    Phone,
    Promised,
    Tablet,
    lost_and_double,
    new_maker,
    read_rooms,
)
from tests.support.server import LAN_NAME, ServedSite

DROPS = 3
CUTS = every_cut()
CI_RUNS, LONG_RUNS = 25, 200
FIRST_SEED = 20_260_301


@pytest.fixture(scope="module")
def rooms(served: ServedSite, request: pytest.FixtureRequest) -> dict[str, Any]:
    """Classes whose teams have built: large ones for the cuts, one of three teams for each run of the mix."""
    runs = LONG_RUNS if request.config.getoption("--long") else CI_RUNS
    large = served.ask_python(SETUP % ("cuts", 3, len(CUTS) // DROPS + 1))
    small = served.ask_python(SETUP % ("mix", runs, 3))
    return {"large": iter(large["rooms"]), "small": small["rooms"], "session": small["session"]}


@pytest.fixture
def line(served: ServedSite) -> Iterator[CutLine]:
    cut_line = CutLine(served.port)
    yield cut_line
    cut_line.close()


def base_url(line: CutLine, *, plain: bool) -> str:
    return f"http://{LAN_NAME if plain else '127.0.0.1'}:{line.port}"


def say(what: str, runs: int, promised: int, lost: Promised, double: Promised) -> None:
    print(f"\n{what}: {runs} runs, {promised} readings, {len(lost)} losses, {len(double)} duplicates")


@pytest.mark.parametrize("plain", [False, True], ids=["secure", "plain-http"])
def test_a_station_s_reading_arrives_once_wherever_the_line_is_cut(
    served: ServedSite, rooms: dict[str, Any], line: CutLine, chromium: Browser, plain: bool
) -> None:
    room, maker, promised = next(rooms["large"]), new_maker(chromium), Promised()
    phone = Phone(maker, base_url(line, plain=plain), room["stations"][0], promised)
    for number, cut in enumerate(CUTS):
        line.cuts.append(cut)
        phone.type_time(room["teams"][number // DROPS], 400 + number)
        phone.wait_until_saved()
        assert line.done[-1] is cut, f"{cut} was not made"
    lost, double = lost_and_double(read_rooms(served)[room["code"]], promised)
    say(f"every cut, station, {'plain HTTP' if plain else 'secure'}", len(CUTS), len(promised), lost, double)
    assert maker.close() == []
    assert (lost, double, len(promised)) == ([], [], len(CUTS))


def test_a_team_s_reading_arrives_once_wherever_the_line_is_cut(
    served: ServedSite, rooms: dict[str, Any], line: CutLine, chromium: Browser
) -> None:
    room, maker, promised = next(rooms["large"]), new_maker(chromium), Promised()
    for number, cut in enumerate(CUTS):
        if number % DROPS == 0:
            tablet = Tablet(maker, base_url(line, plain=True), room["tablets"][number // DROPS], promised)
        tablet.call()
        line.cuts.append(cut)
        tablet.type_time(room["teams"][number // DROPS], 400 + number)
        tablet.wait_until_saved()
        assert line.done[-1] is cut, f"{cut} was not made"
    lost, double = lost_and_double(read_rooms(served)[room["code"]], promised)
    say("every cut, team's tablet", len(CUTS), len(promised), lost, double)
    assert maker.close() == []
    assert (lost, double, len(promised)) == ([], [], len(CUTS))


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
    """Kill the server's whole group in a moment, show that its port is dead, and start it again."""

    def work() -> None:
        time.sleep(after_s)
        served.kill()
        told.append(is_dead(served.port))
        served.start()

    thread = threading.Thread(target=work)
    thread.start()
    return thread


class Mix:
    """One run: two stations and a team's tablet, and whatever its seed lets happen to them."""

    def __init__(self, served: ServedSite, room: dict[str, Any], line: CutLine, seed: int) -> None:
        self.served, self.room, self.line = served, room, line
        self.dice = random.Random(seed)
        self.promised = Promised()
        self.killing: threading.Thread | None = None
        self.dead: list[bool] = []

    def play(self, chromium: Browser, *, plain: bool, kills: bool) -> None:
        maker, base, room = new_maker(chromium), base_url(self.line, plain=plain), self.room
        devices: list[Device] = [
            Tablet(maker, base, room["tablets"][0], self.promised),
            Phone(maker, base, room["stations"][0], self.promised),
            Phone(maker, base, room["stations"][1], self.promised),
        ]
        steps = [(at, drop) for at in range(len(devices)) for drop in range(DROPS)]
        self.dice.shuffle(steps)
        kill_at = self.dice.randrange(len(steps)) if kills else -1
        for number, (at, drop) in enumerate(steps):
            if number == kill_at:
                self.killing = kill_and_restart(self.served, self.dice.uniform(0, 0.3), self.dead)
            self._step(devices[at], room["teams"][at], 400 + DROPS * at + drop)
        if self.killing is not None:
            self.killing.join()
        self.line.heal()
        for device in devices:
            device.wait_until_saved()
        assert maker.close() == []

    def _step(self, device: Device, team: str, hundredths: int) -> None:
        chance = self.dice.random()
        healing = None
        if chance < 0.35:
            self.line.cuts.extend(self.dice.sample(CUTS, k=self.dice.randint(1, 2)))
        elif chance < 0.5 and isinstance(device, Phone):
            self.line.down = True
            healing = threading.Timer(self.dice.uniform(0.2, 1.0), self.line.heal)
            healing.start()
        if chance > 0.85:
            self._press_and_reload(device, team, hundredths)
        else:
            device.type_time(team, hundredths)
        after = self.dice.random()
        if healing is not None and after < 0.5:
            healing.join()
        if after < 0.12:
            device.open()
        elif after < 0.24:
            device.close_and_open()

    def _press_and_reload(self, device: Device, team: str, hundredths: int) -> None:
        """Load the page again in the instant of the press; what the device does not have is typed again."""
        device.get_ready()
        device.press(team, hundredths)
        if self.dice.random() < 0.5:
            time.sleep(self.dice.uniform(0, 0.05))
        device.open()
        if f"{hundredths / 100:.2f}" in device.kept():
            device.promise(team, hundredths)
        else:
            device.type_time(team, hundredths)


def speed_of(hundredths: list[int]) -> str:
    """Return the class figure by hand: each time rounded, their mean rounded, 15 ft by it rounded."""

    def tenths(value: Decimal) -> Decimal:
        return value.quantize(Decimal("0.1"), ROUND_HALF_UP)

    times = [tenths(Decimal(time) / 100) for time in hundredths]
    return str(tenths(15 / tenths(sum(times, Decimal(0)) / len(times))))


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
    served: ServedSite, rooms: dict[str, Any], chromium: Browser
) -> None:
    lost, double, not_shown, readings, kills = Promised(), Promised(), [], 0, 0
    promised: dict[str, Promised] = {}
    for run, room in enumerate(rooms["small"]):
        line = CutLine(served.port)
        mix = Mix(served, room, line, FIRST_SEED + run)
        try:
            mix.play(chromium, plain=run % 2 == 0, kills=run % 4 == 1)
        except BaseException:
            print(f"seed {FIRST_SEED + run}")
            raise
        finally:
            if mix.killing is not None:
                mix.killing.join()
            line.close()
        assert all(mix.dead), "the port answered although the server was killed"
        kills += len(mix.dead)
        promised[room["code"]] = mix.promised
    rows = read_rooms(served)
    for room in rooms["small"]:
        kept = promised[room["code"]]
        gone, twice = lost_and_double(rows[room["code"]], kept)
        lost, double, readings = lost + gone, double + twice, readings + len(kept)
        board = board_rows(served, rooms["session"], room["code"])
        for team in room["teams"]:
            figure = speed_of([time for name, time in kept if name == team])
            if figure not in board[team]:
                not_shown.append((room["code"], team, figure, board[team]))
    say(f"mix of faults ({kills} kills)", len(rooms["small"]), readings, lost, double)
    assert (lost, double, not_shown) == ([], [], [])
    assert readings == len(rooms["small"]) * 3 * DROPS

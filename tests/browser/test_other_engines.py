"""A lesson in WebKit and Gecko: joining, saving over a cut line, measuring, timing, the board."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.support.cut_line import CutLine
from tests.support.engines import Window, missing_for, window_of
from tests.support.server import LAN_NAME, ServedSite

TABLET, PHONE, PROJECTOR = (820, 1180), (390, 844), (1280, 720)
PICTURES = os.environ.get("SECOND_BUILD_PICTURES", "")
SENTENCE = "It must fall slowly."

SETUP = """
from tests import builders as b
from tests.support import site, stages
from design_challenges.models import QueueMove
teacher = b.make_teacher(%r, "a long pass phrase")
room = b.make_class(teams=4, teacher=teacher)
challenge = b.make_challenge(room, sums_by="software")
QueueMove.objects.create(class_challenge=challenge, move="start")
QueueMove.objects.create(class_challenge=challenge, move="noref")
new, cleared, done, *built = room.teams.order_by("place")
stages.play_to(challenge, cleared, "cleared")
stages.play_to(challenge, done, "noticed")
for team in built:
    stages.play_to(challenge, team, "made")
print(json.dumps({
    "code": room.code, "measuring": cleared.pk, "team_code": new.code, "team": new.pk, "built": built[0].name,
    "cleared": site.let_in(cleared), "station": site.let_station_in(room), "session": site.sign_in(teacher),
}))
"""
NOTES = """
from design_challenges.models import Note
print(json.dumps(list(Note.objects.filter(iteration__team__pk=%r).values_list("text", flat=True))))
"""
SIZES = """
from design_challenges.models import Measurement
rows = Measurement.objects.filter(stage="built", iteration__team__pk=%r).order_by("pk")
print(json.dumps([row.typed for row in rows]))
"""
TIMES = """
from design_challenges.models import Reading
rows = Reading.objects.filter(source="station", class_challenge__classroom__code=%r).order_by("pk")
print(json.dumps([[row.drop_id is not None, row.hundredths] for row in rows]))
"""
FAULTS = """
    const root = document.documentElement;
    const low = (one) => one.offsetParent && one.getBoundingClientRect().height < 24;
    const all = document.querySelectorAll("main button:not([aria-hidden], .modebar-btn), main a.button");
    const buttons = [...all].filter(low);
    return [root.scrollWidth - root.clientWidth, ...buttons.map((one) => one.outerHTML.slice(0, 120))];"""


@pytest.fixture(scope="module")
def room(served: ServedSite, window: Window) -> Any:
    """A class of the engine's own: a team to join, one that may build, one with results, one to drop."""
    return served.ask_python(SETUP % window.version)


@pytest.fixture(scope="module")
def line(served: ServedSite) -> Iterator[CutLine]:
    cut_line = CutLine(served.port)
    yield cut_line
    cut_line.close()


@pytest.fixture(scope="module", params=["webkit", "gecko"])
def window(
    request: pytest.FixtureRequest, line: CutLine, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Window]:
    if missing := missing_for(request.param):
        pytest.skip(f"not tried in this engine: {missing}")
    with window_of(request.param, tmp_path_factory.mktemp(request.param), line.port) as opened:
        print(f"\n{opened.version}")
        yield opened


def look(window: Window, name: str, size: tuple[int, int]) -> None:
    """Hold a page against the window's width at this size, and keep a picture where one is asked for."""
    window.resize(*size)
    if PICTURES:
        window.picture(Path(PICTURES) / f"{window.version.split('.')[0].replace(' ', '-')}-{name}.png")
    over, *small = window.run(FAULTS)
    assert over <= 0, f"{name} is {over} px wider than the window"
    assert small == [], f"{name} has buttons too low for a finger: {small}"


def test_a_team_joins_saves_over_a_cut_line_measures_times_a_drop_and_sees_the_board(
    window: Window, served: ServedSite, line: CutLine, room: Any
) -> None:
    lan = f"http://{LAN_NAME}:{line.port}"
    joins_by_codes(window, lan, room)
    saves_over_a_cut_line(window, served, line, room)
    measures(window, served, lan, room)
    times_a_drop(window, served, lan, room)
    opens_the_board(window, lan, room)


def joins_by_codes(window: Window, lan: str, room: Any) -> None:
    window.open(f"{lan}/")
    assert window.run("return isSecureContext") is False, (
        "plain HTTP from another machine, as a tablet has it"
    )
    look(window, "home", TABLET)
    window.type("[name=class_code]", room["code"].lower())
    window.type("[name=team_code]", room["team_code"])
    window.press("Join")
    window.wait_for_words("What must it do?")
    look(window, "purpose", TABLET)


def saves_over_a_cut_line(window: Window, served: ServedSite, line: CutLine, room: Any) -> None:
    window.wait_for_words("Saved", "#outbox-line")
    line.down = True
    window.type("main [name=purpose]", SENTENCE)
    window.press("Save and go on")
    window.wait_for_words("On this tablet only", "#outbox-line")
    look(window, "waiting", TABLET)
    assert served.ask_python(NOTES % room["team"]) == []
    line.down = False
    window.wait_for_words("Saved", "#outbox-line")
    assert served.ask_python(NOTES % room["team"]) == [SENTENCE]
    window.wait_for_words("Idea A")
    look(window, "idea", TABLET)


def measures(window: Window, served: ServedSite, lan: str, room: Any) -> None:
    window.add_cookie("sb_team", room["cleared"])
    window.open(f"{lan}/team/1/build/")
    look(window, "measure", TABLET)
    for number, typed in ((1, "14"), (2, "13 3/4")):
        window.type(f"main [name=canopy_diameter_{number}]", typed)
    window.press("Save")
    for number in range(1, 5):
        window.type(f"main [name=line_length_{number}]", "13")
    window.press("Save")
    window.wait_for_words("What you made")
    look(window, "made", TABLET)
    assert served.ask_python(SIZES % room["measuring"]) == ["14", "13 3/4", *["13"] * 4]


def times_a_drop(window: Window, served: ServedSite, lan: str, room: Any) -> None:
    window.add_cookie("sb_station", room["station"])
    window.open(f"{lan}/station/")
    window.wait_for_words(room["built"])
    look(window, "station", PHONE)
    window.click("#watch")
    started = window.run("return performance.now()")
    window.wait_for("the watch to run", "return performance.now() - arguments[0] > 2600", started)
    window.click("#watch")
    window.wait_for(
        "the calls", "const one = document.querySelector('[data-call=yes]'); return one?.offsetParent"
    )
    look(window, "timed", PHONE)
    window.wait_for("a moment", "return performance.now() - arguments[0] > 3600", started)
    window.click("[data-call=yes]")
    window.wait_for_words("saved", "#safe")
    ((placed, hundredths),) = served.ask_python(TIMES % room["code"])[-1:]
    assert placed
    assert 255 < hundredths < 700, "what lay between the two touches"


def opens_the_board(window: Window, lan: str, room: Any) -> None:
    window.add_cookie("sb_session", room["session"])
    window.resize(*PROJECTOR)
    window.open(f"{lan}/classes/{room['code']}/board/")
    window.wait_for_words(room["built"])
    window.wait_for("the chart", "return document.querySelector('.js-plotly-plot .main-svg')")
    look(window, "board", PROJECTOR)
    window.open(f"{lan}/classes/{room['code']}/dashboard/")
    window.wait_for_words(room["built"])
    look(window, "dashboard", PROJECTOR)

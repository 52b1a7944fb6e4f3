"""A whole class plays both rounds, teacher and eight teams; pages and files agree with sums of our own."""

from __future__ import annotations

import csv
import json
import time
from decimal import Decimal
from pathlib import Path
from types import SimpleNamespace

import pytest
from playwright.sync_api import expect

from tests.browser.plays.arithmetic import middle, nearest_mark, read, rounded
from tests.browser.plays.screens import table_rows
from tests.browser.plays.stories import CLASS, OLDER, YOUNGER, YOUNGER_METRIC, RoundStory
from tests.browser.plays.teacher import Teacher
from tests.browser.plays.team import Tablet, take_turns
from tests.support.browser import PROJECTOR, PageMaker
from tests.support.fresh import POLLS_AT_MOST
from tests.support.workbooks import recalculate, table, values_of

LINK_TEAMS = {2, 6}
"""These come in by their card's address, the others by its two codes."""


@pytest.fixture(scope="module")
def devices(chromium):
    """Pages that stay open from one test to the next: the class goes on where it was."""
    maker = PageMaker(chromium)
    yield maker
    faults = maker.close()
    assert not faults, "\n".join(faults)


@pytest.fixture(scope="module")
def lesson(served, devices):
    """A class of eight teams that has played both rounds."""
    started = time.monotonic()
    teacher = Teacher(devices(PROJECTOR), served.base_url)
    teacher.make_account(served.first_teacher_path)
    teacher.make_class("Room 12")
    teacher.paste_children()
    teacher.shuffle(4)
    teams = teacher.team_codes()
    assert len(teams) == 8
    teacher.set_up("us", "older")
    teacher.start_lesson()
    teacher.dashboard()
    # Starting the lesson opened joining; a teacher who closed it opens it again.
    teacher.tap("Close joining")
    teacher.tap("Open joining")
    expect(teacher.page.get_by_text("Joining is open")).to_be_visible()

    tablets = []
    for index, (_name, code) in enumerate(teams):
        tablet = Tablet(devices(), served.lan_url, OLDER, CLASS[index])
        join = tablet.join_by_link if index in LINK_TEAMS else tablet.join
        join(teacher.code, code)
        expect(tablet.page.locator("header")).to_contain_text(_name)
        tablets.append(tablet)

    saw: dict[str, int] = {}
    _play(teacher, tablets, 1, saw)
    teacher.tap("Open round 2")
    _play(teacher, tablets, 2, saw)
    print(f"\nthe class took {time.monotonic() - started:.0f} s")
    return SimpleNamespace(
        teacher=teacher, tablets=tablets, names=[name for name, _code in teams], served=served, saw=saw
    )


def _play(teacher: Teacher, tablets: list[Tablet], number: int, saw: dict[str, int]) -> None:
    """Play a round; the teacher's page says by itself who is in, while the teams go on."""
    for until, step in (("build", "Ready"), ("test", "Build"), ("compare", "Results")):
        take_turns([tablet.play_round(number, until=until) for tablet in tablets])
        saw[f"{number} {step}"] = teacher.sees(number, step, "8 of 8 teams in")
    take_turns([tablet.play_round(number) for tablet in tablets])
    teacher.sees(number, "Compare", "8 of 8 teams in")


def stories(lesson) -> list[tuple[str, int, RoundStory]]:
    """Every round that was played: team, number, story; in team order."""
    return [
        (name, number, story)
        for name, pair in zip(lesson.names, CLASS, strict=True)
        for number, story in enumerate(pair, 1)
    ]


# --- what the teams were told ------------------------------------------------------------------


def test_a_team_over_the_limit_was_told_by_how_much_and_made_it_smaller(lesson):
    tablet = lesson.tablets[0]
    assert tablet.mended
    too_big = CLASS[0][0].too_big
    assert too_big is not None
    over = CLASS[0][0].material(OLDER, too_big) - OLDER.limit
    assert over == 23
    assert any(f"{over} too many" in told for told in tablet.told), tablet.told


def test_a_slip_got_a_next_step_and_what_was_typed_stayed(lesson):
    told = lesson.tablets[1].told
    assert len(told) == 2
    assert "radius times radius" in told[0]
    assert "mean" in told[1]


def test_a_reading_under_free_fall_was_asked_about_and_taken_on_confirmation(lesson):
    assert len(lesson.tablets[5].told) == 1
    with (Path(_export(lesson)) / "trials.csv").open(encoding="utf-8", newline="") as file:
        mine = [row for row in csv.DictReader(file) if row["team"] == lesson.names[5] and row["round"] == "1"]
    assert mine[0]["fall_time_s"] == "0.91"
    assert mine[0]["counts"] == "yes"


def test_the_teacher_saw_every_team_come_in_with_the_next_poll(lesson):
    assert set(lesson.saw) == {
        f"{number} {step}" for number in (1, 2) for step in ("Ready", "Build", "Results")
    }
    assert max(lesson.saw.values()) <= POLLS_AT_MOST, lesson.saw


# --- the teacher's pages -------------------------------------------------------------------------


def test_the_dashboard_shows_both_rounds_of_every_team_and_the_class_medians(lesson):
    page = lesson.teacher.page
    lesson.teacher.open("dashboard/?order=team")
    rows = table_rows(page.locator("#both-rounds-table table"))
    assert [row["Team"] for row in rows] == lesson.names
    for row, (first, second) in zip(rows, CLASS, strict=True):
        for cell, story in ((row["Round 1"], first), (row["Round 2"], second)):
            assert cell.split()[0] == f"{story.figure(OLDER):f}"
            # The teacher sees both where they differ by more than the last place.
            exact = story.exact_speed(OLDER)
            assert ("exact" in cell) is (abs(exact - story.speed(OLDER)) > Decimal("0.1")), (cell, exact)
        _says_the_change(row["Change"], first, second)
    medians = page.locator("#both-rounds-table tfoot").inner_text()
    for index in (0, 1):
        figures = [pair[index].figure(OLDER) for pair in CLASS]
        assert f"{rounded(middle(figures), 1):f}" in medians


def _says_the_change(words: str, first: RoundStory, second: RoundStory) -> None:
    change = abs(second.figure(OLDER) - first.figure(OLDER))
    direction = second.direction(OLDER, first)
    if direction == "same":
        assert "same" in words or "no change" in words, words
    else:
        assert f"{change:f}" in words, words
        assert direction in words, words


def test_the_picture_of_both_rounds_is_drawn_from_the_same_figures(lesson):
    page = lesson.teacher.page
    lesson.teacher.open("dashboard/?order=team")
    holder = "#both-rounds [data-figure], #both-rounds[data-figure]"
    figure = json.loads(page.locator(holder).get_attribute("data-figure") or "")
    drawn = {
        Decimal(str(value)).quantize(Decimal("0.1"))
        for trace in figure["data"]
        for axis in ("x", "y")
        for value in trace.get(axis, [])
        if isinstance(value, (int, float)) and not isinstance(value, bool)
    }
    wanted = {story.figure(OLDER) for _name, _number, story in stories(lesson)}
    assert wanted <= drawn


def test_the_board_shows_each_round_in_team_order(lesson):
    for number in (1, 2):
        rows = _board(lesson, f"?round={number}")
        assert [_name_of(row["Team"], lesson.names) for row in rows] == lesson.names
        for row, pair in zip(rows, CLASS, strict=True):
            story = pair[number - 1]
            assert row["Fall speed"] == f"{story.speed(OLDER):f}"
            assert read(row["Canopy diameter"]) == nearest_mark(story.diameter, 4)
            assert read(row["Line length"]) == nearest_mark(story.line, 4)
            assert row["Round"] == str(number)


def test_the_board_says_which_drops_did_not_open_and_how_few_there_were(lesson):
    notes = lesson.teacher.page.locator("#board-table")
    _board(lesson, "?round=1")
    expect(notes).to_contain_text(f"{lesson.names[3]} 2 of 3 opened")
    expect(notes).to_contain_text(f"{lesson.names[4]} 2 drops")
    _board(lesson, "?round=2")
    expect(notes).not_to_contain_text("opened")


def test_the_newest_round_is_what_the_board_shows_by_itself(lesson):
    rows = _board(lesson)
    assert [row["Fall speed"] for row in rows] == [f"{pair[1].speed(OLDER):f}" for pair in CLASS]


def _board(lesson, query: str = "") -> list[dict[str, str]]:
    lesson.teacher.open(f"board/{query}")
    return table_rows(lesson.teacher.page.locator("#board-table table"))


def _name_of(cell: str, names: list[str]) -> str:
    return next((name for name in names if cell == name or cell.startswith(f"{name} ")), cell)


# --- the files -----------------------------------------------------------------------------------


def _export(lesson) -> str:
    folder = lesson.served.data / "export"
    if not folder.exists():
        lesson.served.manage("export", lesson.teacher.code, "--to", str(folder))
    return str(folder)


def _rows(lesson, name: str) -> list[dict[str, str]]:
    with (Path(_export(lesson)) / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_the_teams_file_has_every_child_once(lesson):
    rows = _rows(lesson, "teams.csv")
    assert [row["team"] for row in rows] == lesson.names
    children = [child for row in rows for child in row["students"].split("; ")]
    assert len(children) == len(set(children)) == 29
    assert "Cem Y." in children
    assert not any("Yilmaz" in child for child in children)


def test_the_trials_file_has_every_reading_and_the_void_drop(lesson):
    found = [
        (
            row["team"],
            int(row["round"]),
            int(row["trial"]),
            row["fall_time_s"],
            row["rounded_s"],
            row["counts"],
        )
        for row in _rows(lesson, "trials.csv")
    ]
    wanted = []
    for name, number, story in stories(lesson):
        trial = 1
        for drop in story.drops:
            if drop.void:
                wanted.append((name, number, trial, "", "", "no"))
                continue
            raw, shown = rounded(drop.seconds, 2), rounded(drop.seconds, 1)
            wanted.append((name, number, trial, f"{raw:f}", f"{shown:f}", "yes"))
            trial += 1
    assert sorted(found) == sorted(wanted)
    reasons = {row["reason"] for row in _rows(lesson, "trials.csv") if row["reason"]}
    assert reasons == {"timing slip", "did not open"}


def test_the_measurements_file_has_plan_and_made_thing(lesson):
    found = {
        (row["team"], int(row["round"]), row["quantity"]): (row["planned"], row["measured"], row["unit"])
        for row in _rows(lesson, "measurements.csv")
    }
    for name, number, story in stories(lesson):
        radius, line = read(story.plan[0]), read(story.plan[1])
        planned, measured, unit = found[name, number, "canopy_diameter"]
        assert (Decimal(planned), Decimal(measured), unit) == (2 * radius, story.diameter, "in")
        planned, measured, unit = found[name, number, "line_length"]
        assert (Decimal(planned), Decimal(measured), unit) == (line, story.line, "in")


def test_the_results_file_agrees_with_our_own_sums(lesson):
    rows = _rows(lesson, "results.csv")
    assert [(row["team"], int(row["round"])) for row in rows] == [
        (name, number) for name, number, _story in stories(lesson)
    ]
    for row, (_name, _number, story) in zip(rows, stories(lesson), strict=True):
        assert Decimal(row["canopy_diameter"]) == story.diameter
        assert Decimal(row["line_length"]) == story.line
        assert Decimal(row["material_used"]) == story.built_material(OLDER)
        assert row["mean_time_s"] == f"{story.average(OLDER):f}"
        assert row["fall_speed"] == f"{story.speed(OLDER):f}"
        assert abs(Decimal(row["fall_speed_exact"]) - story.exact_speed(OLDER)) < Decimal("1e-9")
        assert (row["speed_unit"], row["length_unit"]) == ("ft/s", "in")


def test_the_teacher_downloads_the_same_files_as_the_command_writes(lesson):
    page = lesson.teacher.page
    lesson.teacher.open("files/")
    links = page.get_by_role("main").get_by_role("link")
    hrefs = {link.get_attribute("href") or "" for link in links.all()}
    for name in ("teams.csv", "measurements.csv", "trials.csv", "results.csv"):
        href = next(href for href in hrefs if href.endswith(name))
        answer = page.request.get(f"{lesson.served.base_url}{href}")
        assert answer.status == 200
        assert answer.body() == (Path(_export(lesson)) / name).read_bytes()
    href = next(href for href in hrefs if href.endswith("gradebook.xlsx"))
    answer = page.request.get(f"{lesson.served.base_url}{href}")
    assert answer.status == 200
    assert answer.body()[:2] == b"PK"


@pytest.fixture(scope="module")
def worked_out(lesson, soffice, tmp_path_factory):
    """The gradebook after LibreOffice worked out every formula anew."""
    file = (Path(_export(lesson)) / "gradebook.xlsx").read_bytes()
    return values_of(recalculate(soffice, file, tmp_path_factory.mktemp("gradebook")))


def test_the_recalculated_sheet_of_teams_agrees_with_our_own_sums(lesson, worked_out):
    rows = table(worked_out["Teams"])
    assert [row["Team"] for row in rows] == lesson.names
    for row, pair in zip(rows, CLASS, strict=True):
        for number, story in enumerate(pair, 1):
            assert row[f"Round {number} drops that count"] == len(story.counting)
            assert _same(row[f"Round {number} Canopy diameter (in)"], story.diameter)
            assert _same(row[f"Round {number} material used (points)"], story.built_material(OLDER))
            assert _same(row[f"Round {number} mean time (s)"], story.average(OLDER))
            assert _same(row[f"Round {number} fall speed (ft/s)"], story.speed(OLDER))
            assert _same(row[f"Round {number} exact speed (ft/s)"], story.exact_speed(OLDER))
        first, second = pair
        change = second.speed(OLDER) - first.speed(OLDER)
        assert _same(row["Change, round 1 to 2 (ft/s)"], change)
        said = {"slower": "slower", "faster": "faster", "same": "no change"}
        assert row["In a word"] == said[second.direction(OLDER, first)]


def _same(cell, wanted: Decimal) -> bool:
    return abs(Decimal(str(cell)) - wanted) < Decimal("1e-9")


def test_every_child_has_its_own_teams_figures_in_the_gradebook(lesson, worked_out):
    rows = table(worked_out["Students"])
    assert len(rows) == 29
    for row in rows:
        first, second = CLASS[lesson.names.index(row["Team"])]
        assert _same(row["Round 1 fall speed (ft/s)"], first.speed(OLDER))
        assert _same(row["Round 2 fall speed (ft/s)"], second.speed(OLDER))
        assert _same(row["Change, round 1 to 2 (ft/s)"], second.speed(OLDER) - first.speed(OLDER))


def test_the_sheet_of_trials_rounds_as_we_do(lesson, worked_out):
    found = [
        (row["Team"], row["Round"], _number(row["Fall time (s)"]), _number(row["Rounded (s)"]), row["Counts"])
        for row in table(worked_out["Trials"])
        if row["Team"]
    ]
    wanted = [
        (name, number, *((None, None, "no") if drop.void else (*_two(drop.time), "yes")))
        for name, number, story in stories(lesson)
        for drop in story.drops
    ]
    assert sorted(found, key=str) == sorted(wanted, key=str)


def _number(cell):
    return None if cell == "" else Decimal(str(cell)).quantize(Decimal("0.01"))


def _two(text: str) -> tuple[Decimal, Decimal]:
    shown = rounded(read(text), 1).quantize(Decimal("0.01"))
    return read(text).quantize(Decimal("0.01")), shown


# --- a metric class of the younger preset --------------------------------------------------------


def test_a_younger_metric_team_compares_the_middle_of_its_times(served, devices, lesson):
    teacher = Teacher(lesson.teacher.page, served.base_url)
    teacher.make_class("Room 3")
    teacher.paste_children("Ada B\nBen C\nCleo D\nDov E")
    teacher.shuffle(4)
    ((name, code),) = teacher.team_codes()
    teacher.set_up("metric", "younger")
    teacher.start_lesson()
    tablet = Tablet(devices(), served.lan_url, YOUNGER_METRIC, YOUNGER)
    tablet.join(teacher.code, code)
    teacher.dashboard()
    take_turns([tablet.play_round(1)])
    teacher.tap("Open round 2")
    take_turns([tablet.play_round(2)])
    teacher.sees(2, "Compare", "1 of 1 teams in")
    assert len(tablet.told) == 1

    first, second = YOUNGER
    assert (first.figure(YOUNGER_METRIC), second.figure(YOUNGER_METRIC)) == (Decimal("3.4"), Decimal("3.7"))
    teacher.open("dashboard/?order=team")
    (row,) = table_rows(teacher.page.locator("#both-rounds-table table"))
    assert (row["Team"], row["Round 1"].split()[0], row["Round 2"].split()[0]) == (name, "3.4", "3.7")
    assert "0.3" in row["Change"]
    teacher.open("board/")
    (row,) = table_rows(teacher.page.locator("#board-table table"))
    assert (row["Fall time"], row["Canopy diameter"], row["Line length"]) == ("3.7", "38", "35")

    folder = served.data / "younger"
    served.manage("export", teacher.code, "--to", str(folder))
    with (folder / "results.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    for row, story in zip(rows, YOUNGER, strict=True):
        assert row["mean_time_s"] == f"{story.average(YOUNGER_METRIC):f}"
        assert row["fall_speed"] == f"{story.speed(YOUNGER_METRIC):f}"
        assert Decimal(row["material_used"]) == story.built_material(YOUNGER_METRIC)
        assert abs(Decimal(row["fall_speed_exact"]) - story.exact_speed(YOUNGER_METRIC)) < Decimal("1e-9")
        assert (row["speed_unit"], row["length_unit"]) == ("m/s", "cm")

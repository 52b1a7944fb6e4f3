"""The gradebook: its sheets, live formulas with their results in the file, texts that stay texts, print."""

from __future__ import annotations

import io
import random
import re
import time
import zipfile
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import Any

import pytest
from django.utils import timezone
from openpyxl import Workbook, load_workbook

from classroom.models import Attendance, Classroom, Lesson, Student, Team, TeamMember
from design_challenges.models import ChallengeSettings, ClassChallenge, Reading
from design_challenges.services import saving
from design_challenges.services.exports import clean_text, load_export
from design_challenges.services.gradebook import gradebook_bytes
from design_challenges.services.gradebook_formulas import GUARD
from design_challenges.services.rounding import round_half_up
from design_challenges.services.workbook_file import Cells, save_workbook
from tests.builders import (
    drop_round,
    enter,
    make_challenge,
    make_class,
    plan_round,
    play_round,
    record_of,
)
from tests.support.hard_names import HARD_NAMES
from tests.support.workbooks import chain, crowded_class, formulas_of, table, values_of


def gradebook(challenge: ClassChallenge) -> bytes:
    return gradebook_bytes(load_export(challenge))


@pytest.fixture
def classroom(db: None) -> Classroom:
    return make_class(teams=2)


@pytest.fixture
def challenge(classroom: Classroom) -> ClassChallenge:
    return make_challenge(classroom)


def teams_of(classroom: Classroom) -> list[Team]:
    return list(classroom.teams.order_by("place"))


# --- figures ----------------------------------------------------------------------------------------------


def test_two_rounds_give_each_team_and_each_child_its_figures_and_the_change(
    classroom: Classroom, challenge: ClassChallenge
) -> None:
    gannet, _heron = teams_of(classroom)
    play_round(challenge, gannet, 1, hundredths=(412, 398, 405))
    play_round(
        challenge, gannet, 2, radius="7 1/2", line="12", across=("15", "15"), hundredths=(455, 449, 461)
    )
    file = gradebook(challenge)
    book = values_of(file)
    row = table(book["Teams"])[0]
    assert (row["Round 1 mean time (s)"], row["Round 1 fall speed (ft/s)"]) == (4.1, 3.7)
    assert (row["Round 2 mean time (s)"], row["Round 2 fall speed (ft/s)"]) == (4.6, 3.3)
    assert (row["Change, round 1 to 2 (ft/s)"], row["In a word"]) == (-0.4, "slower")
    assert row["Round 1 exact speed (ft/s)"] == pytest.approx(4500 / (412 + 398 + 405), rel=1e-15)
    child = next(row for row in table(book["Students"]) if row["Team"] == "Gannet")
    assert (child["Round 1 fall speed (ft/s)"], child["Round 2 fall speed (ft/s)"]) == (3.7, 3.3)
    assert (child["Change, round 1 to 2 (ft/s)"], child["In a word"]) == (-0.4, "slower")
    other = next(row for row in table(book["Students"]) if row["Team"] == "Heron")
    assert (other["Round 1 fall speed (ft/s)"], other["In a word"]) == ("", "")


def test_means_speeds_and_changes_are_formulas_over_the_trials(
    classroom: Classroom, challenge: ClassChallenge
) -> None:
    for team in teams_of(classroom):
        play_round(challenge, team, 1)
        play_round(challenge, team, 2, radius="7 1/2", line="12", across=("15", "15"))
    file = gradebook(challenge)
    formulas, values = formulas_of(file), values_of(file)
    for sheet, heads in (
        ("Teams", ("mean", "speed", "exact", "Change", "word", "drops that count")),
        ("Students", ("time", "fall speed", "Change", "word", "Total")),
        ("Trials", ("Rounded",)),
    ):
        columns = {
            place.rstrip("1")
            for place, head in values[sheet].items()
            if re.fullmatch("[A-Z]+1", place) and any(word in str(head).replace("\n", " ") for word in heads)
        }
        rows = {place.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ") for place in values[sheet]} - {"1"}
        assert columns
        assert rows
        missing = {f"{c}{r}" for c in columns for r in rows if f"A{r}" in values[sheet]} - formulas[
            sheet
        ].keys()
        assert missing == set()
    text = " ".join(formulas["Teams"].values())
    assert "AVERAGEIFS(trial_rounded" in text
    assert not re.search(r"\d\.\d", text), "a figure was pasted into a formula"


@pytest.mark.parametrize(
    ("unit_system", "values", "common"),
    [
        ("us", {}, {}),
        ("metric", {}, {}),
        ("us", {"places_time": "2", "places_speed": "2"}, {"trials_per_round": 5}),
        ("us", {"places_time": "0", "places_speed": "0"}, {"trials_per_round": 2}),
        ("metric", {"places_speed": "3"}, {"trials_per_round": 10}),
        ("us", {}, {"average": "median"}),
        ("us", {"compare": "time"}, {"average": "median", "trials_per_round": 4}),
    ],
)
def test_what_stands_beside_the_formulas_is_the_childrens_chain(
    db: None, unit_system: str, values: dict[str, str], common: dict[str, Any]
) -> None:
    _classroom, challenge = crowded_class(6, unit_system=unit_system, values=values, **common)
    klass = load_export(challenge)
    rows = table(values_of(gradebook(challenge))["Teams"])
    assert len(rows) == 6
    for row, team in zip(rows, klass.teams, strict=True):
        figures = []
        for number in (1, 2):
            record = team.rounds[number]
            readings = [drop.reading.hundredths for drop in record.drops if drop.reading]
            expected = chain(
                readings,
                {"us": "15", "metric": "4.5"}[unit_system],
                int(values.get("places_time", 1)),
                int(values.get("places_speed", {"us": 1, "metric": 2}[unit_system])),
                median=common.get("average") == "median",
            )
            shown = [v for k, v in row.items() if k.startswith(f"Round {number} m") and "time" in k]
            shown += [v for k, v in row.items() if k.startswith(f"Round {number} fall speed")]
            assert [Decimal(str(value)) for value in shown] == list(expected)
            figures.append(expected[0 if values.get("compare") == "time" else 1])
        change = next(value for head, value in row.items() if head.startswith("Change"))
        assert Decimal(str(change)) == figures[1] - figures[0]


def test_a_round_that_is_not_finished_has_no_figure(classroom: Classroom, challenge: ClassChallenge) -> None:
    gannet, _heron = teams_of(classroom)
    plan_round(challenge, gannet)
    drop_round(challenge, gannet, hundredths=(412, 398))
    row = table(values_of(gradebook(challenge))["Teams"])[0]
    assert (row["Round 1 drops that count"], row["Round 1 drops needed"]) == (2, 3)
    assert (row["Round 1 mean time (s)"], row["Round 1 fall speed (ft/s)"]) == ("", "")


def test_a_team_that_could_not_mend_it_uses_the_drops_it_has(
    classroom: Classroom, challenge: ClassChallenge
) -> None:
    gannet, _heron = teams_of(classroom)
    plan_round(challenge, gannet)
    drop_round(challenge, gannet, hundredths=(400, 410))
    enter(challenge, lambda author: saving.save_breakage(record_of(challenge, gannet), "no_more", author))
    row = table(values_of(gradebook(challenge))["Teams"])[0]
    # 4.0 and 4.1 make 8.1; half of it is 4.05, a tie: 4.1
    assert (row["Round 1 drops needed"], row["Round 1 mean time (s)"]) == (2, 4.1)


def test_a_time_that_rounds_to_nothing_still_gives_a_speed(db: None) -> None:
    _classroom, challenge = crowded_class(1, rounds=1, values={"places_time": "0"}, times=[30, 40])
    record = load_export(challenge).teams[0].rounds[1]
    assert record.results is not None
    row = table(values_of(gradebook(challenge))["Teams"])[0]
    assert row["Round 1 mean time (s)"] == 0
    assert Decimal(str(row["Round 1 fall speed (ft/s)"])) == record.results.fall_speed


# --- rows -------------------------------------------------------------------------------------------------


def test_every_reading_stands_on_the_sheet_of_trials_with_its_reason(
    classroom: Classroom, challenge: ClassChallenge
) -> None:
    gannet, _heron = teams_of(classroom)
    plan_round(challenge, gannet)
    iteration = record_of(challenge, gannet).iteration
    enter(challenge, lambda author: saving.save_reading(iteration, 1, 345, author))
    enter(challenge, lambda author: saving.void_drop(iteration, 2, "release", author))
    enter(challenge, lambda author: saving.save_reading(iteration, 2, 391, author, mark="not_open"))
    rows = table(values_of(gradebook(challenge))["Trials"])
    shown = [
        (
            row["Team"],
            row["Trial"],
            row["Attempt"],
            row["Fall time (s)"],
            row["Rounded (s)"],
            row["Counts"],
            row["Reason"],
        )
        for row in rows
    ]
    assert shown == [
        ("Gannet", 1, 1, 3.45, 3.5, "yes", ""),
        ("Gannet", 2, 1, "", "", "no", "released wrongly"),
        ("Gannet", 2, 2, 3.91, 3.9, "yes", "did not open"),
    ]


def test_a_child_who_changed_teams_keeps_both_figures_and_has_no_change(
    classroom: Classroom, challenge: ClassChallenge
) -> None:
    gannet, heron = teams_of(classroom)
    play_round(challenge, gannet, 1, hundredths=(412, 398, 405))
    play_round(challenge, heron, 1, hundredths=(300, 300, 300))
    for team in (gannet, heron):
        play_round(
            challenge, team, 2, radius="7 1/2", line="12", across=("15", "15"), hundredths=(455, 449, 461)
        )
    mover = gannet.members.first().student
    TeamMember.objects.create(student=mover, team=heron, from_round=2)
    rows = {row["Student"]: row for row in table(values_of(gradebook(challenge))["Students"])}
    row = rows[str(mover)]
    assert (row["Team"], row["Round 1 team no."], row["Round 2 team no."]) == ("Heron", 1, 2)
    assert (row["Round 1 fall speed (ft/s)"], row["Round 2 fall speed (ft/s)"]) == (3.7, 3.3)
    assert (row["Change, round 1 to 2 (ft/s)"], row["In a word"]) == ("", "")


def test_a_merged_team_keeps_its_row_and_says_where_it_went(
    classroom: Classroom, challenge: ClassChallenge
) -> None:
    gannet, heron = teams_of(classroom)
    play_round(challenge, gannet, 1, hundredths=(412, 398, 405))
    Team.objects.filter(pk=gannet.pk).update(retired_at=timezone.now(), merged_into=heron)
    for place in gannet.members.all():
        TeamMember.objects.create(student=place.student, team=heron, from_round=2)
    book = values_of(gradebook(challenge))
    row = table(book["Teams"])[0]
    assert (row["Team"], row["Round 1 fall speed (ft/s)"], row["Note"]) == (
        "Gannet",
        3.7,
        "merged into Heron",
    )
    children = [row for row in table(book["Students"]) if row["Round 1 team no."] == 1]
    assert [(row["Team"], row["Round 1 fall speed (ft/s)"]) for row in children] == [("Heron", 3.7)] * 3


def test_attendance_stands_lesson_by_lesson(classroom: Classroom, challenge: ClassChallenge) -> None:
    now = timezone.now()
    first = Lesson.objects.create(classroom=classroom, number=1, started_at=now, ended_at=now)
    second = Lesson.objects.create(classroom=classroom, number=2, started_at=now)
    student = classroom.students.order_by("given_name", "initial", "pk")[0]
    Attendance.objects.create(lesson=first, student=student, present=True)
    Attendance.objects.create(lesson=second, student=student, present=False)
    row, other, *_rest = table(values_of(gradebook(challenge))["Students"])
    lessons = {head.split()[1]: value for head, value in row.items() if re.match(r"Lesson \d", head)}
    assert (lessons, row["Lessons present"]) == ({"1": "yes", "2": "no"}, 1)
    assert other["Lessons present"] == 0


def test_there_are_places_for_marks_and_their_total(classroom: Classroom, challenge: ClassChallenge) -> None:
    file = gradebook(challenge)
    row = table(values_of(file)["Students"])[0]
    assert [head for head in row if head.startswith("Mark:")] == [
        "Mark: planning",
        "Mark: measuring",
        "Mark: working",
        "Mark: explaining",
    ]
    assert any("SUM(" in formula for formula in formulas_of(file)["Students"].values())


def test_every_version_of_the_settings_stands_in_its_column(
    classroom: Classroom, challenge: ClassChallenge
) -> None:
    gannet, heron = teams_of(classroom)
    play_round(challenge, gannet, 1, hundredths=(412, 398, 405))
    ChallengeSettings.objects.create(
        class_challenge=challenge,
        version=2,
        unit_system="us",
        values={"places_time": "2", "places_speed": "2", "drop_height": "20"},
    )
    play_round(challenge, heron, 1, hundredths=(412, 398, 406))
    book = values_of(gradebook(challenge))
    settings = {row["Setting"]: row for row in table(book["Settings"])}
    assert (settings["Drop height (ft)"]["Version 1"], settings["Drop height (ft)"]["Version 2"]) == (15, 20)
    assert settings["Round 1"]["What it means"] == "Settings of version 1, 2."
    old, new = table(book["Teams"])
    assert (old["Round 1 mean time (s)"], old["Round 1 fall speed (ft/s)"]) == (4.1, 3.7)
    # 4.12, 3.98 and 4.06 make 12.16, a third is 4.05…; 20 ÷ 4.05 is 4.938…
    assert (new["Round 1 mean time (s)"], new["Round 1 fall speed (ft/s)"]) == (4.05, 4.94)


def test_rounds_in_different_units_are_not_compared(classroom: Classroom, challenge: ClassChallenge) -> None:
    gannet, _heron = teams_of(classroom)
    play_round(challenge, gannet, 1, hundredths=(412, 398, 405))
    ChallengeSettings.objects.create(class_challenge=challenge, version=2, unit_system="metric", values={})
    play_round(challenge, gannet, 2, radius="18", line="30", across=("36", "36"), lines=("30",) * 4)
    file = gradebook(challenge)
    row = table(values_of(file)["Teams"])[0]
    assert (row["Change, round 1 to 2 (m/s)"], row["In a word"]) == ("", "")
    sheet = load_workbook(io.BytesIO(file))["Teams"]
    formats = {cell.number_format for cell in sheet[2]}
    assert '0.0" ft/s"' in formats, "a speed in another unit than its heading's carries its own"


# --- texts ------------------------------------------------------------------------------------------------


def test_forty_hard_names_stay_texts(classroom: Classroom, challenge: ClassChallenge) -> None:
    for place, name in enumerate(HARD_NAMES, start=10):
        team = Team.objects.create(classroom=classroom, name=name, place=place)
        student = Student.objects.create(classroom=classroom, given_name=name)
        TeamMember.objects.create(student=student, team=team)
    book = load_workbook(io.BytesIO(gradebook(challenge)))
    names = {cell.value for cell in book["Students"]["A"]}
    assert {clean_text(name) for name in HARD_NAMES} <= names
    assert [cell.value for cell in book["Teams"]["B"]][3:43] == [clean_text(name) for name in HARD_NAMES]
    for sheet, column in (("Students", "A"), ("Students", "B"), ("Teams", "B")):
        assert {cell.data_type for cell in book[sheet][column]} == {"s"}
    quoted = [cell for cell in book["Teams"]["B"] if str(cell.value)[0] in "=+-@"]
    assert quoted
    assert all(cell.quotePrefix for cell in quoted)


def test_characters_that_no_file_can_hold_are_left_out(
    classroom: Classroom, challenge: ClassChallenge
) -> None:
    team = teams_of(classroom)[0]
    Team.objects.filter(pk=team.pk).update(name="Bell\x07 \x00\ufffeBoy")
    classroom.name = "Tea & Biscuits &D"
    classroom.save()
    file = gradebook(challenge)
    assert table(values_of(file)["Teams"])[0]["Team"] == "Bell Boy"
    assert load_workbook(io.BytesIO(file))["Teams"].oddFooter.left.text == "Tea && Biscuits &&D"


# --- looks ------------------------------------------------------------------------------------------------


def test_headers_stay_in_view_and_print_on_every_page(
    classroom: Classroom, challenge: ClassChallenge
) -> None:
    book = load_workbook(io.BytesIO(gradebook(challenge)))
    assert book.sheetnames == ["Students", "Teams", "Trials", "Settings"]
    for sheet in book:
        assert sheet.freeze_panes in ("B2", "C2")
        assert sheet.print_title_rows == "$1:$1"
        assert sheet.sheet_properties.pageSetUpPr.fitToPage
        assert (sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight) == (1, 0)
        assert "&P" in sheet.oddFooter.right.text
        assert sheet.page_setup.paperSize == 1


def test_numbers_show_the_places_of_the_class(classroom: Classroom, db: None) -> None:
    challenge = make_challenge(classroom, unit_system="metric")
    play_round(
        challenge, teams_of(classroom)[0], radius="18", line="30", across=("36", "36"), lines=("30",) * 4
    )
    sheet = load_workbook(io.BytesIO(gradebook(challenge)))["Teams"]
    formats = {
        " ".join(str(cell.value).split()): sheet[f"{cell.column_letter}2"].number_format for cell in sheet[1]
    }
    assert formats["Round 1 mean time (s)"] == "0.0"
    assert formats["Round 1 fall speed (m/s)"] == "0.00"
    assert formats["Change, round 1 to 2 (m/s)"] == "0.00"


def test_the_chart_shows_both_rounds_and_carries_its_values(
    classroom: Classroom, challenge: ClassChallenge
) -> None:
    gannet, _heron = teams_of(classroom)
    play_round(challenge, gannet, 1, hundredths=(412, 398, 405))
    play_round(
        challenge, gannet, 2, radius="7 1/2", line="12", across=("15", "15"), hundredths=(455, 449, 461)
    )
    file = gradebook(challenge)
    with zipfile.ZipFile(io.BytesIO(file)) as package:
        chart = package.read("xl/charts/chart1.xml").decode()
    assert len(re.findall(r"<ser>|<c:ser>", chart)) == 2
    assert "Round 1" in chart
    assert "Round 2" in chart
    assert "3.7" in chart
    assert "3.3" in chart
    assert "Gannet" in chart


# --- results in the file ----------------------------------------------------------------------------------


def test_results_stand_beside_their_formulas_and_texts_stay_texts() -> None:
    workbook, cells = Workbook(), Cells()
    workbook.active.title = "One"
    cells.formula(1, 3, 0, '="a"&"<"', "a<")
    cells.formula(1, 2, 0, "=A1*2", Decimal("4.0"))
    cells.number(1, 1, 0, 2)
    cells.formula(2, 2, 0, "=MEDIAN(IF(A1:A2>1,A1:A2))", Fraction(2), array=True)
    cells.text(2, 1, 0, " =1 < 2 & 3\n")
    cells.empty(3, 4, 0)
    file = save_workbook(workbook, {"One": cells})
    filled = {place: value for place, value in values_of(file)["One"].items() if value is not None}
    assert filled == {"A1": 2, "B1": 4, "C1": "a<", "A2": " =1 < 2 & 3\n", "B2": 2}
    assert formulas_of(file)["One"] == {
        "B1": "=A1*2",
        "C1": '="a"&"<"',
        "B2": "=MEDIAN(IF(A1:A2>1,A1:A2))",
    }
    assert load_workbook(io.BytesIO(file))["One"].dimensions == "A1:D3"


def test_cells_go_into_no_sheet_that_has_its_own_or_is_not_there() -> None:
    workbook = Workbook()
    with pytest.raises(ValueError, match="no sheet"):
        save_workbook(workbook, {"Sheet": Cells(), "Two": Cells()})
    workbook.active["B2"] = "=A1"
    with pytest.raises(ValueError, match="cells of its own"):
        save_workbook(workbook, {"Sheet": Cells()})


def test_every_formula_of_a_gradebook_has_its_result_in_the_file(db: None) -> None:
    """A viewer that does not calculate must show the figures: beside each formula stands what it gives."""
    with zipfile.ZipFile(io.BytesIO(gradebook(crowded_class(3)[1]))) as package:
        sheets = [package.read(name).decode() for name in package.namelist() if "worksheets/sheet" in name]
    cells = [cell for sheet in sheets for cell in re.findall(r"<c .*?(?:/>|</c>)", sheet) if "<f" in cell]
    assert len(cells) > 100
    assert [cell for cell in cells if not re.search(r"</f><v(?: [^>]*)?>[^<]*</v></c>$", cell)] == []


# --- the guard against binary ties ------------------------------------------------------------------------


def binary_round(value: float, places: int) -> float:
    """ROUND at its most naive: the double as it is, half away from zero."""
    exact = Decimal(value)
    size = abs(exact).quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)
    return float(size.copy_sign(exact))


def guarded(value: float, places: int) -> float:
    """What `gradebook_formulas.half_up` computes, in the doubles of a spreadsheet."""
    return binary_round(binary_round(value * 10**places, GUARD), 0) / 10**places


def test_without_the_guard_ties_go_the_wrong_way() -> None:
    assert binary_round(2.675, 2) == 2.67
    assert guarded(2.675, 2) == 2.68
    assert binary_round(1.005, 2) == 1.0
    assert guarded(1.005, 2) == 1.01
    assert guarded(-0.05, 1) == -0.1


@pytest.mark.parametrize(("places", "longest"), [(0, 60), (1, 600), (2, 900)])
def test_every_mean_of_one_to_ten_times_is_rounded_as_the_server_does(places: int, longest: int) -> None:
    """Every sum that 1 to 10 rounded times can make: up to 60 s, in hundredths up to 9 s."""
    wrong_without = 0
    for count in range(1, 11):
        for total in range(count, count * longest + 1):
            mean = (total / 10**places) / count
            expected = float(round_half_up(Fraction(total, count * 10**places), places))
            assert guarded(mean, places) == expected, (total, count)
            wrong_without += binary_round(mean, places) != expected
    assert places == 0 or wrong_without, (
        "these sums show no tie that a double breaks: the test proves nothing"
    )


def test_a_sum_of_doubles_in_any_order_is_rounded_as_the_server_does() -> None:
    dice = random.Random(5)
    for _turn in range(20_000):
        places, count = dice.choice((1, 2)), dice.randint(2, 10)
        times = [dice.randint(30, 6000) for _ in range(count)]
        total = 0.0
        for rounded in times:
            total += rounded / 10**places
        expected = float(round_half_up(Fraction(sum(times), count * 10**places), places))
        assert guarded(total / count, places) == expected


HEIGHTS = [
    "3",
    "5",
    "8.5",
    "10",
    "12",
    "15",
    "20",
    "30",
    "1",
    "1.5",
    "2.25",
    "3.05",
    "4.5",
    "4.57",
    "6.125",
    "10",
]


@pytest.mark.parametrize("places_time", [0, 1, 2])
def test_every_speed_is_rounded_as_the_server_does(places_time: int) -> None:
    """Usual drop heights over every time to 20 s that the place can show, to 0 to 3 digits."""
    wrong_without = 0
    for height in HEIGHTS:
        for time_ in range(1, 20 * 10**places_time + 1):
            exact = Fraction(height) / Fraction(time_, 10**places_time)
            quotient = float(height) / (time_ / 10**places_time)
            for places in range(4):
                expected = float(round_half_up(exact, places))
                assert guarded(quotient, places) == expected, (height, time_, places)
                wrong_without += binary_round(quotient, places) != expected
    assert wrong_without, "these quotients show no tie that a double breaks: the test proves nothing"


def test_every_reading_is_rounded_as_the_server_does() -> None:
    for hundredths in range(1, 6001):
        for places in (0, 1, 2):
            whole = binary_round(hundredths / 100 * 100, 0)
            shown = binary_round(whole / 10 ** (2 - places), 0) / 10**places
            assert shown == float(round_half_up(Fraction(hundredths, 100), places))


# --- size and time ----------------------------------------------------------------------------------------


def test_two_hundred_children_take_seconds(db: None, capsys: pytest.CaptureFixture[str]) -> None:
    _classroom, challenge = crowded_class(50, children=4)
    started = time.perf_counter()
    klass = load_export(challenge)
    loaded = time.perf_counter()
    file = gradebook_bytes(klass)
    ended = time.perf_counter()
    with capsys.disabled():
        print(
            f"\n200 children, 50 teams, {Reading.objects.count()} readings: read {loaded - started:.2f} s, "
            f"gradebook {ended - loaded:.2f} s, {len(file) / 1024:.0f} KiB"
        )
    assert len(table(values_of(file)["Students"])) == 200
    assert ended - started < 30


def test_a_gradebook_takes_the_same_queries_at_2_and_at_12_teams(
    db: None, django_assert_num_queries: Any
) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    counted = []
    for teams in (2, 12):
        _classroom, challenge = crowded_class(teams)
        with CaptureQueriesContext(
            connection,
        ) as queries:
            gradebook(challenge)
        counted.append(len(queries))
    assert counted[0] == counted[1] <= 20

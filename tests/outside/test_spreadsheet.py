"""The gradebook opened and worked out anew by LibreOffice Calc, an independent spreadsheet.

Source: LibreOffice's own calculation (the Document Foundation), run headless with a profile whose
`OOXMLRecalcMode` is 0, which is 'always': no value that stands in the file is believed.
"""

from __future__ import annotations

import io
import re
import subprocess
import time
import uuid
import zipfile
from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from random import Random
from typing import Any

import pytest
from openpyxl import Workbook
from pypdf import PdfReader

from classroom.models import Classroom, Student, Team, TeamMember
from design_challenges.models import ChallengeSettings, ClassChallenge
from design_challenges.services import gradebook_formulas as formulas
from design_challenges.services.exports import clean_text, load_export
from design_challenges.services.gradebook import gradebook_bytes
from design_challenges.services.marking import giving, rubrics
from design_challenges.services.marking.usual import Draft, usual_rubric
from design_challenges.services.rounding import round_half_up
from tests.builders import drop_round, make_challenge, make_class, plan_round, play_round
from tests.support.hard_names import HARD_NAMES
from tests.support.marked_classes import give, marks_of, teacher_of
from tests.support.workbooks import (
    Book,
    chain,
    crowded_class,
    formulas_of,
    half_up,
    recalculate,
    table,
    values_of,
)

pytestmark = pytest.mark.django_db

USUAL_HEIGHT = {"us": "15", "metric": "4.5"}
USUAL_SPEED_PLACES = {"us": 1, "metric": 2}


def gradebook(challenge: ClassChallenge) -> bytes:
    return gradebook_bytes(load_export(challenge))


def assert_same_results(file: bytes, worked_out: bytes) -> int:
    """Hold every formula's value in the file against LibreOffice's; return how many there are."""
    told, found, count = values_of(file), values_of(worked_out), 0
    for sheet, places in formulas_of(file).items():
        for place, formula in places.items():
            ours, theirs = told[sheet][place], found[sheet].get(place)
            # A double's last digit may differ in what is not rounded: 1 part in 10^13.
            if (
                isinstance(ours, int | float)
                and isinstance(theirs, int | float)
                and "exact" in _head(told, sheet, place)
            ):
                assert theirs == pytest.approx(ours, rel=1e-13), (sheet, place, formula)
            else:
                assert (theirs or 0 if isinstance(ours, int | float) else theirs or "") == (
                    "" if ours is None else ours
                ), (sheet, place, formula)
            count += 1
    return count


def _head(book: Book, sheet: str, place: str) -> str:
    return str(book[sheet][place.rstrip("0123456789") + "1"])


def expected_figures(
    klass: Any, unit_system: str, values: dict[str, str], common: dict[str, Any]
) -> list[Any]:
    """Work out each team's (time, speed) of both rounds from its raw hundredths, by the test's own chain."""
    return [
        [
            chain(
                [drop.reading.hundredths for drop in team.rounds[number].drops if drop.reading],
                values.get("drop_height", USUAL_HEIGHT[unit_system]),
                int(values.get("places_time", 1)),
                int(values.get("places_speed", USUAL_SPEED_PLACES[unit_system])),
                median=common.get("average") == "median",
            )
            for number in (1, 2)
        ]
        for team in klass.teams
    ]


@pytest.mark.parametrize(
    ("unit_system", "values", "common"),
    [
        ("us", {}, {}),
        ("metric", {}, {"trials_per_round": 5}),
        ("us", {"places_time": "2", "places_speed": "2"}, {"trials_per_round": 4}),
        ("metric", {"places_time": "0", "places_speed": "3", "drop_height": "4.57"}, {"trials_per_round": 2}),
        ("us", {}, {"average": "median"}),
        ("metric", {"compare": "time"}, {"average": "median", "trials_per_round": 10}),
    ],
)
def test_every_formula_equals_the_servers_figure(
    soffice: str, tmp_path: Path, unit_system: str, values: dict[str, str], common: dict[str, Any]
) -> None:
    _classroom, challenge = crowded_class(12, unit_system=unit_system, values=values, **common)
    klass = load_export(challenge)
    file = gradebook_bytes(klass)
    worked_out = recalculate(soffice, file, tmp_path)
    assert assert_same_results(file, worked_out) > 12 * 12
    rows = table(values_of(worked_out)["Teams"])
    for row, expected, team in zip(
        rows, expected_figures(klass, unit_system, values, common), klass.teams, strict=True
    ):
        for number, (time_s, speed) in enumerate(expected, start=1):
            results = team.rounds[number].results
            assert results is not None
            assert (results.average_time_s, results.fall_speed) == (time_s, speed)
            kind = "middle" if common.get("average") == "median" else "mean"
            assert Decimal(str(row[f"Round {number} {kind} time (s)"])) == time_s
            label = {"us": "ft/s", "metric": "m/s"}[unit_system]
            assert Decimal(str(row[f"Round {number} fall speed ({label})"])) == speed
            assert row[f"Round {number} exact time (s)"] == pytest.approx(results.exact_time_s, rel=1e-13)
            assert row[f"Round {number} exact speed ({label})"] == pytest.approx(
                results.exact_speed, rel=1e-13
            )


def test_unfinished_rounds_and_two_versions_of_the_settings_recalculate(soffice: str, tmp_path: Path) -> None:
    classroom = make_class(teams=4)
    challenge = make_challenge(classroom)
    gannet, heron, plover, _skua = classroom.teams.order_by("place")
    play_round(challenge, gannet, 1)
    plan_round(challenge, heron)
    drop_round(challenge, heron, hundredths=(412, 398))
    ChallengeSettings.objects.create(
        class_challenge=challenge,
        version=2,
        unit_system="us",
        values={"places_time": "2", "places_speed": "2", "drop_height": "20"},
    )
    play_round(
        challenge, gannet, 2, radius="7 1/2", line="12", across=("15", "15"), hundredths=(435, 436, 437)
    )
    play_round(challenge, plover, 1, hundredths=(31, 32, 33))
    file = gradebook(challenge)
    worked_out = recalculate(soffice, file, tmp_path)
    assert assert_same_results(file, worked_out) > 50
    rows = table(values_of(worked_out)["Teams"])
    assert rows[1]["Round 1 mean time (s)"] == ""
    assert rows[0]["Round 2 fall speed (ft/s)"] == 4.59
    assert rows[0]["Change, round 1 to 2 (ft/s)"] == 0.89


def test_a_wrong_value_planted_in_the_file_comes_out_right(soffice: str, tmp_path: Path) -> None:
    classroom = make_class(teams=1)
    challenge = make_challenge(classroom)
    play_round(challenge, classroom.teams.get(), hundredths=(412, 398, 405))
    file = gradebook(challenge)
    (place,) = [
        place
        for place, formula in formulas_of(file)["Teams"].items()
        if "ROUND(ROUND((Settings!" in formula and values_of(file)["Teams"][place] == 3.7
    ]
    planted = plant(file, "xl/worksheets/sheet2.xml", place, "99.9")
    assert values_of(planted)["Teams"][place] == 99.9, "it was not planted"
    assert values_of(recalculate(soffice, planted, tmp_path))["Teams"][place] == 3.7


def plant(file: bytes, part: str, place: str, value: str) -> bytes:
    """Return the file with another value beside one formula."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(file)) as old, zipfile.ZipFile(out, "w") as new:
        for item in old.infolist():
            content = old.read(item).decode("utf-8", "surrogateescape")
            if item.filename == part:
                cell = rf'(<c [^>]*r="{place}"[^>]*>.*?<v>)[^<]*(</v>)'
                content, changed = re.subn(cell, rf"\g<1>{value}\g<2>", content, count=1)
                assert changed == 1
            new.writestr(item, content.encode("utf-8", "surrogateescape"))
    return out.getvalue()


def test_striking_a_reading_out_changes_the_figures(soffice: str, tmp_path: Path) -> None:
    """A teacher writes no beside a reading, and lets the round wait for two drops: the formulas are alive."""
    from openpyxl import load_workbook

    classroom = make_class(teams=1)
    challenge = make_challenge(classroom)
    play_round(challenge, classroom.teams.get(), hundredths=(412, 398, 999))
    book = load_workbook(io.BytesIO(gradebook(challenge)))
    trials, teams = book["Trials"], book["Teams"]
    trials["H4"] = "no"
    needed = next(cell for cell in teams[1] if "needed" in str(cell.value))
    teams[f"{needed.column_letter}2"] = 2
    out = io.BytesIO()
    book.save(out)
    worked_out = values_of(recalculate(soffice, out.getvalue(), tmp_path))
    row = table(worked_out["Teams"])[0]
    # 4.1 and 4.0 make 8.1; half is 4.05, a tie: 4.1; 15 ÷ 4.1 is 3.65…
    assert (row["Round 1 mean time (s)"], row["Round 1 fall speed (ft/s)"]) == (4.1, 3.7)
    assert table(worked_out["Students"])[0]["Round 1 fall speed (ft/s)"] == 3.7


def ties() -> Iterator[tuple[str, Fraction, int]]:
    """Yield (formula's number, the same exactly, places): means and speeds that lie half way."""
    for places in (1, 2):
        for count in (2, 4, 6, 8, 10):
            for total in range(30 * count // 2, 600 * count, 3):
                if (2 * total) % (2 * count) == count:
                    number = f"{Decimal(total).scaleb(-places)}/{count}"
                    yield number, Fraction(total, count * 10**places), places
    for height in ("15", "4.5", "12", "10", "4.57", "6.125"):
        for tenths in range(3, 400):
            exact = Fraction(height) / Fraction(tenths, 10)
            for places in (0, 1, 2):
                if (exact * 10**places * 2).denominator == 1 and (exact * 10**places).denominator == 2:
                    yield f"{height}/{Decimal(tenths).scaleb(-1)}", exact, places


def test_every_tie_goes_up_in_a_spreadsheet_too(soffice: str, tmp_path: Path) -> None:
    cases = list(ties())
    workbook, out = Workbook(), io.BytesIO()
    sheet = workbook.active
    for row, (number, _exact, places) in enumerate(cases, start=1):
        sheet.cell(row, 1).value = f"={formulas.half_up(number, str(places))}"
    workbook.save(out)
    found = values_of(recalculate(soffice, out.getvalue(), tmp_path))["Sheet"]
    wrong = [
        (number, places, found[f"A{row}"])
        for row, (number, exact, places) in enumerate(cases, start=1)
        if found[f"A{row}"] != float(round_half_up(exact, places))
    ]
    assert len(cases) > 1500
    assert wrong == []


def test_forty_hard_names_come_through_a_spreadsheet_unharmed(soffice: str, tmp_path: Path) -> None:
    classroom: Classroom = make_class(teams=1)
    challenge = make_challenge(classroom)
    for place, name in enumerate([*HARD_NAMES, "_x0041_"], start=10):
        team = Team.objects.create(classroom=classroom, name=name, place=place)
        student = Student.objects.create(classroom=classroom, given_name=name)
        TeamMember.objects.create(student=student, team=team)
    play_round(challenge, Team.objects.get(name="=1+1"))
    play_round(challenge, Team.objects.get(name="*"), hundredths=(300, 300, 300))
    rubrics.start_usual(challenge, 5, None)
    file = gradebook(challenge)
    worked_out = recalculate(soffice, file, tmp_path)
    assert_same_results(file, worked_out)
    for sheet in ("Marks", "Evidence"):
        children = [row["Student"] for row in table(values_of(worked_out)[sheet])]
        assert children[-41:-1] == [clean_text(name) for name in HARD_NAMES], sheet
    rows = table(values_of(worked_out)["Teams"])
    assert [row["Team"] for row in rows[1:41]] == [clean_text(name) for name in HARD_NAMES]
    speeds = {
        row["Team"]: row["Round 1 fall speed (ft/s)"] for row in rows if row["Round 1 fall speed (ft/s)"]
    }
    assert speeds == {"=1+1": 3.7, "*": 5}, "a name was taken for a pattern or a formula"
    assert not any("1+1" in formula for formula in formulas_of(worked_out)["Teams"].values())


def test_two_hundred_children_open_and_recalculate(
    soffice: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _classroom, challenge = crowded_class(50, children=4)
    started = time.perf_counter()
    file = gradebook(challenge)
    made = time.perf_counter()
    worked_out = recalculate(soffice, file, tmp_path)
    ended = time.perf_counter()
    count = assert_same_results(file, worked_out)
    with capsys.disabled():
        print(
            f"\n200 children: {len(file) / 1024:.0f} KiB made in {made - started:.2f} s, "
            f"{count} formulas recalculated by LibreOffice in {ended - made:.2f} s"
        )
    assert count > 2000


def mark_class(teams: int, children: int, seed: int = 4) -> ClassChallenge:
    """Make a class of which every team and some children are marked, some excused, some not at all."""
    random = Random(seed)
    _classroom, challenge = crowded_class(teams, children=children)
    teacher = teacher_of(challenge.classroom)
    drafts = [
        Draft(**{**draft.__dict__, "weight": random.randint(1, 5) if draft.weight else 0})
        for draft in usual_rubric(5)
    ]
    rubrics.save_version(challenge, "Weighted", 5, drafts, teacher)
    keys = [draft.key for draft in drafts if draft.weight]
    wanted = {}
    for place, team in enumerate(challenge.classroom.teams.all()):
        if place == 1:
            continue  # a team that nobody has marked yet
        for key in keys:
            wanted[f"t{team.pk}__{key}"] = random.choice(["", "x", *"12341234"])
        child = team.members.first().student_id
        wanted[f"s{child}__{random.choice(keys)}"] = random.choice([*"1234", "x"])
    give(challenge, teacher, **wanted)
    return challenge


def test_totals_and_class_means_of_marks_recalculate_to_the_servers_figures(
    soffice: str, tmp_path: Path
) -> None:
    challenge = mark_class(12, 3)
    file = gradebook(challenge)
    worked_out = recalculate(soffice, file, tmp_path)
    assert_same_results(file, worked_out)
    assert len(formulas_of(file)["Marks"]) == 36 * 3 + 2 * 6 + 1
    marks = marks_of(challenge)
    rows = table(values_of(worked_out)["Marks"])
    weights = {criterion.short: criterion.weight for criterion in marks.graded}
    totals = []
    for row, child in zip(rows[2:], marks.children, strict=True):
        levels = {short: row[short] for short in weights}
        numbers = {short: int(level) for short, level in levels.items() if level not in ("", "x")}
        points = sum(weights[short] * level for short, level in numbers.items())
        of = sum(4 * weights[short] for short in numbers)
        # The whole once more from what stands in the sheet, by the test's own arithmetic.
        total = half_up(Fraction(100 * points, of), 1) if of else None
        assert row["Student"] == str(child.student)
        assert (Decimal(str(row["Total (%)"])) if of else row["Total (%)"]) == (total if of else "")
        assert row["Out of"] == of
        assert marks.total(child).percent == total
        totals += [] if total is None else [Fraction(total)]
    assert Decimal(str(rows[1]["Total (%)"])) == half_up(sum(totals) / len(totals), 1)
    for short in weights:
        numbers_given = [int(row[short]) for row in rows[2:] if row[short] not in ("", "x")]
        mean = half_up(Fraction(sum(numbers_given), len(numbers_given)), 2)
        assert Decimal(str(rows[1][short])) == mean, short


def test_a_level_or_a_weight_typed_in_the_spreadsheet_changes_the_totals(
    soffice: str, tmp_path: Path
) -> None:
    from openpyxl import load_workbook

    classroom, challenge = crowded_class(1, children=2)
    rubrics.start_usual(challenge, 5, None)
    team = classroom.teams.get()
    give(challenge, teacher_of(classroom), **{f"t{team.pk}__limits": "2", f"t{team.pk}__ideas": "4"})
    book = load_workbook(io.BytesIO(gradebook(challenge)))
    book["Rubric"]["C2"] = 3
    book["Marks"]["D4"] = "x"
    book["Marks"]["E4"] = 3
    out = io.BytesIO()
    book.save(out)
    rows = table(values_of(recalculate(soffice, out.getvalue(), tmp_path))["Marks"])
    # 3 × 2 + 1 × 3 of 3 × 4 + 1 × 4; the other child 3 × 2 + 1 × 4 of the same
    assert [(row["Points"], row["Total (%)"]) for row in rows[2:]] == [(9, 56.3), (10, 62.5)]
    # 56.3 and 62.5 make 59.4
    assert rows[1]["Total (%)"] == 59.4


def test_a_comment_or_a_team_that_begins_like_a_formula_stays_a_text(soffice: str, tmp_path: Path) -> None:
    classroom, challenge = crowded_class(1, children=1)
    teacher = teacher_of(classroom)
    drafts = [*usual_rubric(5)]
    drafts[0] = Draft(
        **{**drafts[0].__dict__, "short": "=1+1", "title": "+2", "levels": ("-1", "@b", "=3", "d")}
    )
    rubrics.save_version(challenge, "Odd", 5, drafts, teacher)
    marks = marks_of(challenge)
    student = marks.children[0].student
    giving.remark(marks, ("s", student.pk), True, "=1+1", teacher, uuid.uuid4())
    file = gradebook(challenge)
    worked_out = recalculate(soffice, file, tmp_path)
    assert_same_results(file, worked_out)
    row = table(values_of(worked_out)["Marks"])[2]
    assert (row["Comment"], row["Late"]) == ("=1+1", "yes")
    assert "=1+1" in row
    rubric = table(values_of(worked_out)["Rubric"])[0]
    assert [rubric[f"Level {level}"] for level in range(1, 5)] == ["-1", "@b", "=3", "d"]


def test_the_sheets_of_marks_print_as_wide_as_their_paper_with_their_heads_on_every_page(
    soffice: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    challenge = mark_class(50, 4)
    play_round(challenge, challenge.classroom.teams.create(name="Last", place=99))
    source = tmp_path / "book.xlsx"
    source.write_bytes(gradebook(challenge))
    command = [soffice, "--headless", f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}"]
    command += ["--convert-to", "pdf", "--outdir", str(tmp_path), str(source)]
    subprocess.run(command, check=True, capture_output=True, timeout=300)
    pages = [page.extract_text() for page in PdfReader(tmp_path / "book.pdf").pages]
    last = {"Rubric": "Note", "Marks": "Comment", "Evidence": "Explaining"}
    counts = {}
    for sheet, heading in last.items():
        own = [text for text in pages if re.search(rf"{sheet} \d+ / {len(pages)}|{sheet}\s", text[:200])]
        counts[sheet] = len(own)
        assert own, sheet
        for text in own:
            # Its first and its last column on one page: nothing goes on beside it.
            assert heading in text, (sheet, text[:200])
            assert ("Criterion" if sheet == "Rubric" else "Student") in text
    with capsys.disabled():
        print(f"\n200 children on paper, pages a sheet: {counts}")
    assert counts["Rubric"] == 1
    assert 4 <= counts["Marks"] <= 8

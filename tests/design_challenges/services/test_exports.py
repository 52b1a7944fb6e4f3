"""The CSV files: their columns, what is in them, and the command that writes them."""

from __future__ import annotations

import csv
import io
import os
import subprocess
import sys
from datetime import UTC, datetime
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command

from classroom.models import Classroom, Installation, Lesson, Student, Team, TeamMember
from classroom.rosters.delimited import unguarded
from classroom.school_time import forget_zone
from design_challenges.models import ClassChallenge, Drop, Reading
from design_challenges.services import saving
from design_challenges.services.exports import (
    COLUMNS,
    class_files,
    clean_text,
    csv_text,
    load_export,
    plain_digits,
    write_files,
    written,
)
from tests.builders import (
    build_round,
    clear_round,
    drop_round,
    enter,
    make_challenge,
    make_class,
    plan_round,
    play_round,
    record_of,
)
from tests.support.hard_names import HARD_NAMES
from tests.support.workbooks import values_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def classroom() -> Classroom:
    return make_class(teams=2)


@pytest.fixture
def challenge(classroom: Classroom) -> ClassChallenge:
    return make_challenge(classroom)


def read(challenge: ClassChallenge, name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(csv_text(load_export(challenge), name), newline="")))


def first_team(classroom: Classroom) -> Team:
    return classroom.teams.order_by("place")[0]


def test_the_header_rows_are_as_promised(challenge: ClassChallenge) -> None:
    klass = load_export(challenge)
    assert {name: csv_text(klass, name).splitlines()[0] for name in COLUMNS} == {
        "teams": "team,students",
        "measurements": "team,round,quantity,planned,measured,unit",
        "trials": "team,round,trial,fall_time_s,rounded_s,counts,reason",
        "results": "team,round,canopy_diameter,line_length,material_used,mean_time_s,fall_speed,"
        "fall_speed_exact,speed_unit,length_unit",
    }


def test_a_team_comes_with_its_children(classroom: Classroom, challenge: ClassChallenge) -> None:
    assert read(challenge, "teams")[0] == {"team": "Gannet", "students": "Ana A.; Bo A.; Cem A."}


def test_measurements_give_the_plan_the_mean_and_each_spot(
    classroom: Classroom, challenge: ClassChallenge
) -> None:
    play_round(
        challenge,
        first_team(classroom),
        radius="6 1/2",
        line="13",
        across=("13 1/4", "12 3/4"),
        lines=("13", "13", "13 1/4", "12 1/2"),
    )
    rows = [
        (row["quantity"], row["planned"], row["measured"], row["unit"])
        for row in read(challenge, "measurements")
    ]
    assert rows == [
        ("canopy_radius", "6.5", "", "in"),
        ("canopy_diameter", "13", "13", "in"),
        ("canopy_diameter_1", "13", "13.25", "in"),
        ("canopy_diameter_2", "13", "12.75", "in"),
        ("line_length", "13", "12.9375", "in"),
        ("line_length_1", "13", "13", "in"),
        ("line_length_2", "13", "13", "in"),
        ("line_length_3", "13", "13.25", "in"),
        ("line_length_4", "13", "12.5", "in"),
    ]


def test_a_finished_round_has_its_figures_rounded_and_exact(
    classroom: Classroom, challenge: ClassChallenge
) -> None:
    play_round(challenge, first_team(classroom), hundredths=(412, 398, 405))
    row = read(challenge, "results")[0]
    # 4.1, 4.0 and 4.1 make 12.2; a third is 4.06…, so 4.1; 15 ÷ 4.1 is 3.65…, so 3.7.
    assert (row["mean_time_s"], row["fall_speed"]) == ("4.1", "3.7")
    assert float(row["fall_speed_exact"]) == pytest.approx(15 / ((4.12 + 3.98 + 4.05) / 3), rel=1e-15)
    assert (row["speed_unit"], row["length_unit"]) == ("ft/s", "in")
    # 154 squares and 4 lines of 13 at 3 points
    assert (row["canopy_diameter"], row["line_length"], row["material_used"]) == ("14", "13", "310")


def test_what_is_unknown_is_empty(classroom: Classroom, challenge: ClassChallenge) -> None:
    team = first_team(classroom)
    saving.start_round(challenge, team, 1)
    row = read(challenge, "results")[0]
    assert [row[name] for name in COLUMNS["results"][2:8]] == [""] * 6
    assert read(challenge, "measurements") == []
    plan_round(challenge, team)
    build_round(challenge, team)
    drop_round(challenge, team, hundredths=(412, 398))
    row = read(challenge, "results")[0]
    assert (row["mean_time_s"], row["fall_speed"], row["fall_speed_exact"]) == ("", "", "")


def test_every_drop_is_there_also_those_that_do_not_count(
    classroom: Classroom, challenge: ClassChallenge
) -> None:
    team = first_team(classroom)
    plan_round(challenge, team)
    clear_round(challenge, team)
    build_round(challenge, team)
    iteration = record_of(challenge, team).iteration
    enter(challenge, lambda author: saving.save_reading(iteration, 1, 345, author))
    enter(challenge, lambda author: saving.void_drop(iteration, 2, "hit", author))
    enter(challenge, lambda author: saving.save_reading(iteration, 2, 391, author, mark="tangled"))
    enter(challenge, lambda author: saving.save_reading(iteration, 3, 319, author))
    enter(
        challenge,
        lambda author: saving.correct_reading(Drop.objects.get(trial=3), 391, "digits swapped", author),
    )
    rows = [tuple(row.values())[2:] for row in read(challenge, "trials")]
    assert rows == [
        ("1", "3.45", "3.5", "yes", ""),
        ("2", "", "", "no", "hit a wall or a person"),
        ("2", "3.91", "3.9", "yes", "tangled"),
        ("3", "3.19", "3.2", "no", "corrected by the teacher: digits swapped"),
        ("3", "3.91", "3.9", "yes", ""),
    ]


def test_a_reading_set_aside_and_one_not_placed_are_there_too(
    classroom: Classroom, challenge: ClassChallenge
) -> None:
    team = first_team(classroom)
    plan_round(challenge, team)
    iteration = record_of(challenge, team).iteration
    enter(challenge, lambda author: saving.save_reading(iteration, 1, 400, author, seen=0))
    enter(challenge, lambda author: saving.save_reading(iteration, 1, 401, author, seen=0))
    Reading.objects.create(class_challenge=challenge, hundredths=377)
    rows = [tuple(row.values()) for row in read(challenge, "trials")]
    assert rows == [
        ("Gannet", "1", "1", "4.00", "4.0", "yes", ""),
        ("Gannet", "1", "1", "4.01", "4.0", "no", "another tablet saved first"),
        ("", "", "", "3.77", "3.8", "no", "not placed yet"),
    ]


def test_a_merged_team_keeps_its_round(classroom: Classroom, challenge: ClassChallenge) -> None:
    from django.utils import timezone

    gone, stays = classroom.teams.order_by("place")
    play_round(challenge, gone)
    Team.objects.filter(pk=gone.pk).update(retired_at=timezone.now(), merged_into=stays)
    assert [row["team"] for row in read(challenge, "results")] == ["Gannet"]
    assert [row["team"] for row in read(challenge, "teams")] == ["Gannet", "Heron"]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("=1+1", "'=1+1"),
        ("+44", "'+44"),
        ("-x", "'-x"),
        ("@home", "'@home"),
        ("\t=1", "'\t=1"),
        (" =1", "' =1"),
        ("\n=1", "'\n=1"),
        ("＝1", "'＝1"),
        ("Sea=Glass", "Sea=Glass"),
        ("a-b", "a-b"),
        ("", ""),
        ("Bell\x07\x00", "Bell"),
    ],
)
def test_a_text_that_would_be_a_formula_stands_behind_an_apostrophe(text: str, expected: str) -> None:
    assert written(text) == expected


@pytest.mark.parametrize(
    ("cell", "expected"),
    [
        (None, ""),
        (3, "3"),
        (Decimal("4.60"), "4.60"),
        (Decimal("3E+2"), "300"),
        (0.1, "0.1"),
        (Fraction(27, 2), "13.5"),
        (Fraction(1, 3), "0.333333"),
        (Fraction(1, 8), "0.125"),
        (Fraction(257, 16), "16.0625"),
    ],
)
def test_numbers_are_written_in_plain_digits(cell: Any, expected: str) -> None:
    assert written(cell) == expected


def test_plain_digits_round_half_up_where_they_do_not_end() -> None:
    assert plain_digits(Fraction(1, 2 * 10**6)) == "0.000001"
    assert plain_digits(Fraction(5, 128)) == "0.039063"


def test_forty_hard_names_come_back_from_the_csv(classroom: Classroom, challenge: ClassChallenge) -> None:
    for place, name in enumerate(HARD_NAMES, start=10):
        team = Team.objects.create(classroom=classroom, name=name, place=place)
        student = Student.objects.create(classroom=classroom, given_name=name)
        TeamMember.objects.create(student=student, team=team)
    rows = read(challenge, "teams")[2:]
    assert len(rows) == 40
    for row, name in zip(rows, HARD_NAMES, strict=True):
        assert unguarded(row["team"]) == clean_text(name)
        assert row["students"] == row["team"]
        assert row["team"].lstrip()[0] not in "=+-@＝"


# --- writing them ------------------------------------------------------------------------------------------


ALL = ["gradebook.xlsx", "measurements.csv", "results.csv", "teams.csv", "trials.csv"]


def test_the_command_makes_the_folder_and_writes_five_files(
    classroom: Classroom, challenge: ClassChallenge, tmp_path: Path
) -> None:
    folder = tmp_path / "not" / "yet"
    out = io.StringIO()
    call_command("export", classroom.code.lower(), "--to", str(folder), stdout=out)
    assert sorted(path.name for path in folder.iterdir()) == ALL
    assert out.getvalue().split() == [str(folder / f"{name}.csv") for name in COLUMNS] + [
        str(folder / "gradebook.xlsx")
    ]
    assert (folder / "teams.csv").read_bytes().startswith(b"team,students\r\n")


def test_a_lesson_has_the_day_of_the_schools_own_clock(
    classroom: Classroom, challenge: ClassChallenge, tmp_path: Path
) -> None:
    Installation.objects.update_or_create(pk=1, defaults={"time_zone": "Pacific/Auckland"})
    forget_zone()
    late = datetime(2026, 3, 2, 21, 0, tzinfo=UTC)
    Lesson.objects.create(classroom=classroom, number=1, started_at=late)
    try:
        call_command("export", classroom.code, "--to", str(tmp_path), stdout=io.StringIO())
    finally:
        forget_zone()
    heads = values_of((tmp_path / "gradebook.xlsx").read_bytes())["Students"].values()
    assert "Lesson 1\n2026-03-03" in heads


def test_the_command_names_the_codes_there_are_when_one_is_unknown(
    classroom: Classroom, tmp_path: Path
) -> None:
    with pytest.raises(CommandError) as error:
        call_command("export", "NOPE", "--to", str(tmp_path / "out"))
    assert "No class here has the code NOPE." in str(error.value)
    assert classroom.code in str(error.value)
    assert not (tmp_path / "out").exists()


def test_a_class_without_a_challenge_is_told_so(classroom: Classroom, tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="no challenge yet"):
        call_command("export", classroom.code, "--to", str(tmp_path))


def test_a_folder_that_cannot_be_made_is_told_of(
    classroom: Classroom, challenge: ClassChallenge, tmp_path: Path
) -> None:
    (tmp_path / "file").write_text("here first")
    with pytest.raises(CommandError, match="Nothing could be written to"):
        call_command("export", classroom.code, "--to", str(tmp_path / "file"))
    assert (tmp_path / "file").read_text() == "here first"


def test_old_files_are_replaced_whole_and_no_draft_stays_behind(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text("old")
    write_files({"a.csv": b"new", "b.csv": b"also"}, tmp_path)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == {
        "a.csv": b"new",
        "b.csv": b"also",
    }


def test_a_failed_write_leaves_no_draft(tmp_path: Path) -> None:
    (tmp_path / "a.csv").mkdir()
    with pytest.raises(OSError, match="directory"):
        write_files({"a.csv": b"new"}, tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["a.csv"]


def test_the_files_are_utf_8(classroom: Classroom, challenge: ClassChallenge) -> None:
    Team.objects.filter(pk=first_team(classroom).pk).update(name="Šárka 🦊")
    assert "Šárka 🦊" in class_files(classroom)["teams.csv"].decode("utf-8")


def test_the_real_command_ends_with_an_exit_code(tmp_path: Path) -> None:
    """Run as a teacher's helper runs it: another process, a database of its own."""
    environ = {
        **os.environ,
        "SECOND_BUILD_DATA": str(tmp_path / "data"),
        "DJANGO_SETTINGS_MODULE": "classroom.settings",
    }
    manage = [sys.executable, str(settings.BASE_DIR / "manage.py")]
    subprocess.run([*manage, "migrate", "-v0"], env=environ, check=True)
    command = [*manage, "export", "ABCDE", "--to", str(tmp_path / "out")]
    ended = subprocess.run(command, env=environ, capture_output=True, text=True, check=False)
    assert ended.returncode == 1
    assert "There is no class yet." in ended.stderr
    assert "Traceback" not in ended.stderr

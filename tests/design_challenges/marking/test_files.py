"""Marks as files: the gradebook's sheets, the table of chosen columns, and results under the roster's ids."""

from __future__ import annotations

import csv
import datetime
import io
import re
import zipfile
from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse
from openpyxl import load_workbook

from classroom.models import Classroom, RosterSource, Student, TeamMember
from classroom.rosters.source import open_roster
from classroom.rosters.table import Table
from design_challenges.models import ClassChallenge, MarkColumns
from design_challenges.services.exports import clean_text, load_export
from design_challenges.services.gradebook import gradebook_bytes
from design_challenges.services.mark_columns import columns_of, marks_csv
from design_challenges.services.marking import rubrics
from tests.builders import make_class, teacher_client
from tests.support.hard_names import HARD_NAMES
from tests.support.marked_classes import (
    give,
    make_marked_class,
    marks_of,
    play_well,
    teacher_of,
)
from tests.support.workbooks import crowded_class, table, values_of
from tests.support.yardstick import in_yards


@pytest.fixture
def challenge(db: None) -> ClassChallenge:
    return make_marked_class(2)


@pytest.fixture
def classroom(challenge: ClassChallenge) -> Classroom:
    return challenge.classroom


@pytest.fixture
def team(classroom):
    return classroom.teams.get(place=1)


@pytest.fixture
def client(classroom):
    return teacher_client(classroom)


def gradebook(challenge: ClassChallenge) -> bytes:
    return gradebook_bytes(load_export(challenge))


def give_all(challenge: ClassChallenge, team: Any, levels: str) -> None:
    keys = ("limits", "ideas", "fair_test", "measuring", "decimals", "explaining")
    marks = {f"t{team.pk}__{key}": level for key, level in zip(keys, levels, strict=True) if level != "-"}
    give(challenge, teacher_of(challenge.classroom), **marks)


# --- the gradebook -----------------------------------------------------------------------------------


def test_without_a_rubric_the_gradebook_has_places_for_marks_and_no_sheets_of_them(db) -> None:
    classroom, challenge = crowded_class(1)
    book = load_workbook(io.BytesIO(gradebook(challenge)))
    assert book.sheetnames == ["Students", "Teams", "Trials", "Settings"]
    assert "Mark:\nplanning" in [cell.value for cell in book["Students"][1]]
    rubrics.start_usual(challenge, 5, teacher_of(classroom))
    book = load_workbook(io.BytesIO(gradebook(challenge)))
    assert book.sheetnames[4:] == ["Rubric", "Marks", "Evidence"]
    assert not any("Mark:" in str(cell.value) for cell in book["Students"][1])
    assert "Teacher's note" in [cell.value for cell in book["Students"][1]]


def test_levels_totals_and_class_means_stand_in_the_gradebook(challenge, classroom, team) -> None:
    give_all(challenge, team, "43x21-")
    student = team.members.get(student__given_name="Ana").student
    give(challenge, teacher_of(classroom), **{f"s{student.pk}__limits": "1"})
    file = gradebook(challenge)
    rows = table(values_of(file)["Marks"])
    weight, mean, ana, bo = rows[:4]
    assert weight["Student"] == "Weight"
    assert weight["Fair test"] == 1
    assert [ana[key] for key in ("Limits", "Two ideas", "Fair test", "Measuring", "Decimals")] == [
        1,
        3,
        "x",
        2,
        1,
    ]
    assert (bo["Points"], bo["Out of"], bo["Total (%)"]) == (10, 16, 62.5)
    assert (ana["Points"], ana["Out of"], ana["Total (%)"]) == (7, 16, 43.8)
    # 1, 4 and 4; 43.8, 62.5 and 62.5
    assert (mean["Limits"], mean["Total (%)"]) == (3, 56.3)
    assert mean["Explaining"] == ""
    assert rows[5]["Total (%)"] == ""
    rubric = table(values_of(file)["Rubric"])
    assert rubric[0]["Standards"] == "3-5-ETS1-1"
    assert [row["Note"] for row in rubric if row["Standards"] == "7.G.B.4"] == [
        "beyond the grade: shown, not graded"
    ]


def test_levels_are_chosen_from_a_list_and_coloured_and_the_sheet_fits_its_paper(challenge, team) -> None:
    give_all(challenge, team, "432143")
    sheet = load_workbook(io.BytesIO(gradebook(challenge)))["Marks"]
    (validation,) = sheet.data_validations.dataValidation
    assert validation.formula1 == '"1,2,3,4,x"'
    assert str(validation.sqref) == "C4:H9"
    assert validation.showErrorMessage
    rules = [rule for formats in sheet.conditional_formatting for rule in formats.rules]
    assert sorted(rule.formula[0] for rule in rules) == ['"x"', "1", "2", "3", "4"]
    assert sheet.page_setup.fitToWidth == 1
    assert sheet.page_setup.orientation == "landscape"
    assert sheet.print_title_rows == "$1:$3"
    assert sheet.freeze_panes == "C4"


def test_each_childs_evidence_is_one_line(challenge, classroom, team) -> None:
    play_well(challenge, team)
    rows = table(values_of(gradebook(challenge))["Evidence"])
    assert len(rows) == classroom.students.count()
    ana = rows[0]
    assert "We may not use more than 375 points." in ana["Limits"]
    assert "Changed: Canopy radius" in ana["Fair test"]
    assert "Ours took longer than before." in ana["Explaining"]
    assert ana["Limits"].count("Round 1:") == 1


def test_two_hundred_children_with_marks_are_made_in_a_moment(db, capsys) -> None:
    _classroom, challenge = crowded_class(50, children=4)
    rubrics.start_usual(challenge, 5, None)
    for team in challenge.classroom.teams.all():
        give_all(challenge, team, "432143")
    took, file = in_yards(lambda: gradebook(challenge))
    with capsys.disabled():
        print(f"\n200 children with marks and evidence: {len(file) / 1024:.0f} KiB in {took:.0f} yards")
    assert len(table(values_of(file)["Marks"])) == 202
    assert took < 50


# --- a table for any gradebook -----------------------------------------------------------------------


def url(classroom: Classroom, name: str, *args: str) -> str:
    return reverse(f"design_challenges:{name}", args=[classroom.code, *args])


def read_csv(text: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text, newline="")))


def test_the_usual_table_has_a_column_a_criterion_and_one_total(challenge, classroom, team, client) -> None:
    give_all(challenge, team, "43x21-")
    rows = read_csv(client.get(url(classroom, "marks_csv")).text)
    assert rows[0][0] == "Student"
    assert rows[0][-1] == "Total (%)"
    assert len(rows[0]) == 8
    assert rows[1] == ["Ana A.", "4", "3", "excused", "2", "1", "", "62.5"]
    assert rows[4][1:] == [""] * 7


def test_the_columns_that_were_chosen_are_remembered_for_this_class_and_the_next(
    challenge, classroom, client
) -> None:
    page = client.get(url(classroom, "mark_files"))
    assert re.search(r'value="student"[^>]*checked', page.text)
    chosen = ["first_name", "initial", "criterion:limits", "late", "comment"]
    answer = client.post(url(classroom, "mark_files"), {"columns": chosen})
    assert answer.headers["Location"] == url(classroom, "marks_csv")
    heads = read_csv(client.get(url(classroom, "marks_csv")).text)[0]
    assert heads == [
        "First name",
        "Initial",
        "Says what it must do and within what limits",
        "Late",
        "Comment",
    ]
    page = client.get(url(classroom, "mark_files")).text
    assert re.search(r'value="comment"[^>]*checked', page)
    assert not re.search(r'value="total"[^>]*checked', page)
    other = make_marked_class(1).classroom
    other.memberships.create(user=teacher_of(classroom))
    assert re.search(r'value="comment"[^>]*checked', client.get(url(other, "mark_files")).text)
    assert MarkColumns.objects.count() == 1


def test_no_column_and_an_unknown_column_are_refused(challenge, classroom, client) -> None:
    for sent, said in (({}, "Tick at least one column."), ({"columns": ["shoe size"]}, "shoe size")):
        answer = client.post(url(classroom, "mark_files"), sent)
        assert answer.status_code == 422
        assert said in answer.text
    assert MarkColumns.objects.count() == 0


def test_forty_hard_names_come_back_whole_through_the_table_and_our_own_import(challenge, classroom) -> None:
    team = classroom.teams.first()
    for number, name in enumerate(HARD_NAMES):
        student = Student.objects.create(classroom=classroom, given_name=name, source_id=f"=id-{number}")
        TeamMember.objects.create(student=student, team=team)
    text = marks_csv(marks_of(challenge), ["first_name", "id", "total"])
    for line in text.splitlines():
        assert not line.lstrip('"').startswith(("=", "+", "-", "@", "\t=")), line
    found = open_roster(text.encode(), datetime.date(2026, 10, 1))
    assert isinstance(found, Table)
    read = {row.cells[1]: row.cells[0] for row in found.rows if row.cells[1].startswith("=id-")}
    assert len(read) == 40
    for number, name in enumerate(HARD_NAMES):
        assert read[f"=id-{number}"] == clean_text(name), name


def test_every_column_can_be_written(challenge, team) -> None:
    give_all(challenge, team, "4321x-")
    marks = marks_of(challenge)
    rows = read_csv(marks_csv(marks, [column.slug for column in columns_of(marks)]))
    assert all(len(row) == len(rows[0]) == 16 for row in rows)


# --- results -----------------------------------------------------------------------------------------


def test_a_class_of_no_package_is_told_why_it_has_no_results(challenge, classroom, client) -> None:
    page = client.get(url(classroom, "mark_files")).text
    assert "did not come from a OneRoster package" in page
    answer = client.get(url(classroom, "results_file", "1.2"), follow=True)
    assert "did not come from a OneRoster package" in answer.text
    RosterSource.objects.create(classroom=classroom, source_id="class-5b", school_source_id="org-1")
    assert "names no school or no term" in client.get(url(classroom, "mark_files")).text
    assert client.get(url(classroom, "results_file", "1.0")).status_code == 404


def test_children_without_an_id_are_named_and_left_out(challenge, classroom, team, client) -> None:
    RosterSource.objects.create(
        classroom=classroom, source_id="class-5b", school_source_id="org-1", session_source_id="term-1"
    )
    ana = team.members.get(student__given_name="Ana").student
    Student.objects.filter(pk=ana.pk).update(source_id="u-1")
    give_all(challenge, team, "43x21-")
    page = client.get(url(classroom, "mark_files")).text
    assert "5 children are left out" in page
    assert "Bo A." in page
    answer = client.get(url(classroom, "results_file", "1.2"))
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        rows = list(csv.DictReader(io.StringIO(archive.read("results.csv").decode(), newline="")))
    assert {row["studentSourcedId"] for row in rows} == {"u-1"}
    assert [row["scoreStatus"] for row in rows] == [
        "fully graded",
        "fully graded",
        "exempt",
        "fully graded",
        "fully graded",
        "partially graded",
    ]
    assert Decimal(rows[-1]["score"]) == Decimal("62.5")


def test_files_of_marks_wait_for_a_rubric(db) -> None:
    from tests.builders import make_challenge

    classroom = make_class(1)
    make_challenge(classroom)
    client = teacher_client(classroom)
    for name in ("mark_files", "marks_csv"):
        assert client.get(url(classroom, name)).headers["Location"] == url(classroom, "marking")

"""The results package held against OneRoster's own tables by a reader that shares no code with the writer.

Source: 1EdTech Consortium (IMS Global), an open standard:
- OneRoster CSV Tables, Final Release 1.1 (17 April 2017) and 1.1.1 (22 August 2023),
  https://www.imsglobal.org/oneroster-v11-final-csv-tables
- OneRoster CSV Binding, Final Release 1.2.1 (22 August 2023),
  https://www.imsglobal.org/spec/oneroster/v1p2/bind/csv

Of both only the opening pages (title, version, date) could be opened here. The tables below were written
*from memory* of the standard. Names, order and which version has what were then compared with public
transcriptions of the tables (1.1 headers of lineItems and enrollments, 1.1 manifest rows, 1.2 fields with
required and optional, 1.2 manifest rows), which agree. From memory alone: 1.1's results ends in `comment`
and asks for all of its columns but that one and `score`; in bulk `status` and `dateLastModified` are empty;
numbers are written with a decimal point and dates as ISO 8601. The standard's sample values were not seen.
"""

from __future__ import annotations

import datetime
import io
import re
import uuid
import zipfile
from dataclasses import replace
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from hypothesis import given
from hypothesis import strategies as st

from classroom.models import TeamMember
from classroom.rosters.oneroster import Package
from classroom.rosters.oneroster_results import (
    Category,
    LineItem,
    Result,
    Results,
    ScoreStatus,
    lasting_id,
    write_results,
)
from classroom.rosters.source import open_roster
from design_challenges.services.marking import rubrics
from tests.builders import make_challenge, make_class, teacher_client
from tests.support.hard_names import HARD_NAMES
from tests.support.marked_classes import teacher_of
from tests.support.oneroster import small_school

# Column, kind, required (R) or optional (O). Kinds: id, text, date, float, whole, truth, or an enumeration.
SCORE_STATUS = "exempt|fully graded|not submitted|partially graded|submitted"
BASE = "sourcedId id R; status empty O; dateLastModified empty O; "
TABLES = {
    "1.1": {
        "categories.csv": BASE + "title text R",
        "lineItems.csv": BASE
        + "title text R; description text O; assignDate date R; dueDate date R; classSourcedId ref:class R; "
        "categorySourcedId ref:categories.csv R; gradingPeriodSourcedId ref:session R; "
        "resultValueMin float R; resultValueMax float R",
        "results.csv": BASE
        + "lineItemSourcedId ref:lineItems.csv R; studentSourcedId ref:student R; scoreStatus status R; "
        "score float O; scoreDate date R; comment text O",
    },
    "1.2": {
        "categories.csv": BASE + "title text R; weight whole O",
        "lineItems.csv": BASE
        + "title text R; description text O; assignDate date R; dueDate date R; classSourcedId ref:class R; "
        "categorySourcedId ref:categories.csv R; academicSessionSourcedId ref:session R; "
        "resultValueMin float O; resultValueMax float O; schoolSourcedId ref:school R",
        "results.csv": BASE
        + "lineItemSourcedId ref:lineItems.csv R; studentSourcedId ref:student R; scoreStatus status R; "
        "score float O; scoreDate date R; comment text O; textScore text O; classSourcedId ref:class O; "
        "inProgress truth O; incomplete truth O; late truth O; missing truth O",
    },
}
MANIFEST_1_1 = [
    "manifest.version",
    "oneroster.version",
    "file.academicSessions",
    "file.categories",
    "file.classes",
    "file.classResources",
    "file.courses",
    "file.courseResources",
    "file.demographics",
    "file.enrollments",
    "file.lineItems",
    "file.orgs",
    "file.resources",
    "file.results",
    "file.users",
    "source.systemName",
    "source.systemCode",
]
NEW_IN_1_2 = [
    "file.lineItemLearningObjectiveIds",
    "file.lineItemScoreScales",
    "file.resultLearningObjectiveIds",
    "file.resultScoreScales",
    "file.roles",
    "file.scoreScales",
    "file.userProfiles",
    "file.userResources",
]
KINDS = {
    "empty": r"",
    "id": r".{1,255}",
    "text": r"(?s).*",
    "date": r"\d{4}-\d{2}-\d{2}",
    "float": r"-?\d+(\.\d+)?",
    "whole": r"\d+",
    "truth": r"true|false",
    "status": SCORE_STATUS,
}


# --- a reader of its own: RFC 4180 by hand, then the tables above ------------------------------


def parse(data: bytes) -> list[list[str]]:
    """Read RFC 4180 strictly: commas, CRLF, marks doubled inside marks, and nothing else."""
    text = data.decode("utf-8")
    assert not text.startswith("\ufeff")
    rows: list[list[str]] = []
    row: list[str] = []
    place = 0
    while place < len(text):
        if text[place] == '"':
            end = place + 1
            while text[end] != '"' or text[end + 1 : end + 2] == '"':
                end += 2 if text[end] == '"' else 1
            row.append(text[place + 1 : end].replace('""', '"'))
            place = end + 1
        else:
            match = re.compile(r'[^,"\r\n]*').match(text, place)
            assert match is not None
            row.append(match[0])
            place = match.end()
        if text.startswith("\r\n", place):
            rows.append(row)
            row = []
            place += 2
        else:
            assert text[place] == ",", text[place : place + 20]
            place += 1
            if text.startswith("\r\n", place):
                row.append("")
                rows.append(row)
                row = []
                place += 2
    assert row == [], "the last row ends with a line end, too"
    return rows


def accept(data: bytes, version: str, roster: dict[str, set[str]]) -> dict[str, list[dict[str, str]]]:
    """Return the rows of a package, having held every one of them against the standard's tables."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert archive.testzip() is None
        files = {name: archive.read(name) for name in archive.namelist()}
    assert sorted(files) == ["categories.csv", "lineItems.csv", "manifest.csv", "results.csv"]
    head, *stated = parse(files["manifest.csv"])
    assert head == ["propertyName", "value"]
    manifest = dict(stated)
    assert len(manifest) == len(stated)
    wanted = MANIFEST_1_1 + (NEW_IN_1_2 if version == "1.2" else [])
    assert sorted(manifest) == sorted(wanted)
    assert manifest["manifest.version"] == "1.0"
    assert manifest["oneroster.version"] == version
    for name in wanted:
        if name.startswith("file."):
            expected = "bulk" if f"{name[5:]}.csv" in files else "absent"
            assert manifest[name] == expected, name
    found: dict[str, list[dict[str, str]]] = {}
    refs = dict(roster)
    for name, described in TABLES[version].items():
        columns = [column.split(" ") for column in described.split("; ")]
        head, *rows = parse(files[name])
        assert head == [column for column, _kind, _required in columns], name
        found[name] = []
        for cells in rows:
            assert len(cells) == len(head)
            for (column, kind, required), cell in zip(columns, cells, strict=True):
                hold(name, column, kind, required, cell, refs)
            found[name].append(dict(zip(head, cells, strict=True)))
        ids = [row["sourcedId"] for row in found[name]]
        assert len(ids) == len(set(ids))
        refs[name] = set(ids)
    return found


def hold(name: str, column: str, kind: str, required: str, cell: str, refs: dict[str, set[str]]) -> None:
    if not cell:
        assert required == "O", f"{name} {column} is empty"
    elif kind.startswith("ref:"):
        assert cell in refs[kind[4:]], f"{name} {column} refers to {cell}"
    else:
        assert re.fullmatch(KINDS[kind], cell), f"{name} {column}: {cell!r}"


# --- what is written ---------------------------------------------------------------------------

SCHOOL = uuid.UUID(int=5)
DAY = datetime.date(2026, 10, 1)


COLUMNS = [("limits", "Limits, in own words", 4), ("fair", "Fair test", 4), ("all", "Total", 100)]


def roster() -> tuple[Package, dict[str, set[str]]]:
    package = open_roster(small_school().zipped(), DAY)
    assert isinstance(package, Package)
    (group,) = package.find("class-5b")
    return package, {
        "class": {group.source_id},
        "school": {group.school_source_id},
        "session": {group.session_source_id},
        "student": {child.source_id for child in group.children},
    }


def marks(comments: dict[str, str] | None = None) -> Results:
    """Marks of the class that came in: two criteria and a total for each of its children."""
    package, _refs = roster()
    (group,) = package.find("class-5b")
    categories = [Category(lasting_id(SCHOOL, "category"), "Engineering design", 100)]
    items = [
        LineItem(
            lasting_id(SCHOOL, "criterion", name),
            title,
            DAY,
            DAY + datetime.timedelta(days=14),
            group.source_id,
            categories[0].source_id,
            group.session_source_id,
            group.school_source_id,
            Decimal(0),
            Decimal(highest),
            "Levels 1 to 4" if highest == 4 else "",
        )
        for name, title, highest in [
            ("limits", "Limits, in own words", 4),
            ("fair", "Fair test", 4),
            ("all", "Total", 100),
        ]
    ]
    results = [
        Result(
            lasting_id(SCHOOL, item.source_id, child.source_id),
            item.source_id,
            child.source_id,
            ScoreStatus.FULLY_GRADED,
            DAY,
            Decimal("3.5") if item.highest == 4 else Decimal("87.50"),
            (comments or {}).get(child.source_id, ""),
        )
        for item in items
        for child in group.children
    ]
    results[0] = replace(results[0], status=ScoreStatus.EXEMPT, score=None)
    results[1] = replace(results[1], status=ScoreStatus.NOT_SUBMITTED, score=None, missing=True)
    results[2] = replace(results[2], late=True, text_score="3")
    return Results(categories, items, results)


@pytest.mark.parametrize("version", ["1.1", "1.2"])
def test_marks_of_a_roster_that_came_in_go_out_by_the_standards_tables(version) -> None:
    _package, refs = roster()
    found = accept(write_results(marks(), version), version, refs)
    assert [len(found[name]) for name in ("categories.csv", "lineItems.csv", "results.csv")] == [1, 3, 9]
    by_status = [row["scoreStatus"] for row in found["results.csv"][:3]]
    assert by_status == ["exempt", "not submitted", "fully graded"]
    assert [row["score"] for row in found["results.csv"][:3]] == ["", "", "3.5"]
    assert found["results.csv"][-1]["score"] == "87.50"
    assert found["lineItems.csv"][0]["title"] == "Limits, in own words"
    if version == "1.2":
        assert [row["late"] for row in found["results.csv"][:3]] == ["false", "false", "true"]
        assert found["results.csv"][1]["missing"] == "true"
        assert found["categories.csv"][0]["weight"] == "100"


@pytest.mark.parametrize("version", ["1.1", "1.2"])
@pytest.mark.parametrize("comment", HARD_NAMES)
def test_a_comment_loses_no_character(version, comment) -> None:
    _package, refs = roster()
    found = accept(write_results(marks({"u-1": comment}), version), version, refs)
    assert found["results.csv"][0]["comment"] == comment


@given(st.text(st.characters(codec="utf-8"), max_size=60))
def test_whatever_is_written_in_a_comment_comes_back(comment) -> None:
    _package, refs = roster()
    assert accept(write_results(marks({"u-1": comment})), "1.2", refs)["results.csv"][0]["comment"] == comment


def test_the_same_marks_make_the_same_file_and_the_same_ids() -> None:
    assert write_results(marks()) == write_results(marks())
    assert lasting_id(SCHOOL, "a", "b") == lasting_id(SCHOOL, "a", "b")
    assert lasting_id(SCHOOL, "a", "b") != lasting_id(SCHOOL, "a/b")
    assert lasting_id(SCHOOL, "a") != lasting_id(uuid.UUID(int=6), "a")


def test_every_status_of_the_standard_and_no_other_is_known() -> None:
    assert "|".join(ScoreStatus) == SCORE_STATUS


# --- what the standard does not allow ----------------------------------------------------------


def _with_result(**changes) -> Results:
    package = marks()
    return replace(package, results=[*package.results[:-1], replace(package.results[-1], **changes)])


def _with_item(**changes) -> Results:
    package = marks()
    return replace(package, line_items=[*package.line_items[:-1], replace(package.line_items[-1], **changes)])


@pytest.mark.parametrize(
    ("package", "said"),
    [
        (lambda: _with_result(line_item_source_id="nowhere"), "refers to no line item"),
        (lambda: _with_result(source_id=marks().results[0].source_id), "Two results"),
        (lambda: _with_result(source_id=" "), "requires the id"),
        (lambda: _with_result(student_source_id=""), "requires the student"),
        (lambda: _with_result(student_source_id="u-1"), "second of its student"),
        (lambda: _with_result(score=None), "has no score"),
        (lambda: _with_result(score=Decimal("100.01")), "outside its range"),
        (lambda: _with_result(score=Decimal(-1)), "outside its range"),
        (lambda: _with_result(score=Decimal("NaN")), "outside its range"),
        (lambda: _with_item(category_source_id="nowhere"), "refers to no category"),
        (lambda: _with_item(title=""), "requires the title"),
        (lambda: _with_item(class_source_id=""), "requires the class_source_id"),
        (lambda: _with_item(session_source_id=""), "requires the session_source_id"),
        (lambda: _with_item(school_source_id=""), "requires the school_source_id"),
        (lambda: _with_item(due_on=DAY - datetime.timedelta(days=1)), "due before"),
        (lambda: _with_item(lowest=Decimal(100)), "no range"),
        (lambda: replace(marks(), categories=[]), "refers to no category"),
    ],
)
def test_what_the_standard_does_not_allow_is_not_written(package, said) -> None:
    with pytest.raises(ValueError, match=said):
        write_results(package())


def test_a_version_that_is_no_version_is_refused() -> None:
    with pytest.raises(ValueError, match=r"OneRoster 1\.0"):
        write_results(marks(), "1.0")


def test_the_reader_of_this_test_refuses_what_is_wrong() -> None:
    _package, refs = roster()
    data = write_results(marks())
    with pytest.raises(AssertionError):
        accept(data, "1.1", refs)
    with pytest.raises(AssertionError, match="refers to u-1"):
        accept(data, "1.2", {**refs, "student": set()})
    with pytest.raises(AssertionError):
        parse(b"a,b\n1,2\n")


# --- from the roster that came in to the marks that go out ---------------------------------------


def _bring_in(client, classroom, school) -> None:
    """Bring the class 5B of a package in, on the pages: the file, the class, the button."""
    address = f"/classes/{classroom.code}/students/roster/"
    which = client.post(address, {"file": SimpleUploadedFile("school.zip", school.zipped())})
    preview = client.post(f"{address}class/", {"carried": which.context["carried"], "which": "class-5b"})
    client.post(f"{address}add/", {"carried": preview.context["carried"], "change": [], "leave": []})


@pytest.mark.parametrize("school_version", ["1.1", "1.2"])
@pytest.mark.parametrize("version", ["1.1", "1.2"])
def test_a_package_comes_in_marks_are_given_and_results_go_out(db, version, school_version) -> None:
    classroom = make_class(teams=1, children=0, name="5B")
    challenge = make_challenge(classroom)
    client = teacher_client(classroom)
    _bring_in(client, classroom, small_school(school_version))
    team = classroom.teams.get()
    for student in classroom.students.all():
        TeamMember.objects.create(student=student, team=team)
    assert {student.source_id for student in classroom.students.all()} == {"u-1", "u-2", "u-3"}

    rubrics.start_usual(challenge, 5, teacher_of(classroom))
    ana, bo, cem = (classroom.students.get(source_id=f"u-{number}") for number in (1, 2, 3))
    address = f"/classes/{classroom.code}/marks/"
    keys = ("limits", "ideas", "fair-test", "measuring", "decimals", "explaining")
    levels = dict(zip(keys, "432143", strict=True))
    sent = [f"t{team.pk}:{key} {level}" for key, level in levels.items()]
    sent += [f"s{bo.pk}:limits x", f"s{cem.pk}:limits 1"]
    assert client.post(address, {"do": "give", "mark": sent}).status_code == 200
    comment = {"at": f"s{bo.pk}", "late": "on", "comment": 'Late, =but "good"\nand whole'}
    client.post(f"{address}remark/", comment)

    answer = client.get(f"/classes/{classroom.code}/files/oneroster-{version}-results.zip")
    _package, refs = roster()
    found = accept(answer.content, version, refs)
    items = {row["sourcedId"]: row for row in found["lineItems.csv"]}
    assert len(items) == 7
    assert {row["resultValueMax"] for row in items.values()} == {"4", "100"}
    by_place = {
        (items[row["lineItemSourcedId"]]["title"], row["studentSourcedId"]): row
        for row in found["results.csv"]
    }
    assert len(by_place) == len(found["results.csv"]) == 7 * 3
    limits = "Says what it must do and within what limits"
    assert by_place[limits, "u-1"]["score"] == "4"
    assert (by_place[limits, "u-2"]["scoreStatus"], by_place[limits, "u-2"]["score"]) == ("exempt", "")
    assert by_place[limits, "u-3"]["score"] == "1"
    totals = {student: by_place["Total (%)", student] for student in ("u-1", "u-2", "u-3")}
    # 17 and 13 and 14 points of 24, 20 and 24: by hand 70.83, 65 and 58.33 %
    assert [row["score"] for row in totals.values()] == ["70.8", "65.0", "58.3"]
    assert {row["scoreStatus"] for row in totals.values()} == {"fully graded"}
    assert totals["u-2"]["comment"] == comment["comment"]
    if version == "1.2":
        assert [row["late"] for row in totals.values()] == ["false", "true", "false"]
        assert found["lineItems.csv"][0]["schoolSourcedId"] == "org-1"
    again = client.get(f"/classes/{classroom.code}/files/oneroster-{version}-results.zip")
    assert again.content == answer.content, "the same marks are the same package, under the same ids"
    assert ana.source_id == "u-1"

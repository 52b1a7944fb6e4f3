"""OneRoster packages: both versions, class and role, what is left out, what is refused, size."""

from __future__ import annotations

import datetime

import pytest

from classroom.rosters.faults import Fault, RosterError
from classroom.rosters.oneroster import Package
from classroom.rosters.source import open_roster
from tests.support.growth import MANY, hold_in_proportion
from tests.support.oneroster import enrollment, large_school, small_school, user, zipped

TODAY = datetime.date(2026, 10, 1)


def read(data: bytes) -> Package:
    package = open_roster(data, TODAY)
    assert isinstance(package, Package)
    return package


@pytest.mark.parametrize("version", ["1.1", "1.2"])
@pytest.mark.parametrize("folder", ["", "export/"])
def test_the_students_of_a_class_are_read_and_its_ids_with_them(version, folder) -> None:
    package = read(small_school(version).zipped(folder))
    assert package.version == version
    assert package.faults == []
    (group,) = package.find("class-5b")
    assert [(child.name.shown, child.source_id) for child in group.children] == [
        ("Ana P.", "u-1"),
        ("Bo B.", "u-2"),
        ("Cem Ö.", "u-3"),
    ]
    assert (group.title, group.school, group.school_source_id) == ("5B", "Hill School", "org-1")
    assert group.session_source_id == "term-1"
    assert [child.given_name for child in package.find("5a")[0].children] == ["Cem"]
    assert package.find("6C") == []


def test_nothing_but_names_and_ids_is_taken_of_a_user() -> None:
    (group,) = read(small_school().zipped()).find("5B")
    assert "school.invalid" not in repr(group)
    assert "555 0100" not in repr(group)
    assert "Pérez" not in repr(group)


def test_the_name_that_a_child_is_called_by_comes_first() -> None:
    school = small_school("1.2")
    school.users[0] |= {"preferredGivenName": "Nana", "preferredFamilyName": "Lopez"}
    assert read(school.zipped()).find("5B")[0].children[0].name.shown == "Nana L."


def test_what_is_deleted_or_over_is_left_out() -> None:
    school = small_school()
    school.users[0]["status"] = "tobedeleted"
    school.enrollments[1]["endDate"] = TODAY.isoformat()
    school.enrollments[2]["endDate"] = (TODAY + datetime.timedelta(days=1)).isoformat()
    package = read(school.zipped())
    assert [child.given_name for child in package.find("5B")[0].children] == ["Cem"]
    assert [fault.file for fault in package.faults] == ["enrollments.csv"]


def test_a_child_who_is_enrolled_twice_is_one_child() -> None:
    school = small_school()
    school.enrollments.append(enrollment("e-10", "class-5b", "u-1"))
    package = read(school.zipped())
    assert len(package.find("5B")[0].children) == 3
    assert package.faults == []


def test_every_bad_row_is_named_with_its_file_and_the_good_ones_come_in() -> None:
    school = small_school()
    school.users += [
        user("1.2", "u-8", "", "Nameless"),
        user("1.2", "", "Dia", "Nobody"),
        user("1.2", "u-1", "Eli", "Twice"),
    ]
    school.classes += [{"sourcedId": "", "title": "Nowhere"}, dict(school.classes[0], title="Again")]
    school.enrollments += [
        enrollment("e-11", "class-9z", "u-1"),
        enrollment("e-12", "class-5b", "u-77"),
        enrollment("e-13", "class-5a", "u-2", role="pupil"),
        enrollment("e-14", "class-5b", "u-8"),
        enrollment("e-15", "class-5a", "u-2", end="next week"),
    ]
    package = read(school.zipped())
    assert package.faults == [
        Fault(6, "There is no first name.", "users.csv"),
        Fault(7, "The user has no sourcedId.", "users.csv"),
        Fault(8, "A user with this sourcedId stands above already.", "users.csv"),
        Fault(4, "The class has no sourcedId.", "classes.csv"),
        Fault(5, "A class with this sourcedId stands above already.", "classes.csv"),
        Fault(7, "The class class-9z is not in classes.csv.", "enrollments.csv"),
        Fault(8, "The user u-77 is not in users.csv.", "enrollments.csv"),
        Fault(9, "The role “pupil” is not one of the standard’s.", "enrollments.csv"),
        Fault(11, "The endDate is not a date like 2026-09-01.", "enrollments.csv"),
    ]
    assert [child.source_id for child in package.find("5B")[0].children] == ["u-1", "u-2", "u-3"]


def test_a_row_with_a_stray_mark_or_a_cell_too_many_harms_no_other() -> None:
    files = small_school().files()
    files["users.csv"] += b'u-5,,,"true,u-5\r\n' + b",".join([b"x"] * 40) + b"\r\n"
    package = read(zipped(files))
    assert [(fault.file, fault.line) for fault in package.faults] == [("users.csv", 6), ("users.csv", 7)]
    assert len(package.find("5B")[0].children) == 3


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda files: files.pop("manifest.csv"), "manifest.csv"),
        (lambda files: files.pop("users.csv"), "no users.csv"),
        (lambda files: files.update({"users.csv": b""}), "users.csv is empty"),
        (lambda files: files.update({"users.csv": b"sourcedId,familyName\r\n"}), "no column givenName"),
        (lambda files: files.update({"manifest.csv": b"propertyName,value\r\n"}), "1.1 or 1.2"),
        (lambda files: files.update({"deep/users.csv": b"x"}), "twice"),
    ],
)
def test_an_incomplete_package_is_refused_with_what_to_ask_for(change, said) -> None:
    files = small_school().files()
    change(files)
    with pytest.raises(RosterError, match=said):
        open_roster(zipped(files))


@pytest.mark.parametrize(("mode", "said"), [("delta", "only changes"), ("absent", "no enrollments.csv")])
def test_a_package_that_is_not_in_bulk_is_refused(mode, said) -> None:
    school = small_school()
    school.modes["enrollments"] = mode
    with pytest.raises(RosterError, match=said):
        open_roster(school.zipped())


def test_a_package_of_another_version_is_refused() -> None:
    files = small_school().files()
    files["manifest.csv"] = files["manifest.csv"].replace(b"oneroster.version,1.2", b"oneroster.version,1.0")
    with pytest.raises(RosterError, match=r"OneRoster 1\.0"):
        open_roster(zipped(files))


def test_a_school_of_five_thousand_is_read_in_ten_times_the_time_of_five_hundred() -> None:
    package = hold_in_proportion("a package is read", lambda children: large_school(children).zipped(), read)
    assert sum(len(group.children) for group in package.classes) == MANY

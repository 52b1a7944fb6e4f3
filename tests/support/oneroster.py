"""Makes OneRoster CSV packages by the standard's column tables, for tests; every name is invented.

It shares nothing with the reader: its columns were written down from the standard's tables
(CSV Tables 1.1, CSV Binding 1.2.1) for users, classes, enrollments and orgs.
"""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

FILES = {
    "1.1": [
        *("academicSessions", "categories", "classes", "classResources", "courses", "courseResources"),
        *("demographics", "enrollments", "lineItems", "orgs", "resources", "results", "users"),
    ],
    "1.2": [
        *("academicSessions", "categories", "classes", "classResources", "courses", "courseResources"),
        *("demographics", "enrollments", "lineItemLearningObjectiveIds", "lineItems", "lineItemScoreScales"),
        *("orgs", "resources", "resultLearningObjectiveIds", "results", "resultScoreScales", "roles"),
        *("scoreScales", "userProfiles", "userResources", "users"),
    ],
}
_BASE = ["sourcedId", "status", "dateLastModified"]
_USER_1_1 = [
    *(*_BASE, "enabledUser", "orgSourcedIds", "role", "username", "userIds", "givenName", "familyName"),
    *("middleName", "identifier", "email", "sms", "phone", "agentSourcedIds", "grades", "password"),
]
_USER_1_2 = [
    *(*_BASE, "enabledUser", "username", "userIds", "givenName", "familyName", "middleName", "identifier"),
    *("email", "sms", "phone", "agentSourcedIds", "grades", "password", "userMasterIdentifier"),
    *("preferredGivenName", "preferredMiddleName", "preferredFamilyName", "primaryOrgSourcedId", "pronouns"),
]
COLUMNS = {
    "orgs": [*_BASE, "name", "type", "identifier", "parentSourcedId"],
    "classes": [
        *(*_BASE, "title", "grades", "courseSourcedId", "classCode", "classType", "location"),
        *("schoolSourcedId", "termSourcedIds", "subjects", "subjectCodes", "periods"),
    ],
    "enrollments": [
        *(*_BASE, "classSourcedId", "schoolSourcedId", "userSourcedId", "role", "primary", "beginDate"),
        "endDate",
    ],
}


@dataclass
class SchoolPackage:
    """A school's rows by file, each a mapping of the columns that are filled."""

    version: str = "1.2"
    orgs: list[dict[str, str]] = field(default_factory=list)
    users: list[dict[str, str]] = field(default_factory=list)
    classes: list[dict[str, str]] = field(default_factory=list)
    enrollments: list[dict[str, str]] = field(default_factory=list)
    modes: dict[str, str] = field(default_factory=dict)

    def columns(self, name: str) -> list[str]:
        if name == "users":
            return _USER_1_1 if self.version == "1.1" else _USER_1_2
        return COLUMNS[name]

    def files(self) -> dict[str, bytes]:
        tables: dict[str, bytes] = {"manifest.csv": self._manifest()}
        for name in ("orgs", "users", "classes", "enrollments"):
            tables[f"{name}.csv"] = _csv(self.columns(name), getattr(self, name))
        return tables

    def _manifest(self) -> bytes:
        bulk = {"orgs", "users", "classes", "enrollments"}
        rows = [("manifest.version", "1.0"), ("oneroster.version", self.version)]
        for name in FILES[self.version]:
            rows.append((f"file.{name}", self.modes.get(name, "bulk" if name in bulk else "absent")))
        rows += [("source.systemName", "An invented register"), ("source.systemCode", "invented")]
        return _csv(
            ["propertyName", "value"], [{"propertyName": name, "value": value} for name, value in rows]
        )

    def zipped(self, folder: str = "") -> bytes:
        return zipped({f"{folder}{name}": data for name, data in self.files().items()})


def zipped(files: Mapping[str, bytes], compression: int = zipfile.ZIP_DEFLATED) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", compression) as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    return out.getvalue()


def _csv(columns: Sequence[str], rows: Sequence[Mapping[str, str]]) -> bytes:
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, columns, restval="", lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue().encode()


def small_school(version: str = "1.2") -> SchoolPackage:
    """Two classes of one school: 5B with three students and a teacher, 5A with one of the three."""
    school = SchoolPackage(version)
    school.orgs = [{"sourcedId": "org-1", "name": "Hill School", "type": "school"}]
    school.classes = [
        _class("class-5b", "5B", "term-1,term-2"),
        _class("class-5a", "5A", "term-1"),
    ]
    people = [
        ("u-1", "Ana", "Pérez"),
        ("u-2", "Bo", "van der Berg"),
        ("u-3", "Cem", "Öz"),
        ("t-1", "Tea", "Cher"),
    ]
    for source_id, given, family in people:
        role = "teacher" if source_id.startswith("t") else "student"
        school.users.append(user(version, source_id, given, family, role))
        school.enrollments.append(enrollment(f"e-{source_id}", "class-5b", source_id, role))
    school.enrollments.append(enrollment("e-9", "class-5a", "u-3", "student"))
    return school


def _class(source_id: str, title: str, terms: str) -> dict[str, str]:
    return {
        "sourcedId": source_id,
        "title": title,
        "courseSourcedId": "course-1",
        "classType": "homeroom",
        "schoolSourcedId": "org-1",
        "termSourcedIds": terms,
    }


def user(version: str, source_id: str, given: str, family: str, role: str = "student") -> dict[str, str]:
    row = {
        "sourcedId": source_id,
        "enabledUser": "true",
        "username": source_id,
        "givenName": given,
        "familyName": family,
        "email": f"{source_id}@school.invalid",
        "phone": "555 0100",
        "grades": "05",
    }
    if version == "1.1":
        row |= {"orgSourcedIds": "org-1", "role": role}
    return row


def enrollment(
    source_id: str, class_id: str, user_id: str, role: str = "student", end: str = ""
) -> dict[str, str]:
    return {
        "sourcedId": source_id,
        "classSourcedId": class_id,
        "schoolSourcedId": "org-1",
        "userSourcedId": user_id,
        "role": role,
        "primary": "false",
        "endDate": end,
    }


def large_school(children: int = 5_000, size: int = 25, version: str = "1.2") -> SchoolPackage:
    """A school of many classes, each child in one."""
    school = SchoolPackage(version)
    school.orgs = [{"sourcedId": "org-1", "name": "Hill School", "type": "school"}]
    school.classes = [
        _class(f"c-{number}", f"Class {number}", "term-1") for number in range(children // size)
    ]
    for number in range(children):
        school.users.append(user(version, f"u-{number}", f"Given{number}", f"Family{number}"))
        school.enrollments.append(enrollment(f"e-{number}", f"c-{number // size}", f"u-{number}"))
    return school

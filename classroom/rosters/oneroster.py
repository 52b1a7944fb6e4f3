"""Reads OneRoster 1.1 and 1.2 CSV packages in bulk mode: classes, and the students enrolled in each."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from django.utils.translation import gettext as _

from classroom.roster import tidy
from classroom.rosters.children import Child, Unreadable, make_child
from classroom.rosters.decode import decode
from classroom.rosters.delimited import read_rows
from classroom.rosters.faults import Fault, RosterError
from classroom.rosters.table import Row

VERSIONS = ("1.1", "1.2")
NEEDED = ("orgs", "users", "classes", "enrollments")
ROLES = {
    "1.1": frozenset(
        ["administrator", "aide", "guardian", "parent", "proctor", "relative", "student", "teacher"]
    ),
    "1.2": frozenset(["administrator", "proctor", "student", "teacher"]),
}
"""The roles that an enrollment may have, by version."""

_COLUMNS = {
    "orgs": ("sourcedId", "name"),
    "users": ("sourcedId", "givenName", "familyName"),
    "classes": ("sourcedId", "title", "schoolSourcedId"),
    "enrollments": ("classSourcedId", "userSourcedId", "role"),
}


@dataclass
class RosterClass:
    """A class of a package: its own ids, by which results go out again, and its students."""

    source_id: str
    title: str
    school_source_id: str = ""
    session_source_id: str = ""
    school: str = ""
    children: list[Child] = field(default_factory=list)


@dataclass
class Package:
    """What a package holds for us; everything else in it was passed over."""

    version: str
    classes: list[RosterClass]
    faults: list[Fault] = field(default_factory=list)

    def find(self, wanted: str) -> list[RosterClass]:
        """Return the classes with this id, or else those with this title, whatever the case."""
        by_id = [group for group in self.classes if group.source_id == wanted]
        folded = tidy(wanted).casefold()
        return by_id or [group for group in self.classes if tidy(group.title).casefold() == folded]


def read_package(parts: Mapping[str, bytes], today: datetime.date | None = None) -> Package:
    """Return the classes of a package with their students; `parts` are its files by lower-case name.

    Rows marked `tobedeleted` and enrollments that ended by `today` are left out. A bad row
    is named with its file and harms no other. Raises RosterError for a package that is
    incomplete, of another version, or holds changes only.
    """
    today = today or datetime.date.today()  # noqa: DTZ011 (the dates of a package know no zone)
    faults: list[Fault] = []
    version = _check_manifest(parts)
    schools = {row["sourcedId"]: row["name"] for _line, row in _rows(parts, "orgs", faults)}
    classes = _read_classes(parts, schools, faults)
    users, known = _read_users(parts, faults)
    _enroll(parts, version, classes, users, known, today, faults)
    order = {f"{name}.csv": place for place, name in enumerate(NEEDED)}
    faults.sort(key=lambda fault: (order.get(fault.file, 9), fault.line))
    found = sorted(classes.values(), key=lambda group: (tidy(group.title).casefold(), group.source_id))
    return Package(version, found, faults)


def _check_manifest(parts: Mapping[str, bytes]) -> str:
    """Return the package's version, having seen that all that is needed is there and complete."""
    if "manifest.csv" not in parts:
        raise RosterError(
            _("The zip has no manifest.csv. Ask for a OneRoster 1.1 or 1.2 package, or choose a table.")
        )
    stated: dict[str, str] = {}
    for row in read_rows(decode(parts["manifest.csv"]).text, ",", guarded=False):
        if isinstance(row, Row):
            stated[row.cell(0).strip().lower()] = row.cell(1).strip()
    version = stated.get("oneroster.version", "")
    if version not in VERSIONS:
        raise RosterError(
            _("The package says it is OneRoster %(version)s. Ask for 1.1 or 1.2.")
            % {"version": version or "–"}
        )
    for name in NEEDED:
        mode = stated.get(f"file.{name.lower()}", "absent").lower()
        if mode == "delta":
            raise RosterError(
                _("%(name)s.csv holds only changes (delta). Ask for the whole list (bulk).") % {"name": name}
            )
        if mode != "bulk" or f"{name}.csv" not in parts:
            raise RosterError(_("The package has no %(name)s.csv. Ask for it in bulk.") % {"name": name})
    return version


def _rows(parts: Mapping[str, bytes], name: str, faults: list[Fault]) -> Iterator[tuple[int, dict[str, str]]]:
    """Yield the line and the cells, by heading, of each live row of a file; broken rows become faults."""
    file = f"{name}.csv"
    headings: list[str] | None = None
    for row in read_rows(decode(parts[file]).text, ",", guarded=False):
        if isinstance(row, Fault):
            faults.append(Fault(row.line, row.reason, file))
            continue
        if headings is None:
            headings = [cell.strip() for cell in row.cells]
            missing = [column for column in _COLUMNS[name] if column not in headings]
            if missing:
                raise RosterError(
                    _("%(file)s has no column %(column)s, which the standard asks for.")
                    % {"file": file, "column": missing[0]}
                )
            continue
        if len(row.cells) != len(headings):
            reason = _("The row has %(cells)d cells, but there are %(headings)d headings.")
            faults.append(
                Fault(row.line, reason % {"cells": len(row.cells), "headings": len(headings)}, file)
            )
            continue
        cells = dict(zip(headings, (cell.strip() for cell in row.cells), strict=True))
        if cells.get("status", "").lower() != "tobedeleted":
            yield row.line, cells
    if headings is None:
        raise RosterError(_("%(file)s is empty.") % {"file": file})


def _read_classes(
    parts: Mapping[str, bytes], schools: Mapping[str, str], faults: list[Fault]
) -> dict[str, RosterClass]:
    classes: dict[str, RosterClass] = {}
    for line, row in _rows(parts, "classes", faults):
        source_id, title = row["sourcedId"], tidy(row["title"])
        if not source_id:
            faults.append(Fault(line, _("The class has no sourcedId."), "classes.csv"))
        elif source_id in classes:
            faults.append(Fault(line, _("A class with this sourcedId stands above already."), "classes.csv"))
        else:
            if not title:
                faults.append(
                    Fault(line, _("The class has no title; its sourcedId is shown."), "classes.csv")
                )
            school = row["schoolSourcedId"]
            sessions = [term.strip() for term in row.get("termSourcedIds", "").split(",") if term.strip()]
            classes[source_id] = RosterClass(
                source_id,
                title or source_id,
                school,
                sessions[0] if sessions else "",
                schools.get(school, ""),
            )
    return classes


def _read_users(parts: Mapping[str, bytes], faults: list[Fault]) -> tuple[dict[str, Child], set[str]]:
    """Return each readable user, and the ids of all, readable or not."""
    users: dict[str, Child] = {}
    known: set[str] = set()
    for line, row in _rows(parts, "users", faults):
        source_id = row["sourcedId"]
        try:
            if not source_id:
                raise Unreadable(_("The user has no sourcedId."))
            if source_id in known:
                raise Unreadable(_("A user with this sourcedId stands above already."))
            known.add(source_id)
            # What a child is called at school comes before what is written in its papers.
            given = row.get("preferredGivenName") or row["givenName"]
            family = row.get("preferredFamilyName") or row["familyName"]
            users[source_id] = make_child(given, family, source_id, line)
        except Unreadable as error:
            faults.append(Fault(line, str(error), "users.csv"))
    return users, known


def _enroll(
    parts: Mapping[str, bytes],
    version: str,
    classes: Mapping[str, RosterClass],
    users: Mapping[str, Child],
    known: set[str],
    today: datetime.date,
    faults: list[Fault],
) -> None:
    enrolled: set[tuple[str, str]] = set()
    for line, row in _rows(parts, "enrollments", faults):
        class_id, user_id, role = row["classSourcedId"], row["userSourcedId"], row["role"]
        try:
            if class_id not in classes:
                raise Unreadable(_("The class %(id)s is not in classes.csv.") % {"id": class_id or "–"})
            if user_id not in known:
                raise Unreadable(_("The user %(id)s is not in users.csv.") % {"id": user_id or "–"})
            if role not in ROLES[version]:
                raise Unreadable(_("The role “%(role)s” is not one of the standard’s.") % {"role": role})
            ended = _ended(row.get("endDate", ""), today)
        except Unreadable as error:
            faults.append(Fault(line, str(error), "enrollments.csv"))
            continue
        # A child may be enrolled twice in a year (left and came back); it is one child.
        if role == "student" and not ended and user_id in users and (class_id, user_id) not in enrolled:
            enrolled.add((class_id, user_id))
            classes[class_id].children.append(users[user_id])


def _ended(text: str, today: datetime.date) -> bool:
    """Say whether an enrollment is over; its last day is the day before the date."""
    if not text:
        return False
    try:
        return datetime.date.fromisoformat(text[:10]) <= today
    except ValueError:
        raise Unreadable(_("The endDate is not a date like 2026-09-01.")) from None

"""Writes results as a OneRoster CSV package: categories, line items, results and the manifest, in a zip.

The columns, their order and the enumerations are those of the standard's own tables:
OneRoster CSV Tables, final release 1.1 (2017) and 1.1.1 (2023), and OneRoster CSV Binding
1.2.1 (2023), published by the 1EdTech Consortium. Bulk mode: `status` and
`dateLastModified` stay empty.
"""

from __future__ import annotations

import csv
import datetime
import io
import json
import uuid
import zipfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

VERSIONS = ("1.1", "1.2")
_FILES = (
    "academicSessions categories classes classResources courses courseResources demographics enrollments "
    "lineItemLearningObjectiveIds lineItems lineItemScoreScales orgs resources resultLearningObjectiveIds "
    "results resultScoreScales roles scoreScales userProfiles userResources users"
)
_NEW_IN_1_2 = frozenset(
    (
        "lineItemLearningObjectiveIds",
        "lineItemScoreScales",
        "resultLearningObjectiveIds",
        "resultScoreScales",
        "roles",
        "scoreScales",
        "userProfiles",
        "userResources",
    )
)
_OURS = ("categories", "lineItems", "results")
_BASE = ("sourcedId", "status", "dateLastModified")
COLUMNS: dict[str, dict[str, tuple[str, ...]]] = {
    "1.1": {
        "categories": (*_BASE, "title"),
        "lineItems": (
            *_BASE,
            *("title", "description", "assignDate", "dueDate", "classSourcedId", "categorySourcedId"),
            *("gradingPeriodSourcedId", "resultValueMin", "resultValueMax"),
        ),
        "results": (
            *_BASE,
            *("lineItemSourcedId", "studentSourcedId", "scoreStatus", "score", "scoreDate", "comment"),
        ),
    },
    "1.2": {
        "categories": (*_BASE, "title", "weight"),
        "lineItems": (
            *_BASE,
            *("title", "description", "assignDate", "dueDate", "classSourcedId", "categorySourcedId"),
            *("academicSessionSourcedId", "resultValueMin", "resultValueMax", "schoolSourcedId"),
        ),
        "results": (
            *_BASE,
            *("lineItemSourcedId", "studentSourcedId", "scoreStatus", "score", "scoreDate", "comment"),
            *("textScore", "classSourcedId", "inProgress", "incomplete", "late", "missing"),
        ),
    },
}
"""The columns of each file, in the standard's order, by version."""

# A zip must not differ because it was written a minute later.
_ZIP_TIME = (2000, 1, 1, 0, 0, 0)


class ScoreStatus(StrEnum):
    """How far a result is, in the standard's own words."""

    EXEMPT = "exempt"
    FULLY_GRADED = "fully graded"
    NOT_SUBMITTED = "not submitted"
    PARTIALLY_GRADED = "partially graded"
    SUBMITTED = "submitted"


@dataclass(frozen=True)
class Category:
    """A kind of work that marks are given for; `weight` in percent goes out in 1.2 only."""

    source_id: str
    title: str
    weight: int | None = None


@dataclass(frozen=True)
class LineItem:
    """A column of the school's gradebook: one criterion, or the total."""

    source_id: str
    title: str
    assigned_on: datetime.date
    due_on: datetime.date
    class_source_id: str
    category_source_id: str
    session_source_id: str
    school_source_id: str
    lowest: Decimal
    highest: Decimal
    description: str = ""


@dataclass(frozen=True)
class Result:
    """One child's mark in one column; `score` is empty where there is none (exempt, not handed in)."""

    source_id: str
    line_item_source_id: str
    student_source_id: str
    status: ScoreStatus
    scored_on: datetime.date
    score: Decimal | None = None
    comment: str = ""
    text_score: str = ""
    in_progress: bool = False
    incomplete: bool = False
    late: bool = False
    missing: bool = False


@dataclass(frozen=True)
class Results:
    """All that goes into one package."""

    categories: Sequence[Category]
    line_items: Sequence[LineItem]
    results: Sequence[Result]
    system_name: str = "Second Build"
    system_code: str = "second-build"


def lasting_id(installation: uuid.UUID, *parts: object) -> str:
    """Return the same id for the same thing every time, so that the next package renews and adds nothing."""
    return str(uuid.uuid5(installation, json.dumps([str(part) for part in parts])))


def write_results(package: Results, version: str = "1.2") -> bytes:
    """Return the zip of a results package of version 1.1 or 1.2; the same results give the same bytes.

    Raises ValueError for what the standard does not allow: an empty or double id, an id
    that refers to nothing, an empty title, a score outside its line item's range or
    missing where it is fully graded, a due date before the date of assignment.
    """
    if version not in VERSIONS:
        raise ValueError(f"OneRoster {version} is not one of {', '.join(VERSIONS)}")
    _check(package)
    items = {item.source_id: item for item in package.line_items}
    tables = {
        "categories": [_category(category) for category in package.categories],
        "lineItems": [_line_item(item) for item in package.line_items],
        "results": [_result(result, items[result.line_item_source_id]) for result in package.results],
    }
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        _add(archive, "manifest", _csv(("propertyName", "value"), _manifest(package, version)))
        for name, rows in tables.items():
            columns = COLUMNS[version][name]
            _add(archive, name, _csv(columns, ([row.get(column, "") for column in columns] for row in rows)))
    return out.getvalue()


def _manifest(package: Results, version: str) -> list[tuple[str, str]]:
    rows = [("manifest.version", "1.0"), ("oneroster.version", version)]
    for name in _FILES.split():
        if version == "1.2" or name not in _NEW_IN_1_2:
            rows.append((f"file.{name}", "bulk" if name in _OURS else "absent"))
    rows += [("source.systemName", package.system_name), ("source.systemCode", package.system_code)]
    return rows


def _category(category: Category) -> dict[str, str]:
    weight = "" if category.weight is None else str(category.weight)
    return {"sourcedId": category.source_id, "title": category.title, "weight": weight}


def _line_item(item: LineItem) -> dict[str, str]:
    return {
        "sourcedId": item.source_id,
        "title": item.title,
        "description": item.description,
        "assignDate": item.assigned_on.isoformat(),
        "dueDate": item.due_on.isoformat(),
        "classSourcedId": item.class_source_id,
        "categorySourcedId": item.category_source_id,
        # One column under two names: 1.2 lets it be any academic session.
        "gradingPeriodSourcedId": item.session_source_id,
        "academicSessionSourcedId": item.session_source_id,
        "resultValueMin": _number(item.lowest),
        "resultValueMax": _number(item.highest),
        "schoolSourcedId": item.school_source_id,
    }


def _result(result: Result, item: LineItem) -> dict[str, str]:
    return {
        "sourcedId": result.source_id,
        "lineItemSourcedId": result.line_item_source_id,
        "studentSourcedId": result.student_source_id,
        "scoreStatus": result.status.value,
        "score": "" if result.score is None else _number(result.score),
        "scoreDate": result.scored_on.isoformat(),
        "comment": result.comment,
        "textScore": result.text_score,
        "classSourcedId": item.class_source_id,
        "inProgress": _truth(result.in_progress),
        "incomplete": _truth(result.incomplete),
        "late": _truth(result.late),
        "missing": _truth(result.missing),
    }


def _number(value: Decimal) -> str:
    """Return a number in plain digits with a decimal point, as the standard's floats are written."""
    return f"{value:f}"


def _truth(value: bool) -> str:
    return "true" if value else "false"


def _csv(columns: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    out = io.StringIO(newline="")
    # RFC 4180: commas, CRLF, quotation marks only where they are needed.
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(columns)
    writer.writerows(rows)
    return out.getvalue()


def _add(archive: zipfile.ZipFile, name: str, text: str) -> None:
    entry = zipfile.ZipInfo(f"{name}.csv", date_time=_ZIP_TIME)
    entry.compress_type = zipfile.ZIP_DEFLATED
    archive.writestr(entry, text.encode("utf-8"))


def _check(package: Results) -> None:
    categories = _ids("category", (category.source_id for category in package.categories))
    items = _ids("line item", (item.source_id for item in package.line_items))
    _ids("result", (result.source_id for result in package.results))
    for category in package.categories:
        _given(category.title, f"the title of category {category.source_id}")
    for item in package.line_items:
        _check_item(item, categories)
    by_id = {item.source_id: item for item in package.line_items}
    pairs: set[tuple[str, str]] = set()
    for result in package.results:
        if result.line_item_source_id not in items:
            raise ValueError(f"Result {result.source_id} refers to no line item of the package")
        _given(result.student_source_id, f"the student of result {result.source_id}")
        pair = (result.line_item_source_id, result.student_source_id)
        if pair in pairs:
            raise ValueError(f"Result {result.source_id} is the second of its student and line item")
        pairs.add(pair)
        _check_score(result, by_id[result.line_item_source_id])


def _ids(what: str, ids: Iterable[str]) -> set[str]:
    found: set[str] = set()
    for source_id in ids:
        _given(source_id, f"the id of a {what}")
        if source_id in found:
            raise ValueError(f"Two {what}s have the id {source_id}")
        found.add(source_id)
    return found


def _given(text: str, what: str) -> None:
    if not text.strip():
        raise ValueError(f"The standard requires {what}")


def _check_item(item: LineItem, categories: set[str]) -> None:
    where = f"line item {item.source_id}"
    if item.category_source_id not in categories:
        raise ValueError(f"The {where} refers to no category of the package")
    for name in ("title", "class_source_id", "session_source_id", "school_source_id"):
        _given(getattr(item, name), f"the {name} of {where}")
    if item.due_on < item.assigned_on:
        raise ValueError(f"The {where} is due before it is assigned")
    if not (item.lowest.is_finite() and item.highest.is_finite() and item.lowest < item.highest):
        raise ValueError(f"The {where} has no range of scores")


def _check_score(result: Result, item: LineItem) -> None:
    if result.score is None:
        if result.status is ScoreStatus.FULLY_GRADED:
            raise ValueError(f"Result {result.source_id} is fully graded and has no score")
    elif not (result.score.is_finite() and item.lowest <= result.score <= item.highest):
        raise ValueError(f"The score of result {result.source_id} is outside its range")

"""Carries what was read of a roster from one page to the next, signed, inside the page itself.

Nothing of a file is put on the server's disk or into its sessions before the teacher
presses the last button: a page that is closed leaves nothing behind. The signature ties
what is carried to its class; it expires, so that an old page cannot undo newer changes.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from django.core import signing
from django.utils.translation import gettext as _

from classroom.rosters.apply import SourceIds
from classroom.rosters.children import Child
from classroom.rosters.faults import Fault, RosterError
from classroom.rosters.oneroster import Package, RosterClass
from classroom.rosters.table import Row, Table

MOST_CARRIED = 2_000_000
"""Letters in a form's field: below what the server takes in one form."""
LONGEST_S = 2 * 60 * 60


@dataclass
class Chosen:
    """The children of one class, ready for the preview: nothing else of the file is left."""

    children: list[Child]
    faults: list[Fault] = field(default_factory=list)
    source: SourceIds | None = None
    origin: str = ""
    """What the teacher chose, in words: a file's class or group."""


Carried = Table | Package | Chosen


def pack(carried: Carried, class_pk: int) -> str:
    """Return a signed text for a hidden field; RosterError where it would be too long for a form."""
    packed = signing.dumps(_plain(carried), salt=_salt(class_pk), compress=True)
    if len(packed) > MOST_CARRIED:
        raise RosterError(
            _("The file holds too much for one page. Save names, ids and classes only, or one school.")
        )
    return packed


def unpack(text: str, class_pk: int) -> Carried:
    """Return what was packed for this class; RosterError for what is too old, foreign or changed."""
    try:
        return _carried(signing.loads(text, salt=_salt(class_pk), max_age=LONGEST_S))
    except signing.SignatureExpired:
        raise RosterError(_("This page stood open for too long. Choose the file again.")) from None
    except (signing.BadSignature, ValueError, KeyError, TypeError):
        raise RosterError(
            _("What was read of the file is not here any more. Choose the file again.")
        ) from None


def _salt(class_pk: int) -> str:
    return f"classroom.rosters:{class_pk}"


def _plain(carried: Carried) -> dict[str, Any]:
    faults = [[fault.line, fault.reason, fault.file] for fault in carried.faults]
    if isinstance(carried, Table):
        rows = [[row.line, *row.cells] for row in carried.rows]
        about = [carried.about, carried.named]
        return {"kind": "table", "headings": carried.headings, "rows": rows, "faults": faults, "about": about}
    if isinstance(carried, Package):
        return {"kind": "package", "faults": faults, **_package(carried)}
    source = carried.source
    return {
        "kind": "chosen",
        "children": [_child(child) for child in carried.children],
        "faults": faults,
        "source": [source.source_id, source.school_source_id, source.session_source_id] if source else None,
        "origin": carried.origin,
    }


def _package(package: Package) -> dict[str, Any]:
    """Return the classes with each child once, however many classes it is in."""
    places: dict[str, int] = {}
    children: list[list[Any]] = []
    for group in package.classes:
        for child in group.children:
            if child.source_id not in places:
                places[child.source_id] = len(children)
                children.append(_child(child))
    classes = [
        [
            group.source_id,
            group.title,
            group.school_source_id,
            group.session_source_id,
            group.school,
            [places[child.source_id] for child in group.children],
        ]
        for group in package.classes
    ]
    return {"version": package.version, "children": children, "classes": classes}


def _child(child: Child) -> list[Any]:
    return [child.given_name, child.initial, child.start, child.source_id, child.line]


def _carried(plain: dict[str, Any]) -> Carried:
    faults = [Fault(*fault) for fault in plain["faults"]]
    if plain["kind"] == "table":
        rows = [Row(line, tuple(cells)) for line, *cells in plain["rows"]]
        return Table(plain["headings"], rows, faults, *plain["about"])
    children = [Child(*child) for child in plain["children"]]
    if plain["kind"] == "package":
        classes = []
        for *ids, places in plain["classes"]:
            classes.append(RosterClass(*ids))
            classes[-1].children = [children[place] for place in places]
        return Package(plain["version"], classes, faults)
    source = SourceIds(*plain["source"]) if plain["source"] else None
    return Chosen(children, faults, source, plain["origin"])

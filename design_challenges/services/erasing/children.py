"""Erases one child: what is its own goes, a team's work stays without its name."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from classroom.models import Classroom, Student
from classroom.teaming import tell_everyone
from design_challenges.models import Clearance, Judgement, Note, Remark, Submission
from design_challenges.models.iteration import EntryRow
from design_challenges.services.erasing.graph import Rows, delete_rows, hanging_on, wipe_free_pages
from design_challenges.words import Words

ERASED = "…"
"""What stands where a child's name stood in a text."""

# Texts in which somebody may have written a name: model, field, the way to the class, what it is.
_TEXTS: Sequence[tuple[type[EntryRow], str, str, Words]] = (
    (Note, "text", "iteration__class_challenge__classroom", _("a team’s words")),
    (Clearance, "reason", "iteration__class_challenge__classroom", _("a reason for a clearance")),
    (Judgement, "note", "drop__iteration__class_challenge__classroom", _("a remark on a drop")),
    (Judgement, "note", "reading__class_challenge__classroom", _("a remark on a reading")),
    (Remark, "comment", "class_challenge__classroom", _("a comment beside marks")),
)
# Under these names the forms' bodies hold a child's id.
_ID_KEYS = frozenset({"student", "child", "saw", "not"})


@dataclass(frozen=True)
class Mention:
    """A text that holds the child's first name as a word; `key` names its row in a form."""

    key: str
    what: Words
    text: str


def mentions_of(student: Student) -> list[Mention]:
    """Return the class's texts with the child's first name in them, for the teacher to look at.

    A name can be another child's, or a word ('Will it open?'), so none is taken out unasked.
    """
    return [Mention(_key(row, field), what, text) for row, field, what, text in _mentioning(student)]


def erase_child(student: Student, mentions: Collection[str]) -> None:
    """Erase a child for good; `mentions` are the texts out of which its name is taken.

    Gone: the name and the school's id, places in teams, attendance, answers to exit questions, what a
    teacher saw, marks and comments of the child, the entries those came in by, and the child's id in every
    other entry. Kept, without a name: the team's sizes, readings, words and drawings.
    """
    classroom = student.classroom
    with transaction.atomic():
        Classroom.objects.select_for_update().get(pk=classroom.pk)
        rows = hanging_on([student])
        submissions = _submissions_of(rows)
        touched: set[int] = set()
        for row, field, _what, text in _mentioning(student):
            if _key(row, field) in mentions:
                changed = {field: _without(text, student)}
                type(row)._base_manager.filter(pk=row.pk).update(**changed)
                touched.add(row.submission_id or 0)
        delete_rows(rows)
        _delete_orphans(submissions)
        _redact_bodies(student, touched, names=bool(mentions))
        tell_everyone(classroom)
    wipe_free_pages()


def _mentioning(student: Student) -> list[tuple[EntryRow, str, Words, str]]:
    found: list[tuple[EntryRow, str, Words, str]] = []
    for model, field, way, what in _TEXTS:
        rows = model._base_manager.filter(
            **{way: student.classroom_id, f"{field}__contains": student.given_name}
        ).order_by("pk")
        found += [
            (row, field, what, getattr(row, field))
            for row in rows
            # The child's own go as a whole.
            if getattr(row, "student_id", None) != student.pk and _word(student).search(getattr(row, field))
        ]
    return found


def _key(row: EntryRow, field: str) -> str:
    return f"{row._meta.model_name}-{row.pk}-{field}"


def _word(student: Student) -> re.Pattern[str]:
    return re.compile(rf"(?<!\w){re.escape(student.given_name)}(?!\w)")


def _without(text: str, student: Student) -> str:
    return _word(student).sub(ERASED, text)


# --- entries as they arrived ---------------------------------------------------------------------------


def _submissions_of(rows: Rows) -> set[int]:
    """Return the entries by which some rows came in."""
    found: set[int] = set()
    for model, ids in rows.items():
        if issubclass(model, EntryRow):
            came = model._base_manager.filter(pk__in=ids, submission__isnull=False)
            found |= set(came.values_list("submission_id", flat=True))
    return found


def _delete_orphans(submissions: set[int]) -> None:
    """Delete the entries that brought nothing but what was erased."""
    kept: set[int] = set()
    for relation in Submission._meta.related_objects:
        field = relation.field
        rows = field.model._base_manager.filter(**{f"{field.name}__in": submissions})
        kept |= set(rows.values_list(field.attname, flat=True))
    delete_rows({Submission: submissions - kept})


def _redact_bodies(student: Student, touched: set[int], *, names: bool) -> None:
    """Take the child's id out of every entry's body, and its name out of those touched or not used."""
    rows = Submission._base_manager.filter(class_challenge__classroom=student.classroom_id)
    for pk, outcome, body in rows.values_list("pk", "outcome", "body").iterator(chunk_size=500):
        named = pk in touched or (names and outcome != Submission.Outcome.SAVED)
        clean = _clean(body, student, "", named=named)
        if clean != body:
            # The digest stays: by it the same entry, sent again, is still known and not kept anew.
            Submission._base_manager.filter(pk=pk).update(body=clean)


def _clean(value: Any, student: Student, key: str, *, named: bool) -> Any:
    ids = (student.pk, str(student.pk))
    if isinstance(value, dict):
        return {name: _clean(one, student, name, named=named) for name, one in value.items()}
    if isinstance(value, list):
        if len(value) > 1 and value[0] in ("student", "child") and value[1] in ids:
            return []
        return [_clean(one, student, key, named=named) for one in value]
    if value in ids and key in _ID_KEYS and not isinstance(value, bool):
        return ""
    if named and isinstance(value, str):
        return _without(value, student)
    return value

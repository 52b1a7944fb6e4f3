"""The page of marks: every team and child on one screen, saved at once, with the evidence beside it."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.http import Http404, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from classroom.access import TeacherRequest, teacher_of_class
from design_challenges.forms.marking import RemarkForm, StartRubricForm
from design_challenges.models import ClassChallenge
from design_challenges.services.exports import load_export
from design_challenges.services.marking import giving, page, rubrics
from design_challenges.services.marks import ClassMarks, load_marks
from design_challenges.services.records import find_challenge
from design_challenges.views.seats import read_entry_id

if TYPE_CHECKING:
    from django.contrib.auth.models import User

YES = "yes"


@require_http_methods(["GET", "POST"])
@never_cache
@teacher_of_class
def marking(request: TeacherRequest) -> HttpResponseBase:
    """Show all marks; take what was typed: one mark after another from the page's script, or a whole form."""
    challenge = find_challenge(request.classroom)
    if challenge is None:
        return render(request, "teacher/marking_none.html", {"classroom": request.classroom})
    marks = load_marks(load_export(challenge), second=_second(request))
    if marks is None:
        return _begin(request)
    if request.method == "GET":
        return _show(request, marks)
    if request.POST.get("do") == "give":
        return _give(request, marks)
    if request.POST.get("do") == "undo":
        return _undo(request, marks)
    return _save_form(request, marks)


def teacher(request: TeacherRequest) -> User:
    """Return the teacher; nobody else gets past a head that lets no substitute in."""
    if request.by_user is None:
        raise Http404
    return request.by_user


def _second(request: TeacherRequest) -> bool:
    sent = request.POST if request.method == "POST" else request.GET
    return sent.get("second") == YES


def _begin(request: TeacherRequest) -> HttpResponse:
    """A class without a rubric begins with one."""
    form = StartRubricForm(None, rubrics.kept_by(teacher(request)))
    return render(request, "teacher/marking_begin.html", {"classroom": request.classroom, "form": form})


def _show(
    request: TeacherRequest,
    marks: ClassMarks,
    *,
    typed: Mapping[str, str] | None = None,
    wrong: list[dict[str, str]] | None = None,
) -> HttpResponse:
    typed = typed if typed is not None else _held(request)
    rows = page.rows_of(marks, typed)
    context: dict[str, Any] = {
        "classroom": request.classroom,
        "marks": marks,
        "rows": rows,
        "second": _second(request),
        "wrong": wrong or [],
        "held": typed and not wrong,
        "entry_id": uuid.uuid4(),
        "children": sum(not row.is_team for row in rows),
        **_looked(request, marks, request.GET.get("at", "") or _first_place(marks)),
    }
    return render(request, "teacher/marking.html", context, status=422 if wrong else 200)


def _first_place(marks: ClassMarks) -> str:
    """Return the place that the page begins at."""
    if not marks.klass.teams or not marks.graded:
        return ""
    return f"t{marks.klass.teams[0].team.pk}:{marks.graded[0].key}"


def _held(request: TeacherRequest) -> dict[str, str]:
    """Return what was typed before the sender turned out to be signed out."""
    held = request.held
    return {name: str(held[name]) for name in held if ":" in name} if held else {}


def _give(request: TeacherRequest, marks: ClassMarks) -> HttpResponse:
    """Save the marks that the page's script sends: each `mark` is a place, a blank and what was typed."""
    try:
        wanted = [giving.read_mark(*_halves(text), marks) for text in request.POST.getlist("mark")]
    except giving.BadMark:
        said = _("This page is out of date. Load it again; what you typed last is not saved.")
        return JsonResponse({"said": said}, status=422)
    giving.give(marks, wanted, teacher(request), read_entry_id(request), second=_second(request))
    return JsonResponse(_after(request, marks))


def _halves(text: str) -> tuple[str, str]:
    place, _blank, typed = text.partition(" ")
    return place, typed


def _after(request: TeacherRequest, marks: ClassMarks) -> dict[str, Any]:
    """Return what the page's script shows after a change: the totals, and what children take over."""
    fresh = load_marks(marks.klass, second=_second(request)) or marks
    rows = page.rows_of(fresh)
    return {
        "seen": fresh.newest_row,
        "totals": {row.key: _percent(row) for row in rows if not row.is_team},
        "takenOver": {cell.name: cell.taken_over for row in rows if not row.is_team for cell in row.cells},
    }


def _percent(row: page.Row) -> str:
    return f"{row.total.percent:f}" if row.total and row.total.percent is not None else ""


def _undo(request: TeacherRequest, marks: ClassMarks) -> HttpResponse:
    """Take back the last mark of this teacher that still stands."""
    undone = giving.undo(marks, teacher(request), read_entry_id(request), second=_second(request))
    if request.POST.get("live"):
        told = _after(request, marks)
        if undone is not None:
            kind, pk, key = undone.place
            told |= {"place": f"{kind}{pk}:{key}", "text": undone.text}
        return JsonResponse(told)
    if undone is None:
        messages.info(request, _("There is nothing of yours left to take back."))
    else:
        messages.success(request, _("The last mark is taken back."))
    return redirect(_address(request))


def _save_form(request: TeacherRequest, marks: ClassMarks) -> HttpResponse:
    """Save the whole form: what differs from the marks that it showed."""
    typed = {name: request.POST[name].strip() for name in request.POST if ":" in name}
    wanted, wrong = [], []
    for name, text in typed.items():
        try:
            wanted.append(giving.read_mark(name, text, marks))
        except giving.BadMark:
            wrong.append({"name": name, "text": text})
    if wrong:
        return _show(request, marks, typed=typed, wrong=_named(marks, wrong))
    seen = request.POST.get("seen", "")
    shown = int(seen) if seen.isascii() and seen.isdigit() and len(seen) < 18 else 0
    changed = giving.changed_since(marks, wanted, shown, second=_second(request))
    if changed:
        giving.give(marks, changed, teacher(request), read_entry_id(request), second=_second(request))
    told = ngettext("%(count)d mark is saved.", "%(count)d marks are saved.", len(changed))
    messages.success(request, told % {"count": len(changed)})
    return redirect(_address(request))


def _named(marks: ClassMarks, wrong: list[dict[str, str]]) -> list[dict[str, str]]:
    """Return what was typed wrongly with the name of its row and column."""
    cells = {cell.name: (row.name, cell.criterion.short) for row in page.rows_of(marks) for cell in row.cells}
    return [{**mistake, "label": ", ".join(cells.get(mistake["name"], ("?",)))} for mistake in wrong]


def _address(request: TeacherRequest) -> str:
    address = reverse("design_challenges:marking", args=[request.classroom.code])
    return f"{address}?second={YES}" if _second(request) else address


# --- evidence and remarks ----------------------------------------------------------------------------


@require_GET
@never_cache
@teacher_of_class
def evidence(request: TeacherRequest) -> HttpResponse:
    """The evidence of one team or child: a part of the page of marks, or by itself a whole page."""
    marks = _marks(request)
    context = {"classroom": request.classroom, "marks": marks, "second": _second(request)}
    context |= _looked(request, marks, request.GET.get("at", "") or _first_place(marks))
    if context["looked"] is None:
        raise Http404
    template = "teacher/_marking_evidence.html" if request.htmx else "teacher/marking_evidence.html"
    return render(request, template, context)


@require_POST
@teacher_of_class
def remark(request: TeacherRequest) -> HttpResponse:
    """Keep whether a team's or child's work came late, and the comment."""
    marks = _marks(request)
    at = request.POST.get("at", "")
    whose = _whose(at)
    if whose not in giving.whose_marks(marks):
        raise Http404
    form = RemarkForm(request.POST)
    if form.is_valid():
        late, comment = form.cleaned_data["late"], form.cleaned_data["comment"].strip()
        giving.remark(marks, whose, late, comment, teacher(request), read_entry_id(request))
        if not request.htmx:
            messages.success(request, _("The comment is saved."))
            return redirect(f"{_address(request)}{'&' if _second(request) else '?'}at={at}")
        marks = _marks(request)
    context = {"classroom": request.classroom, "marks": marks, "second": _second(request)}
    context |= _looked(request, marks, at)
    context |= {"saved": form.is_valid()} if form.is_valid() else {"remark_form": form}
    template = "teacher/_marking_evidence.html" if request.htmx else "teacher/marking_evidence.html"
    return render(request, template, context, status=200 if form.is_valid() else 422)


def _marks(request: TeacherRequest) -> ClassMarks:
    challenge: ClassChallenge | None = find_challenge(request.classroom)
    marks = load_marks(load_export(challenge), second=_second(request)) if challenge else None
    if marks is None:
        raise Http404
    return marks


def _whose(at: str) -> tuple[str, int]:
    """Return whose place a text names; ("", 0) for nobody's."""
    kind, number = at[:1], at[1:].partition(":")[0]
    if kind not in ("t", "s") or not (number.isascii() and number.isdigit() and len(number) < 18):
        return "", 0
    return kind, int(number)


def _looked(request: TeacherRequest, marks: ClassMarks, at: str) -> dict[str, Any]:
    """Return the evidence that is looked at, with the form of its remark; None for nobody."""
    if not at:
        return {"looked": None}
    kind, pk = _whose(at)
    alone = page.load_alone(marks.klass.challenge, marks.klass) if kind == "s" else {}
    looked = page.look_at(marks, kind, pk, alone, only=at.partition(":")[2])
    if looked is None:
        return {"looked": None}
    initial = {"late": looked.said.late, "comment": looked.said.comment}
    return {
        "looked": looked,
        "at": at,
        "remark_form": RemarkForm(initial=initial),
        "remark_entry": uuid.uuid4(),
        "can_write": request.classroom.archived_at is None,
    }

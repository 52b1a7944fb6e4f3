"""The marks as files for other programs: a table of chosen columns, and a OneRoster results package."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpResponseBase
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from classroom.access import TeacherRequest, teacher_of_class
from classroom.forms.base import sent
from classroom.rosters.oneroster_results import VERSIONS, write_results
from design_challenges.forms.mark_columns import ColumnsForm
from design_challenges.services.exports import load_export
from design_challenges.services.mark_columns import (
    chosen_columns,
    columns_of,
    marks_csv,
    remember_columns,
)
from design_challenges.services.mark_results import MarkResults, NoResultsError, make_results
from design_challenges.services.marks import ClassMarks, load_marks
from design_challenges.services.records import find_challenge
from design_challenges.views.files import download
from design_challenges.views.marking import teacher


@require_http_methods(["GET", "POST"])
@never_cache
@teacher_of_class(archived=True)
def mark_files(request: TeacherRequest) -> HttpResponseBase:
    """Choose the columns of the file of marks, which are remembered; and say what results there are."""
    marks = _marks(request)
    if marks is None:
        return redirect("design_challenges:marking", request.classroom.code)
    columns = columns_of(marks)
    form = ColumnsForm(sent(request), columns, chosen_columns(teacher(request), request.classroom, columns))
    if request.method == "POST" and form.is_valid():
        remember_columns(teacher(request), request.classroom, form.cleaned_data["columns"])
        return redirect("design_challenges:marks_csv", request.classroom.code)
    context = {
        "classroom": request.classroom,
        "form": form,
        "marks": marks,
        "versions": VERSIONS[::-1],
        **_results_told(marks),
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "teacher/mark_files.html", context, status=status)


@require_safe
@never_cache
@teacher_of_class
def marks_file(request: TeacherRequest) -> HttpResponseBase:
    """The file of marks with the columns that were chosen last."""
    marks = _marks(request)
    if marks is None:
        return redirect("design_challenges:marking", request.classroom.code)
    chosen = chosen_columns(teacher(request), request.classroom, columns_of(marks))
    return download(request, "marks.csv", "text/csv; charset=utf-8", marks_csv(marks, chosen).encode())


@require_safe
@never_cache
@teacher_of_class
def results_file(request: TeacherRequest, version: str) -> HttpResponseBase:
    """A OneRoster results package of a version."""
    if version not in VERSIONS:
        raise Http404
    marks = _marks(request)
    if marks is None:
        return redirect("design_challenges:marking", request.classroom.code)
    try:
        results = make_results(marks)
    except NoResultsError as problem:
        messages.warning(request, str(problem))
        return redirect("design_challenges:mark_files", request.classroom.code)
    content = write_results(results.package, version)
    return download(request, f"oneroster-{version}-results.zip", "application/zip", content)


def _marks(request: TeacherRequest) -> ClassMarks | None:
    challenge = find_challenge(request.classroom)
    return load_marks(load_export(challenge)) if challenge else None


def _results_told(marks: ClassMarks) -> dict[str, str | MarkResults]:
    try:
        return {"results": make_results(marks)}
    except NoResultsError as problem:
        return {"no_results": str(problem)}

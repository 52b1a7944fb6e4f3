"""The class's files for its teacher: the gradebook and the CSV files, made when they are asked for."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.http import content_disposition_header
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from classroom.access import TeacherRequest, teacher_of_class
from design_challenges.services.exports import COLUMNS, GRADEBOOK, csv_text, load_export
from design_challenges.services.records import find_challenge

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@require_safe
@teacher_of_class
def files(request: TeacherRequest) -> HttpResponse:
    """Every file with what is in it."""
    what = {
        "teams": _("Each team and its children."),
        "measurements": _("What each round planned, and what was measured on the made thing."),
        "trials": _("Every drop, also those that do not count, with the reason."),
        "results": _("Each round's sizes, mean time and fall speed, rounded and exact."),
    }
    context = {
        "classroom": request.classroom,
        "challenge": find_challenge(request.classroom),
        "csv_files": [
            {"name": name, "about": what[name], "columns": columns} for name, columns in COLUMNS.items()
        ],
    }
    return render(request, "teacher/files.html", context)


@require_safe
@teacher_of_class
@never_cache
def gradebook(request: TeacherRequest) -> HttpResponseBase:
    """The gradebook as it stands now."""
    challenge = find_challenge(request.classroom)
    if challenge is None:
        return _set_one_up_first(request)
    # openpyxl takes half a second to load: only whoever asks for the gradebook waits for it.
    from design_challenges.services.gradebook import gradebook_bytes

    return download(request, GRADEBOOK, XLSX, gradebook_bytes(load_export(challenge)))


@require_safe
@teacher_of_class
@never_cache
def csv_file(request: TeacherRequest, name: str) -> HttpResponseBase:
    """One of the CSV files as it stands now."""
    if name not in COLUMNS:
        raise Http404
    challenge = find_challenge(request.classroom)
    if challenge is None:
        return _set_one_up_first(request)
    text = csv_text(load_export(challenge), name)
    return download(request, f"{name}.csv", "text/csv; charset=utf-8", text.encode())


def _set_one_up_first(request: TeacherRequest) -> HttpResponseBase:
    messages.info(request, _("This class has no challenge yet, so its files would be empty. Set one up."))
    return redirect("design_challenges:files", request.classroom.code)


def download(request: TeacherRequest, name: str, content_type: str, content: bytes) -> HttpResponse:
    """Return a file to be saved, its name beginning with the class code."""
    response = HttpResponse(content, content_type=content_type)
    file_name = f"{request.classroom.code}-{name}"
    response["Content-Disposition"] = content_disposition_header(as_attachment=True, filename=file_name)
    return response

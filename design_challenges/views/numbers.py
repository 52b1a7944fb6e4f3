"""What the numbers say: the teacher's page, its live part, and its tables as files."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils.http import content_disposition_header
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from classroom.access import TeacherRequest, teacher_of_class
from design_challenges.forms.numbers import NumbersForm
from design_challenges.services import numbers_page
from design_challenges.services.analysis.analyse import Analysis
from design_challenges.services.class_analysis import class_analysis
from design_challenges.services.numbers_tables import all_tables, csv_of
from design_challenges.services.record_types import ClassRecord
from design_challenges.services.records import find_challenge, load_class
from design_challenges.views.live import board_token, has_it_already, nothing_new

# How many teams the changes' picture holds at each height.
ROWS_USUAL, ROWS_TALL = 8, 14


@require_GET
@never_cache
@teacher_of_class
def numbers(request: TeacherRequest) -> HttpResponse:
    """Every sentence with its numbers, or for a poll the live part, or nothing where nothing is new."""
    token = board_token(request)
    if has_it_already(request, token):
        return nothing_new()
    challenge = find_challenge(request.classroom)
    context: dict[str, Any] = {"classroom": request.classroom, "challenge": challenge, "token": token}
    if challenge is None:
        return render(request, "teacher/numbers.html", context)
    klass = load_class(challenge)
    form = _form(request, klass)
    context |= {"form": form, **_live(request, klass, form)}
    status = 422 if form.errors else 200
    template = "teacher/_numbers_live.html" if request.htmx else "teacher/numbers.html"
    return render(request, template, context, status=status)


@require_GET
@never_cache
@teacher_of_class
def table(request: TeacherRequest, name: str) -> HttpResponse:
    """One table of the page as a CSV file."""
    challenge = find_challenge(request.classroom)
    if challenge is None:
        raise Http404
    klass = load_class(challenge)
    form = _form(request, klass)
    found = all_tables(_analysis(klass, form)).get(name)
    if found is None:
        raise Http404
    response = HttpResponse(csv_of(found), content_type="text/csv; charset=utf-8")
    file_name = f"{request.classroom.code}-{name}.csv"
    response["Content-Disposition"] = content_disposition_header(as_attachment=True, filename=file_name)
    return response


def _form(request: TeacherRequest, klass: ClassRecord) -> NumbersForm:
    form = NumbersForm(klass, {name: request.GET.get(name, "") for name in NumbersForm.base_fields})
    form.is_valid()
    return form


def _analysis(klass: ClassRecord, form: NumbersForm) -> Analysis:
    return class_analysis(klass, form.cleaned_data.get("within"), largest=form.cleaned_data.get("largest"))


def _live(request: TeacherRequest, klass: ClassRecord, form: NumbersForm) -> dict[str, Any]:
    found = _analysis(klass, form)
    lines = request.GET.getlist("line")
    asked = [(name, request.GET.get(name, "")) for name in NumbersForm.base_fields if request.GET.get(name)]
    drawings = [
        {
            "chart": drawn,
            # The link draws the line, or takes it away; other lines stay as they are.
            "toggle": urlencode(
                [*asked, *(("line", slug) for slug in _toggled(lines, drawn.slug))], doseq=True
            ),
        }
        for drawn in numbers_page.drawings(found, lines)
        if drawn.figure
    ]
    rows = len(found.teacher.changes)
    return {
        "kind": klass.kind,
        "parts": numbers_page.parts(found),
        "drawings": drawings,
        "changes_chart": numbers_page.changes_chart(found),
        "changes_size": "" if rows <= ROWS_USUAL else "plot-tall" if rows <= ROWS_TALL else "plot-rows-40",
        "asked": urlencode(asked),
        "poll": urlencode([*asked, *(("line", slug) for slug in lines)], doseq=True),
    }


def _toggled(lines: list[str], slug: str) -> list[str]:
    return [line for line in lines if line != slug] if slug in lines else [*lines, slug]

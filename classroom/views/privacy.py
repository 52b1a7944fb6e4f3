"""The privacy page: what is stored of a person, where, how long, how to get it and how it goes."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from classroom.keeping.nightly import KEPT
from classroom.personal_data import STORED


@require_safe
def privacy(request: HttpRequest) -> HttpResponse:
    """Say it to anybody: there is nothing of anybody on it."""
    context = {
        "children": [one for one in STORED if one.about == "child"],
        "adults": [one for one in STORED if one.about == "adult"],
        "nights": KEPT,
    }
    return render(request, "teacher/privacy.html", context)

"""The service workers: a script each for the timing station and for the teams' pages."""

from __future__ import annotations

from django.conf import settings
from django.contrib.staticfiles.storage import staticfiles_storage
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from classroom.version import VERSION


@require_safe
def station_worker(request: HttpRequest) -> HttpResponse:
    """The station's: it keeps the station's page."""
    return _script(request, "station/worker.js", reverse("design_challenges:station"))


@require_safe
def team_worker(request: HttpRequest) -> HttpResponse:
    """The teams': it keeps the page where the team is."""
    return _script(request, "team/worker.js", reverse("design_challenges:team_now"))


def _script(request: HttpRequest, template: str, page: str) -> HttpResponse:
    """Return a script that changes with every change of a file: a browser compares it byte for byte."""
    context = {
        "version": getattr(staticfiles_storage, "manifest_hash", "") or VERSION,
        "page": page,
        "files": settings.STATIC_URL,
    }
    response = render(request, template, context, content_type="text/javascript")
    response.headers["Cache-Control"] = "no-cache"
    return response

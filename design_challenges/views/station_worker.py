"""The timing station's service worker: a script under the station's own address, for that address alone."""

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
    """The script, another one after every change of a file: a browser compares it byte for byte."""
    context = {
        "version": getattr(staticfiles_storage, "manifest_hash", "") or VERSION,
        "page": reverse("design_challenges:station"),
        "files": settings.STATIC_URL,
    }
    response = render(request, "station/worker.js", context, content_type="text/javascript")
    response.headers["Cache-Control"] = "no-cache"
    return response

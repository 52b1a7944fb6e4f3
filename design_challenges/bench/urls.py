"""The bare views: what any Django page costs on this server, behind this middleware, on this database."""

from __future__ import annotations

import secrets
from datetime import timedelta

from django.contrib.sessions.models import Session
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.urls import include, path
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST


@require_POST
def bare_save(request: HttpRequest) -> HttpResponse:
    """Commit one row of a table of three columns."""
    with transaction.atomic():
        Session.objects.create(
            session_key=secrets.token_hex(16), expire_date=timezone.now() + timedelta(hours=1)
        )
    return HttpResponse("saved")


@require_GET
def bare_read(request: HttpRequest, key: str) -> HttpResponse:
    """Read one row by its key."""
    found = Session.objects.filter(session_key=key).first()
    return HttpResponse(status=304 if found is not None else 404)


urlpatterns = [
    path("bare/save/", bare_save),
    path("bare/read/<str:key>/", bare_read),
    path("", include("classroom.urls")),
]

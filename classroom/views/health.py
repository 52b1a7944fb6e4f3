"""The health check: is this server up, which version, does its database answer."""

from __future__ import annotations

from django.db import DatabaseError, connection
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from classroom.version import VERSION


@require_safe
@never_cache
def healthz(request: HttpRequest) -> HttpResponse:
    """Answer 200 when the database answers and 503 when it does not."""
    try:
        with connection.cursor() as cursor:
            # A real table: SQLite answers a bare SELECT 1 without opening its file.
            cursor.execute("SELECT 1 FROM django_migrations LIMIT 1")
            answers = cursor.fetchone() is not None
    except DatabaseError:
        answers = False
    body = {"version": VERSION, "database": "answers" if answers else "does not answer"}
    return JsonResponse(body, status=200 if answers else 503)

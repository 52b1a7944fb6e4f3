"""What the machine can lack while the server runs, and the page that says so and sends a form again."""

from __future__ import annotations

import errno
import logging
from collections.abc import Callable

from django.db import DatabaseError, OperationalError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

FULL, READ_ONLY, BUSY, SILENT = "full", "read_only", "busy", "silent"
RETRY_S = {FULL: 30, READ_ONLY: 30, BUSY: 3, SILENT: 10}
# Never put back into a page, not even into a hidden field.
SECRET_FIELDS = ("password", "old_password", "new_password1", "new_password2", "csrfmiddlewaretoken")
LONGEST_FIELD = 20_000
_OF_FILES = {
    errno.ENOSPC: FULL,
    errno.EDQUOT: FULL,
    errno.EFBIG: FULL,
    errno.EROFS: READ_ONLY,
    errno.EACCES: READ_ONLY,
    errno.EPERM: READ_ONLY,
}
_OF_WORDS = (
    ("full", FULL),
    ("readonly", READ_ONLY),
    ("read-only", READ_ONLY),
    ("locked", BUSY),
    ("disk i/o error", FULL),
    # PostgreSQL, which gives no code to who is not connected yet.
    ("too many clients", BUSY),
    ("connection slots", BUSY),
)
_OF_POSTGRESQL = {
    "53100": FULL,
    "25006": READ_ONLY,
    "53300": BUSY,
    "55P03": BUSY,  # waited for a lock
    "57014": BUSY,
    "40001": BUSY,
    "40P01": BUSY,
}

log = logging.getLogger(__name__)


def trouble_of(error: Exception) -> str:
    """Return what the machine lacks, or "" where the error is of another sort."""
    if isinstance(error, DatabaseError):
        return _trouble_of_database(error)
    if isinstance(error, OSError):
        return _OF_FILES.get(error.errno or 0, "")
    return ""


def _trouble_of_database(error: DatabaseError) -> str:
    known = _OF_POSTGRESQL.get(str(getattr(error.__cause__, "sqlstate", "")))
    if known or not isinstance(error, OperationalError):
        return known or ""
    said = str(error).lower()
    return next((trouble for words, trouble in _OF_WORDS if words in said), SILENT)


class TroubleMiddleware:
    """Answer 503 where the disk is full, a folder read-only, or the database busy; a form can be sent again.

    The form goes back as it came, with the entry's id, so that sending it again counts once.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """Return the page that says what is wrong; None for any other error, which is a mistake of ours."""
        trouble = trouble_of(exception)
        if not trouble:
            return None
        log.error("The machine lacks something: %s (%s)", trouble, type(exception).__name__)
        context = {"trouble": trouble, "again": _form(request), "had_file": bool(request.FILES)}
        response = render(request, "503.html", context, status=503)
        response.headers["Retry-After"] = str(RETRY_S[trouble])
        response.headers["Cache-Control"] = "no-store"
        return response


def _form(request: HttpRequest) -> list[tuple[str, str]]:
    """Return what was sent, to be sent again; empty where it holds a secret or is not worth it."""
    if request.method != "POST" or any("password" in name for name in request.POST):
        return []
    fields = [(name, str(value)) for name in request.POST for value in request.POST.getlist(name)]
    kept = [(name, value) for name, value in fields if name not in SECRET_FIELDS]
    return kept if sum(len(value) for _name, value in kept) <= LONGEST_FIELD else []

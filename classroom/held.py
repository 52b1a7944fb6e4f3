"""Keeps what was typed into a form when the sender turns out to be signed out, until they are back."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest, QueryDict

KEY = "held_entry"
# Longer than any form of ours; a session is no place for more.
LONGEST = 20_000
_NEVER_HELD = ("csrfmiddlewaretoken", "password", "old_password", "new_password1", "new_password2")


def hold(request: HttpRequest, *, owner: str) -> None:
    """Keep a posted form in the session, for its own page and its own owner; photos are not kept."""
    if request.method != "POST" or any(field.startswith("password") for field in request.POST):
        return
    fields = request.POST.copy()
    for name in _NEVER_HELD:
        fields.pop(name, None)
    keep(request, fields, owner=owner)


def keep(request: HttpRequest, fields: QueryDict, *, owner: str) -> None:
    """Keep fields for this page until it is opened again, or until an entry from it is saved."""
    encoded = fields.urlencode()
    if len(encoded) <= LONGEST:
        request.session[KEY] = {"path": request.path, "owner": owner, "fields": encoded}


def take(request: HttpRequest, *, owner: str) -> QueryDict | None:
    """Return, once, what was held for the page being opened, or None."""
    if request.method != "GET" or request.COOKIES.get(settings.SESSION_COOKIE_NAME) is None:
        return None
    kept = request.session.get(KEY)
    if not kept or kept["path"] != request.path or kept["owner"] != owner:
        return None
    _forget(request)
    return QueryDict(kept["fields"])


def drop(request: HttpRequest) -> None:
    """Forget what was held for this page: it has been saved."""
    if request.COOKIES.get(settings.SESSION_COOKIE_NAME) is None:
        return
    kept = request.session.get(KEY)
    if kept and kept["path"] == request.path:
        _forget(request)


def _forget(request: HttpRequest) -> None:
    """Take the entry out; a session that held nothing else goes, and with it a query on every page."""
    del request.session[KEY]
    if not list(request.session.keys()):
        request.session.flush()


def waiting_path(request: HttpRequest) -> str:
    """Return the page for which an entry is held, or ""."""
    kept = request.session.get(KEY)
    return kept["path"] if kept else ""

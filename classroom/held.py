"""Keeps what was typed into a form when the sender turns out to be signed out, until they are back."""

from __future__ import annotations

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
    encoded = fields.urlencode()
    if len(encoded) <= LONGEST:
        request.session[KEY] = {"path": request.path, "owner": owner, "fields": encoded}


def take(request: HttpRequest, *, owner: str) -> QueryDict | None:
    """Return, once, what was held for the page being opened, or None."""
    if request.method != "GET" or request.COOKIES.get("sb_session") is None:
        return None
    kept = request.session.get(KEY)
    if not kept or kept["path"] != request.path or kept["owner"] != owner:
        return None
    del request.session[KEY]
    return QueryDict(kept["fields"])


def waiting_path(request: HttpRequest) -> str:
    """Return the page for which an entry is held, or ""."""
    kept = request.session.get(KEY)
    return kept["path"] if kept else ""

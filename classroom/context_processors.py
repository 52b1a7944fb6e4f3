"""What every page's template may ask about the installation."""

from __future__ import annotations

from functools import cache
from uuid import UUID

from django.db import DatabaseError
from django.http import HttpRequest

from classroom.models import Installation


@cache
def is_invented() -> bool:
    """Return whether everything in this database is invented; asked once a process, for it never changes."""
    return Installation.objects.filter(demo=True).exists()


@cache
def installation_id() -> UUID:
    """Return which installation this is; asked once a process, for it never changes."""
    return Installation.get().uuid


def installation(_request: HttpRequest) -> dict[str, object]:
    """Add `invented_data`, which shows the ribbon over invented data, and `installation_id` for entries."""
    try:
        return {"invented_data": is_invented(), "installation_id": installation_id()}
    except DatabaseError:
        # The page that says the database is not well must not need it.
        return {"invented_data": False, "installation_id": ""}

"""What every page's template may ask about the installation."""

from __future__ import annotations

from functools import cache

from django.db import DatabaseError
from django.http import HttpRequest

from classroom.models import Installation


@cache
def is_invented() -> bool:
    """Return whether everything in this database is invented; asked once a process, for it never changes."""
    return Installation.objects.filter(demo=True).exists()


def installation(_request: HttpRequest) -> dict[str, object]:
    """Add `invented_data`, which shows the ribbon over invented data."""
    try:
        return {"invented_data": is_invented()}
    except DatabaseError:
        # The page that says the database is not well must not need it.
        return {"invented_data": False}

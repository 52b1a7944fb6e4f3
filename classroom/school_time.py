"""The school's own time zone: times are stored in UTC and shown as the school's clocks show them."""

from __future__ import annotations

import time
import zoneinfo
from collections.abc import Callable
from functools import lru_cache

from django.conf import settings
from django.db import DatabaseError
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from classroom.models import Installation

GetResponse = Callable[[HttpRequest], HttpResponse]


@lru_cache(maxsize=1)
def _zone_read(_period: int) -> zoneinfo.ZoneInfo:
    name = Installation.objects.filter(pk=1).values_list("time_zone", flat=True).first() or "UTC"
    try:
        return zoneinfo.ZoneInfo(name)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError):
        return zoneinfo.ZoneInfo("UTC")


def school_zone() -> zoneinfo.ZoneInfo:
    """Return the school's time zone, read again every few minutes; UTC until one is set."""
    return _zone_read(int(time.monotonic() // settings.SCHOOL_TIME_REREAD_S))


def forget_zone() -> None:
    """Read the time zone again at the next request: it was just set."""
    _zone_read.cache_clear()


def school_time_middleware(get_response: GetResponse) -> GetResponse:
    """Show every time of a page in the school's time zone."""

    def middleware(request: HttpRequest) -> HttpResponse:
        try:
            zone = school_zone()
        except DatabaseError:
            # The health check and the error pages must answer without a database.
            return get_response(request)
        with timezone.override(zone):
            return get_response(request)

    return middleware

"""The page to open on each device the day before: what will work on it and what will not."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from classroom.addresses import recent_change


@never_cache
@require_safe
def check(request: HttpRequest) -> HttpResponse:
    """Show what is tried by the page's script, and whether the server's own address has changed."""
    return render(request, "check.html", {"changed": recent_change(), "secure": request.is_secure()})

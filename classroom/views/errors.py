"""The pages shown when a request cannot be answered; each says what happened and what to do next."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def bad_request(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """400: the request itself could not be read."""
    return render(request, "400.html", status=400)


def forbidden(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """403: not this person's class or team."""
    return render(request, "403.html", status=403)


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """403: the form is older than the browser's session."""
    return render(request, "403_csrf.html", status=403)


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """404: no such page."""
    return render(request, "404.html", status=404)


def server_error(request: HttpRequest) -> HttpResponse:
    """500: our mistake."""
    return render(request, "500.html", status=500)

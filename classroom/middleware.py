"""What every request and answer passes through: host check, security headers, sign-in redirects for htmx."""

from __future__ import annotations

import ipaddress
from collections.abc import Callable

from django.conf import settings
from django.core.exceptions import DisallowedHost
from django.http import HttpRequest, HttpResponse
from django.http.request import split_domain_port

GetResponse = Callable[[HttpRequest], HttpResponse]

CONTENT_SECURITY_POLICY = "; ".join(
    (
        "default-src 'self'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data: blob:",
        "object-src 'none'",
        "base-uri 'none'",
        "form-action 'self'",
        "frame-ancestors 'none'",
    )
)
PERMISSIONS_POLICY = ", ".join(
    (
        "camera=(self)",
        "accelerometer=()",
        "browsing-topics=()",
        "display-capture=()",
        "geolocation=()",
        "gyroscope=()",
        "magnetometer=()",
        "microphone=()",
        "payment=()",
        "usb=()",
    )
)
LOCAL_ENDINGS = (".local", ".lan", ".home.arpa", ".internal", ".localhost")


def is_address(host: str) -> bool:
    """Say whether `host` (no port; IPv6 with or without brackets) is a bare IP address."""
    try:
        ipaddress.ip_address(host.strip("[]"))
    except ValueError:
        return False
    return True


def is_local_name(host: str) -> bool:
    """Say whether `host` is a name that nobody outside the local network can own."""
    return "." not in host or host.endswith(LOCAL_ENDINGS)


def is_this_machine(host: str) -> bool:
    """Say whether a browser counts `host` as its own machine, and so as secure without HTTPS."""
    if host == "localhost" or host.endswith(".localhost"):
        return True
    return is_address(host) and ipaddress.ip_address(host.strip("[]")).is_loopback


def local_host_middleware(get_response: GetResponse) -> GetResponse:
    """Refuse public host names unless they were named in SECOND_BUILD_HOSTS.

    A school's server is reached by its address or a local name, which nobody can know beforehand; a public
    name that somebody else points at that address would let their page read the class.
    """

    def middleware(request: HttpRequest) -> HttpResponse:
        if not settings.NAMED_HOSTS:
            host = split_domain_port(request.get_host())[0]
            if not (is_address(host) or is_local_name(host)):
                raise DisallowedHost("This host name is not in SECOND_BUILD_HOSTS.")
        return get_response(request)

    return middleware


def security_headers_middleware(get_response: GetResponse) -> GetResponse:
    """Put the content security policy and its companions on every answer, static files included."""

    def middleware(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        response.headers.setdefault("Content-Security-Policy", CONTENT_SECURITY_POLICY)
        response.headers.setdefault("Permissions-Policy", PERMISSIONS_POLICY)
        # Not no-store: with it the Back button would lose what was typed.
        response.headers.setdefault("Cache-Control", "private, no-cache")
        response.headers.setdefault("Cross-Origin-Resource-Policy", "same-origin")
        response.headers.setdefault("X-Permitted-Cross-Domain-Policies", "none")
        # Browsers ignore this one, with an error in their console, on plain HTTP from another machine.
        if request.is_secure() or is_this_machine(split_domain_port(request.get_host())[0]):
            response.headers.setdefault("Cross-Origin-Opener-Policy", "same-origin")
        return response

    return middleware


def htmx_redirect_middleware(get_response: GetResponse) -> GetResponse:
    """Answer an htmx request that is sent to a sign-in or join page with HX-Redirect.

    A browser follows a plain redirect by itself, and htmx would then put the whole sign-in page into a corner
    of the page; with this header the browser goes there.
    """

    def middleware(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        if getattr(request, "htmx", False) and response.status_code in (301, 302, 303):
            moved = HttpResponse(status=200)
            moved.cookies = response.cookies
            moved.headers["HX-Redirect"] = response.headers["Location"]
            moved.headers["Cache-Control"] = "no-store"
            return moved
        return response

    return middleware

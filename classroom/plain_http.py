"""What the server leaves out on plain HTTP, and why; shown by `serve` and by `check --deploy`."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Info, Tags, register

LEFT_OUT = (
    ("secure cookies", "a browser sends them over HTTPS only, so nobody could stay signed in"),
    ("the redirect to HTTPS and strict transport security", "there is no HTTPS to send anybody to"),
    (
        "offline pages, a screen kept awake, the clipboard, a live camera picture",
        "browsers keep these for HTTPS; taking a photo with the tablet's own camera still works",
    ),
    ("the cross-origin opener policy", "browsers ignore it on plain HTTP from another machine"),
)
MEANING = (
    "Anyone on the same network could read or change what passes between a tablet and this machine. Use it\n"
    "on a network you trust; for more, put a TLS proxy in front and set SECOND_BUILD_HTTPS=1."
)


def notes() -> list[str]:
    """Return one line for each thing that is left out; empty when HTTPS is on."""
    if settings.HTTPS:
        return []
    return [f"{what}: {why}" for what, why in LEFT_OUT]


@register(Tags.security, deploy=True)
def plain_http_check(app_configs: Any, **options: Any) -> list[CheckMessage]:
    """List what plain HTTP leaves out in `manage.py check --deploy`."""
    return [
        Info(f"Plain HTTP leaves out {line}.", hint=MEANING.replace("\n", " "), id=f"classroom.I{number:03}")
        for number, line in enumerate(notes(), start=1)
    ]

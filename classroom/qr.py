"""QR codes as SVG that stands in the page itself: nothing is fetched, nothing is stored."""

from __future__ import annotations

import io

import segno
from django.http import HttpRequest
from django.utils.safestring import SafeString, mark_safe

from classroom.middleware import is_this_machine


def qr_svg(address: str, title: str) -> SafeString:
    """Return an address as an SVG element with `title` as its name; error correction M (ISO/IEC 18004)."""
    out = io.BytesIO()
    segno.make(address, error="m", micro=False).save(
        out,
        kind="svg",
        xmldecl=False,
        svgns=True,
        omitsize=True,
        border=2,
        title=title,
        svgclass="qr",
        lineclass=None,
    )
    # segno writes the markup and escapes the title; the address is only in the modules.
    return mark_safe(out.getvalue().decode())  # noqa: S308


def opens_elsewhere(request: HttpRequest) -> bool:
    """Return whether the address this page was opened under also opens on other machines."""
    return not is_this_machine(request.get_host().rsplit(":", 1)[0])

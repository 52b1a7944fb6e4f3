"""Ways on: which address that came with a form may be gone to next."""

from __future__ import annotations

from django.utils.http import url_has_allowed_host_and_scheme


def safe_path(path: str) -> str:
    """Return a path of this site, or "" for anything else: another host, a name, half an address."""
    local = path.startswith("/") and url_has_allowed_host_and_scheme(path, allowed_hosts=None)
    return path if local else ""

"""The version of the program, as its package says."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version


def _installed_version() -> str:
    try:
        return version("second-build")
    except PackageNotFoundError:
        return "not installed"


VERSION = _installed_version()

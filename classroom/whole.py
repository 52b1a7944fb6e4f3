"""Whole numbers out of forms and addresses: an id, a round, a count."""

from __future__ import annotations

MOST_DIGITS = 17
"""More than any id has; Python refuses to read some thousand, and no database column holds twenty."""


def whole_number(text: str) -> int | None:
    """Return the number that plain digits say; None for anything else, however long."""
    return int(text) if text.isascii() and text.isdigit() and len(text) <= MOST_DIGITS else None

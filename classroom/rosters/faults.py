"""What can be wrong with a roster: the file as a whole, or one row of it."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

MOST_BYTES = 10_000_000
"""The largest file that is read: a school of 5,000 children fits in about a tenth of it."""
MOST_ROWS = 50_000
"""As many rows as one table may have."""


class RosterError(Exception):
    """Raised for a file that cannot be read at all; the text says what to do about it."""


@dataclass(frozen=True)
class Fault:
    """A row that was not read: its line (from 1), why, and in which file of a package it stands."""

    line: int
    reason: str
    file: str = ""


def too_many_rows() -> RosterError:
    """Return the error of a table that goes on and on."""
    return RosterError(
        _("The file has more than %(most)d rows. Bring in one school at a time.") % {"most": MOST_ROWS}
    )

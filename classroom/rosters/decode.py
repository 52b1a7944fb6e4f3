"""Turns the bytes of a text file into text, and says which encoding they were in."""

from __future__ import annotations

import codecs
from dataclasses import dataclass

from django.utils.translation import gettext as _

from classroom.rosters.faults import RosterError

UNREADABLE = "\ufffd"
"""Stands where a byte means nothing in the file's encoding; a name with it is not read."""

_MARKS = (
    # UTF-32's mark begins with UTF-16's.
    (codecs.BOM_UTF32_LE, "utf-32-le", "UTF-32"),
    (codecs.BOM_UTF32_BE, "utf-32-be", "UTF-32"),
    (codecs.BOM_UTF8, "utf-8", "UTF-8 with a byte order mark"),
    (codecs.BOM_UTF16_LE, "utf-16-le", "UTF-16"),
    (codecs.BOM_UTF16_BE, "utf-16-be", "UTF-16"),
)
_SIGNATURES = {
    b"%PDF": "PDF",
    b"\x89PNG": "PNG",
    b"\xff\xd8\xff": "JPEG",
    b"GIF8": "GIF",
    b"{\\rtf": "RTF",
}


@dataclass(frozen=True)
class Decoded:
    """A text and the name of the encoding it was in."""

    text: str
    encoding: str


def decode(data: bytes) -> Decoded:
    """Return the text of a file in UTF-8 (with or without a mark), UTF-16 or Windows-1252.

    A few bytes that are wrong in their encoding become U+FFFD. Raises RosterError
    for what is no text at all.
    """
    for signature, kind in _SIGNATURES.items():
        if data.startswith(signature):
            raise RosterError(
                _("This is a %(kind)s file. Choose a table: CSV or xlsx, or a OneRoster zip.")
                % {"kind": kind}
            )
    for mark, codec, name in _MARKS:
        if data.startswith(mark):
            return Decoded(data[len(mark) :].decode(codec, errors="replace"), name)
    wide = _wide(data)
    if wide:
        return Decoded(data.decode(wide, errors="replace"), "UTF-16")
    if b"\0" in data:
        raise RosterError(_("This is not a table of text. Save it as CSV or xlsx and choose it again."))
    try:
        return Decoded(data.decode("utf-8"), "UTF-8")
    except UnicodeDecodeError:
        pass
    text = data.decode("utf-8", errors="replace")
    # One damaged byte must not turn every accent of a UTF-8 file into two wrong letters.
    if sum(1 for char in text if char > "\x7f" and char != UNREADABLE) >= 4 * text.count(UNREADABLE):
        return Decoded(text, "UTF-8")
    return Decoded(data.decode("cp1252", errors="replace"), "Windows-1252")


def _wide(data: bytes) -> str:
    """Return the codec of UTF-16 without a mark, known by the zero bytes beside Latin letters, or ""."""
    sample = data[:4000]
    pairs = len(sample) // 2
    if pairs < 2:
        return ""
    # The letters themselves may be of any script; separators and line ends are not.
    even, odd = sample[0::2].count(0), sample[1::2].count(0)
    if odd > 0 and even == 0 and odd * 10 >= pairs:
        return "utf-16-le"
    if even > 0 and odd == 0 and even * 10 >= pairs:
        return "utf-16-be"
    return ""

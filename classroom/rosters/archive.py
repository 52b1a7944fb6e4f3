"""Opens zip files without trusting them: how many parts, how large they grow, which may be read."""

from __future__ import annotations

import zipfile
import zlib

from django.utils.translation import gettext as _

from classroom.rosters.faults import RosterError

MOST_PARTS = 500
MOST_UNPACKED = 100_000_000


def check_archive(archive: zipfile.ZipFile) -> None:
    """Refuse an archive with too many parts, one that grows too large, or one behind a password.

    The sizes a zip states are binding: nothing is unpacked beyond them.
    """
    parts = archive.infolist()
    if len(parts) > MOST_PARTS:
        raise RosterError(_("This zip holds too many files to be a roster."))
    if sum(part.file_size for part in parts) > MOST_UNPACKED:
        raise RosterError(_("This file grows too large when it is unpacked. Bring in one school at a time."))
    if any(part.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED) for part in parts):
        # The other packings may unpack far beyond what they state before anybody can stop them.
        raise RosterError(_("This zip is packed in an unusual way. Pack it again as a plain zip."))
    if any(part.flag_bits & 0x1 for part in parts):
        raise RosterError(_("This zip has a password. Save it without one and choose it again."))


def text_parts(archive: zipfile.ZipFile) -> dict[str, bytes]:
    """Return the CSV files of an archive by their lower-case names, whatever folder they stand in."""
    check_archive(archive)
    found: dict[str, bytes] = {}
    for part in archive.infolist():
        folder, _slash, name = part.filename.rpartition("/")
        key = name.lower()
        if not key.endswith(".csv") or name.startswith(".") or "__MACOSX" in folder:
            continue
        if key in found:
            raise RosterError(_("The zip holds %(name)s twice. Put each file in once.") % {"name": name})
        try:
            found[key] = archive.read(part)
        except (zipfile.BadZipFile, zlib.error, EOFError, OSError, RuntimeError) as error:
            raise RosterError(_("The zip is damaged. Fetch it again and choose it once more.")) from error
    return found

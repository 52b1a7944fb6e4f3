"""Opens a roster file of whatever kind: text with separators, a workbook, or a OneRoster package."""

from __future__ import annotations

import datetime
import io
import zipfile
from collections.abc import Iterable

from django.utils.translation import gettext as _

from classroom.rosters import archive, columns, delimited, oneroster, workbook
from classroom.rosters.decode import decode
from classroom.rosters.faults import MOST_BYTES, Fault, RosterError
from classroom.rosters.oneroster import Package
from classroom.rosters.table import Row, Table

_OLD_WORKBOOK = b"\xd0\xcf\x11\xe0"
_SAMPLE_LINES = 60


def open_roster(data: bytes, today: datetime.date | None = None) -> Table | Package:
    """Return what a file holds: a table without the columns that are nobody's business, or a package.

    `today` is the school's date, by which a package's ended enrollments are left out.
    Raises RosterError, whose text says what to do, for what is neither.
    """
    if len(data) > MOST_BYTES:
        raise too_large()
    if not data.strip():
        raise RosterError(_("The file is empty. Choose the file that holds the list."))
    if data.startswith(_OLD_WORKBOOK):
        raise RosterError(
            _("This workbook is of the old kind (xls). Save it as xlsx or CSV and choose that.")
        )
    if data.startswith(b"PK"):
        return _open_zip(data, today)
    return columns.slimmed(_open_text(data))


def too_large() -> RosterError:
    """Return the error of a file that is larger than any roster."""
    return RosterError(
        _("The file is larger than %(most)d MB. Save only the class list, or one school at a time.")
        % {"most": MOST_BYTES // 1_000_000}
    )


def _open_zip(data: bytes, today: datetime.date | None) -> Table | Package:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as found:
            if workbook.is_workbook(found):
                return columns.slimmed(_best_sheet(data))
            if "mimetype" in found.namelist() or "[Content_Types].xml" in found.namelist():
                raise RosterError(_("This is a document, not a table. Save the list as xlsx or CSV."))
            return oneroster.read_package(archive.text_parts(found), today)
    except zipfile.BadZipFile as error:
        raise RosterError(_("The file is damaged. Fetch it again and choose it once more.")) from error


def _best_sheet(data: bytes) -> Table:
    """Return the sheet whose headings say most about children, the first of those that say alike."""
    sheets = workbook.read_sheets(data)
    tables = [
        columns.make_table(rows, _("Sheet “%(name)s” of the workbook") % {"name": title})
        for title, rows in sheets
    ]
    if not tables:
        raise RosterError(_("The workbook is empty. Choose the file that holds the list."))
    return max(tables, key=lambda table: len(set(columns.meanings(table.headings)) - {""}))


def _open_text(data: bytes) -> Table:
    decoded = decode(data)
    lines = [line for line in delimited.lines_of(decoded.text) if line.strip()]
    separator = ""
    if lines and lines[0].strip().lower().startswith("sep=") and len(lines[0].strip()) == 5:
        # A line that some spreadsheets write and read for themselves.
        separator = lines[0].strip()[4]
        decoded = type(decoded)(decoded.text.replace(lines[0], "", 1), decoded.encoding)
    separator = separator or _separator(lines[:_SAMPLE_LINES])
    rows, faults = _split(delimited.read_rows(decoded.text, separator))
    if not rows and not faults:
        raise RosterError(_("The file is empty. Choose the file that holds the list."))
    named = delimited.SEPARATORS.get(separator, "")
    between = _("separated by %(what)s") % {"what": _SAID[named]()} if named else _("one column")
    table = columns.make_table(rows, f"{decoded.encoding}, {between}", strict=True)
    table.faults.extend(faults)
    return table


_SAID = {
    "comma": lambda: _("commas"),
    "semicolon": lambda: _("semicolons"),
    "tab": lambda: _("tabs"),
    "upright stroke": lambda: _("upright strokes"),
}


def _separator(lines: list[str]) -> str:
    """Return the separator under which the headings are known best, or the rows are most alike."""

    def rank(separator: str) -> tuple[int, int, int]:
        rows = [Row(0, tuple(delimited.split_row(line, separator))) for line in lines]
        place = columns.find_headings(rows)
        known = len(set(columns.meanings(rows[place].cells)) - {""}) if place is not None else 0
        return known, *delimited.consistency(lines, separator)

    best = max(delimited.SEPARATORS, key=rank)
    rows = [Row(0, tuple(delimited.split_row(line, best))) for line in lines]
    place = columns.find_headings(rows)
    if rank(best)[1] == 0 or (place is not None and len(rows[place].cells) == 1):
        # Under one heading the commas belong to the names: 'Pérez, Ana'.
        return delimited.NO_SEPARATOR
    return best


def _split(found: Iterable[Row | Fault]) -> tuple[list[Row], list[Fault]]:
    rows: list[Row] = []
    faults: list[Fault] = []
    for item in found:
        if isinstance(item, Row):
            rows.append(item)
        else:
            faults.append(item)
    return rows, faults

"""Reads the sheets of an xlsx workbook as rows of text, within limits that a zip bomb cannot pass."""

from __future__ import annotations

import io
import zipfile
from datetime import date, datetime, time
from typing import Any

from django.utils.translation import gettext as _

from classroom.rosters.archive import check_archive
from classroom.rosters.faults import MOST_ROWS, RosterError, too_many_rows
from classroom.rosters.table import Row

MOST_COLUMNS = 100
MOST_SHEETS = 10
_HEAD = 2_000


def is_workbook(archive: zipfile.ZipFile) -> bool:
    """Say whether a zip is an xlsx workbook."""
    return "xl/workbook.xml" in archive.namelist()


def read_sheets(data: bytes) -> list[tuple[str, list[Row]]]:
    """Return the name and the rows of each visible sheet that has any, formulas by their last values.

    Raises RosterError for a workbook that cannot be opened or is larger than any roster.
    """
    from openpyxl import load_workbook

    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            check_archive(archive)
            _check_markup(archive)
        book = load_workbook(io.BytesIO(data), read_only=True, data_only=True, keep_links=False)
    except RosterError:
        raise
    except Exception as error:
        # A damaged workbook fails in as many ways as it has parts.
        raise RosterError(
            _("This workbook cannot be opened. Save it again from a spreadsheet and choose it once more.")
        ) from error
    try:
        sheets = [sheet for sheet in book.worksheets if sheet.sheet_state == "visible"][:MOST_SHEETS]
        found = [(sheet.title, _rows(sheet)) for sheet in sheets]
    except RosterError:
        raise
    except Exception as error:
        raise RosterError(
            _("A sheet of this workbook cannot be read. Save the list as CSV and choose that.")
        ) from error
    finally:
        book.close()
    return [(title, rows) for title, rows in found if rows]


def _check_markup(archive: zipfile.ZipFile) -> None:
    """Refuse markup that defines entities: no spreadsheet writes any, and a few lines of it fill a memory."""
    for name in archive.namelist():
        if name.endswith((".xml", ".rels")):
            with archive.open(name) as part:
                if b"<!DOCTYPE" in part.read(_HEAD).replace(b"\0", b""):
                    raise RosterError(_("This workbook was not made by a spreadsheet. Save the list as CSV."))


def _rows(sheet: Any) -> list[Row]:
    # The size that a file says it has may be wrong in both directions.
    sheet.reset_dimensions()
    rows = []
    for line, cells in enumerate(sheet.iter_rows(max_col=MOST_COLUMNS), start=1):
        if line > MOST_ROWS + 1_000:
            raise too_many_rows()
        texts = [_text(cell) for cell in cells]
        while texts and not texts[-1]:
            texts.pop()
        if texts:
            rows.append(Row(line, tuple(texts)))
    return rows


def _text(cell: Any) -> str:
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    if isinstance(value, int):
        zeros = str(cell.number_format or "")
        # An id that is shown as 00123 is 00123.
        return str(value).zfill(len(zeros)) if set(zeros) == {"0"} else str(value)
    if isinstance(value, datetime):
        return (value.date() if value.time() == time() else value).isoformat()
    if isinstance(value, date):
        return value.isoformat()
    return str(value)

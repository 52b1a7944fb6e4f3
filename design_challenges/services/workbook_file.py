"""Writes a workbook's file: openpyxl all that is no cell, we the cells as text, formulas with their results.

openpyxl writes no results beside formulas, and a viewer that does not calculate shows nothing then; and an
object a cell costs more than everything else of a file.
"""

from __future__ import annotations

import io
import posixpath
import re
import zipfile
from collections import defaultdict
from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from xml.etree import ElementTree as ET
from xml.sax.saxutils import escape

from openpyxl import Workbook
from openpyxl.utils import get_column_letter

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
RELATIONS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
Number = Decimal | Fraction | int | float
Value = Decimal | float | int | str
"""A formula's result."""

_NO_CELLS = re.compile(rb"<sheetData(?:></sheetData>| ?/>)")
_NO_SIZE = re.compile(rb'<dimension ref="A1:A1" ?/>')


class Cells:
    """The cells of one sheet, put down in any order; a look is the number of a cell style of the workbook."""

    def __init__(self) -> None:
        self.heights: dict[int, float] = {}
        self._rows: defaultdict[int, dict[int, str]] = defaultdict(dict)

    def empty(self, row: int, column: int, look: int) -> None:
        """Put down a cell that has nothing in it but its look."""
        self._put(row, column, look, "", "")

    def text(self, row: int, column: int, look: int, text: str) -> None:
        """Put down a text, which stays one; no character in it may be one that XML cannot hold."""
        self._put(row, column, look, ' t="inlineStr"', f"<is>{_element('t', text)}</is>")

    def number(self, row: int, column: int, look: int, number: Number) -> None:
        """Put down a number."""
        self._put(row, column, look, "", f"<v>{_digits(number)}</v>")

    def formula(
        self, row: int, column: int, look: int, formula: str, result: Number | str, *, array: bool = False
    ) -> None:
        """Put down a formula (it begins with =) and what it gives; `array` works it out item by item."""
        kind = f' t="array" ref="{get_column_letter(column)}{row}"' if array else ""
        asked = f"<f{kind}>{escape(formula[1:])}</f>"
        if isinstance(result, str):
            self._put(row, column, look, ' t="str"', asked + _element("v", result))
        else:
            self._put(row, column, look, "", f"{asked}<v>{_digits(result)}</v>")

    def _put(self, row: int, column: int, look: int, sort: str, content: str) -> None:
        self._rows[row][column] = f'<c r="{get_column_letter(column)}{row}" s="{look}"{sort}>{content}</c>'

    def as_xml(self) -> bytes:
        """Return the rows as the file holds them, from the top, each from its left."""
        rows = []
        for row in sorted(self._rows.keys() | self.heights.keys()):
            height = f' ht="{self.heights[row]:g}" customHeight="1"' if row in self.heights else ""
            cells = self._rows.get(row, {})
            rows.append(f'<row r="{row}"{height}>{"".join(cells[column] for column in sorted(cells))}</row>')
        return f"<sheetData>{''.join(rows)}</sheetData>".encode()

    @property
    def reach(self) -> str:
        """Return the cells from the first to the last, as "A1:F20"."""
        columns = max((max(cells) for cells in self._rows.values()), default=1)
        return f"A1:{get_column_letter(columns)}{max(self._rows, default=1)}"


def _element(name: str, text: str) -> str:
    # A blank at either end is kept only where the text says that it is meant.
    space = "" if text == text.strip() else ' xml:space="preserve"'
    return f"<{name}{space}>{escape(text)}</{name}>"


def _digits(number: Number) -> str:
    if isinstance(number, Decimal):
        return f"{number:f}"
    return repr(float(number) if isinstance(number, Fraction) else number)


def save_workbook(workbook: Workbook, cells: Mapping[str, Cells]) -> bytes:
    """Return the file of a workbook whose sheets' cells are given by title; its own sheets hold none.

    ValueError where a sheet has cells of its own, or there is no such sheet.
    """
    plain, out = io.BytesIO(), io.BytesIO()
    workbook.save(plain)
    with zipfile.ZipFile(plain) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        titles = _sheet_titles(old)
        if missing := cells.keys() - set(titles.values()):
            raise ValueError(f"There is no sheet {', '.join(sorted(missing))} to put cells into.")
        for item in old.infolist():
            content = old.read(item)
            if item.filename in titles:
                content = _with_cells(content, cells[titles[item.filename]])
            new.writestr(item, content)
    return out.getvalue()


def _with_cells(sheet: bytes, cells: Cells) -> bytes:
    # A function in place of the text: whatever stands in a cell is no pattern.
    size, rows = f'<dimension ref="{cells.reach}"/>'.encode(), cells.as_xml()
    sheet, sizes = _NO_SIZE.subn(lambda _found: size, sheet)
    sheet, places = _NO_CELLS.subn(lambda _found: rows, sheet)
    if (sizes, places) != (1, 1):
        raise ValueError("This sheet has cells of its own.")
    return sheet


def _sheet_titles(package: zipfile.ZipFile) -> dict[str, str]:
    """Return the sheets' titles by their place in the package."""
    relations = ET.fromstring(package.read("xl/_rels/workbook.xml.rels"))  # noqa: S314
    places = {relation.get("Id"): relation.get("Target", "") for relation in relations}
    book = ET.fromstring(package.read("xl/workbook.xml"))  # noqa: S314
    return {
        # A target is written from the package's root, or from the workbook's own folder.
        posixpath.join("/xl", places[sheet.get(f"{{{RELATIONS}}}id")]).lstrip("/"): sheet.get("name", "")
        for sheet in book.iter(f"{{{MAIN}}}sheet")
    }

"""Puts the results of a workbook's formulas into its file: openpyxl writes formulas without their values."""

from __future__ import annotations

import io
import posixpath
import re
import zipfile
from collections.abc import Mapping
from decimal import Decimal
from xml.etree import ElementTree as ET
from xml.sax.saxutils import escape

from openpyxl import Workbook

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
RELATIONS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE = "http://schemas.openxmlformats.org/package/2006/relationships"
Value = Decimal | float | int | str
Values = Mapping[str, Mapping[str, Value]]
"""The formulas' results, by sheet title and cell ("E5")."""


def save_with_values(workbook: Workbook, values: Values) -> bytes:
    """Return the workbook's file with every formula's result beside it.

    ValueError where a formula has no result in `values`, or a result has no formula: a file
    that shows one number before a calculation and another one after it must not go out.
    """
    plain = io.BytesIO()
    workbook.save(plain)
    return add_values(plain.getvalue(), values)


def add_values(file: bytes, values: Values) -> bytes:
    """Return the xlsx file with the results of its formulas added; ValueError as `save_with_values`."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(file)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        titles = sheet_titles(old)
        for missing in values.keys() - set(titles.values()):
            raise ValueError(f"There is no sheet {missing!r} to put values into.")
        for item in old.infolist():
            content = old.read(item)
            if item.filename in titles:
                content = _with_values(content, values.get(titles[item.filename], {}))
            new.writestr(item, content)
    return out.getvalue()


def sheet_titles(package: zipfile.ZipFile) -> dict[str, str]:
    """Return the sheets' titles by their place in the package."""
    relations = ET.fromstring(package.read("xl/_rels/workbook.xml.rels"))  # noqa: S314
    places = {relation.get("Id"): relation.get("Target", "") for relation in relations}
    book = ET.fromstring(package.read("xl/workbook.xml"))  # noqa: S314
    return {
        # A target is written from the package's root, or from the workbook's own folder.
        posixpath.join("/xl", places[sheet.get(f"{{{RELATIONS}}}id")]).lstrip("/"): sheet.get("name", "")
        for sheet in book.iter(f"{{{MAIN}}}sheet")
    }


def _with_values(content: bytes, values: Mapping[str, Value]) -> bytes:
    text = content.decode("utf-8")
    waiting = dict(values)

    def put(found: re.Match[str]) -> str:
        place = found["place"]
        if place not in waiting:
            raise ValueError(f"The formula in {place} has no value.")
        return _with_value(found, waiting.pop(place))

    # By its text: to take the whole sheet apart and put it together again takes as long as writing it.
    changed, number = _FORMULA_CELL.subn(put, text)
    if number != len(_FORMULA.findall(text)):
        raise ValueError("There is a formula in a cell of another form than openpyxl writes.")
    if waiting:
        raise ValueError(f"There is no formula for the values of {', '.join(sorted(waiting))}.")
    return changed.encode("utf-8")


_FORMULA = re.compile(r"<f[ >/]")
# No text inside holds a < of its own: that is written &lt;.
_FORMULA_CELL = re.compile(
    r'<c(?P<before>(?: [\w:]+="[^"]*")*?) r="(?P<place>[A-Z]+[0-9]+)"(?P<after>(?: [\w:]+="[^"]*")*)>'
    r"(?P<formula><f(?: [^>]*)?>[^<]*</f>)<v(?: ?/>|>[^<]*</v>)</c>"
)
_TYPE = re.compile(r' t="[^"]*"')


def _with_value(cell: re.Match[str], value: Value) -> str:
    looks = _TYPE.sub("", cell["before"] + cell["after"])
    if isinstance(value, str):
        kind, text = ' t="str"', escape(value)
        # A blank at either end is kept only where the text says that it is meant.
        space = ' xml:space="preserve"' if text != text.strip() else ""
    else:
        kind, text, space = "", f"{value:f}" if isinstance(value, Decimal) else repr(value), ""
    return f'<c r="{cell["place"]}"{looks}{kind}>{cell["formula"]}<v{space}>{text}</v></c>'

"""Puts the results of a workbook's formulas into its file: openpyxl writes formulas without their values."""

from __future__ import annotations

import io
import posixpath
import zipfile
from collections.abc import Mapping
from decimal import Decimal
from xml.etree import ElementTree as ET

from openpyxl import Workbook

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
RELATIONS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE = "http://schemas.openxmlformats.org/package/2006/relationships"
for _prefix, _namespace in (
    ("", MAIN),
    ("r", RELATIONS),
    ("mc", "http://schemas.openxmlformats.org/markup-compatibility/2006"),
):
    ET.register_namespace(_prefix, _namespace)

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
    root = ET.fromstring(content)  # noqa: S314
    waiting = dict(values)
    for cell in root.iter(f"{{{MAIN}}}c"):
        if cell.find(f"{{{MAIN}}}f") is None:
            continue
        place = cell.get("r", "")
        if place not in waiting:
            raise ValueError(f"The formula in {place} has no value.")
        _put(cell, waiting.pop(place))
    if waiting:
        raise ValueError(f"There is no formula for the values of {', '.join(sorted(waiting))}.")
    return ET.tostring(root, encoding="UTF-8", xml_declaration=True)


def _put(cell: ET.Element, value: Value) -> None:
    element = cell.find(f"{{{MAIN}}}v")
    if element is None:
        element = ET.SubElement(cell, f"{{{MAIN}}}v")
    if isinstance(value, str):
        cell.set("t", "str")
        element.text = value
        return
    cell.attrib.pop("t", None)
    element.text = f"{value:f}" if isinstance(value, Decimal) else repr(value)

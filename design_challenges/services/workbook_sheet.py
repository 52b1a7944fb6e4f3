"""One sheet of a workbook as it is filled: texts that stay texts, formulas with results, looks, print."""

from __future__ import annotations

import re
from collections.abc import Sequence
from copy import copy
from decimal import Decimal
from fractions import Fraction

from openpyxl import Workbook
from openpyxl.cell import Cell
from openpyxl.styles import Alignment, Border, Font, NamedStyle, PatternFill, Side
from openpyxl.styles.cell_style import StyleArray
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.formula import ArrayFormula
from openpyxl.worksheet.properties import PageSetupProperties

from design_challenges.services.exports import clean_text
from design_challenges.services.workbook_values import Value

INK, RULE, HEAD_FILL, MARK_FILL = "1D2B4F", "DFD6C1", "EFE8D8", "FFF8E6"
FONT, FONT_SIZE, LINE_HEIGHT = "Arial", 10, 14.0
WIDEST = 60
MARGIN = 0.45
"""Inches to the paper's edge: printers reach that far, and a wide sheet needs it."""
PAPER = {"us": 1, "metric": 9}  # Letter, A4

_LOOKS_ESCAPED = re.compile(r"_(?=x[0-9A-Fa-f]{4}_)")

Number = Decimal | Fraction | int | float


def add_styles(workbook: Workbook) -> None:
    """Register the styles that cells share: one each, since a style a cell costs three times the time."""
    rule = Border(bottom=Side(style="hair", color=RULE))
    for style in (
        NamedStyle(
            "sb_head",
            font=_font(bold=True),
            fill=PatternFill("solid", fgColor=HEAD_FILL),
            border=Border(bottom=Side(style="medium", color=INK)),
            alignment=Alignment(horizontal="left", wrap_text=True, vertical="bottom", indent=1),
        ),
        NamedStyle(
            "sb_head_number",
            font=_font(bold=True),
            fill=PatternFill("solid", fgColor=HEAD_FILL),
            border=Border(bottom=Side(style="medium", color=INK)),
            alignment=Alignment(horizontal="right", wrap_text=True, vertical="bottom"),
        ),
        NamedStyle(
            "sb_text",
            font=_font(),
            border=rule,
            alignment=Alignment(horizontal="left", vertical="top", indent=1),
        ),
        NamedStyle(
            "sb_long",
            font=_font(),
            border=rule,
            alignment=Alignment(horizontal="left", vertical="top", wrap_text=True, indent=1),
        ),
        NamedStyle(
            "sb_mark",
            font=_font(),
            fill=PatternFill("solid", fgColor=MARK_FILL),
            border=Border(*[Side(style="thin", color=RULE)] * 4),
            alignment=Alignment(vertical="top", wrap_text=True),
        ),
        NamedStyle(
            "sb_level",
            font=_font(),
            fill=PatternFill("solid", fgColor=MARK_FILL),
            border=Border(*[Side(style="thin", color=RULE)] * 4),
            alignment=Alignment(horizontal="right", vertical="top"),
        ),
    ):
        workbook.add_named_style(style)


def _font(*, bold: bool = False) -> Font:
    return Font(name=FONT, size=FONT_SIZE, bold=bold, color=INK)


def places_format(places: int, unit: str = "") -> str:
    """Return the number format with so many decimals, the unit behind the number where one is given."""
    digits = "0." + "0" * places if places else "0"
    return f'{digits}" {unit}"' if unit else digits


class Sheet:
    """A sheet, the results of its formulas, and how wide its columns have to be."""

    def __init__(self, workbook: Workbook, title: str) -> None:
        self.workbook = workbook
        self.sheet = workbook.create_sheet(title)
        self.title = title
        self.values: dict[str, Value] = {}
        self.widths: dict[int, int] = {}
        self.number_columns: set[int] = set()
        self._looks: dict[str, StyleArray] = {}

    def header(self, labels: Sequence[str]) -> None:
        """Write the header row and keep it in view."""
        for column, label in enumerate(labels, start=1):
            self.text(1, column, label, style="sb_head")
            self.widths[column] = max(5, *(len(line) for line in label.splitlines()))
        lines = max(len(label.splitlines()) for label in labels)
        self.sheet.row_dimensions[1].height = LINE_HEIGHT * lines + 8

    def text(self, row: int, column: int, text: str, *, style: str = "sb_text") -> None:
        """Write a text that stays one, whatever it begins with."""
        cell = self._cell(row, column, style)
        cleaned = clean_text(text)
        if not cleaned:
            return
        # The format reads _x0041_ as a character's number; the escape of the underscore keeps it a text.
        cell.value = _LOOKS_ESCAPED.sub("_x005F_", cleaned)
        cell.data_type = "s"
        if cleaned[0] in "=+-@":
            # Otherwise it becomes a formula when somebody only goes into the cell and out again.
            cell.quotePrefix = True
        self.widths[column] = max(self.widths.get(column, 0), min(len(cleaned), WIDEST))
        if style == "sb_long":
            lines = -(-len(cleaned) // (WIDEST + 8))
            height = max(LINE_HEIGHT * lines, self.sheet.row_dimensions[row].height or LINE_HEIGHT)
            self.sheet.row_dimensions[row].height = height

    def number(self, row: int, column: int, value: Number | None, *, places: str = "General") -> None:
        """Write a number, or leave the cell empty."""
        cell = self._cell(row, column, self._number_style(places))
        self.number_columns.add(column)
        if value is not None:
            cell.value = float(value) if isinstance(value, Fraction) else value

    def formula(
        self,
        row: int,
        column: int,
        formula: str,
        result: Number | str | None,
        *,
        places: str = "General",
        array: bool = False,
        words: bool = False,
    ) -> None:
        """Write a formula with its result; None is a formula's empty text."""
        cell = self._cell(row, column, "sb_text" if words else self._number_style(places))
        if not words:
            self.number_columns.add(column)
        cell.value = ArrayFormula(cell.coordinate, formula) if array else formula
        if isinstance(result, Fraction):
            result = float(result)
        self.values[cell.coordinate] = "" if result is None else result
        if isinstance(result, str):
            self.widths[column] = max(self.widths.get(column, 0), len(result))

    def mark_place(self, row: int, column: int) -> None:
        """Leave an empty place for a teacher's mark."""
        self._cell(row, column, "sb_mark")

    def level(self, row: int, column: int, level: int | None) -> None:
        """Write a level in its place, or leave the place empty."""
        self._cell(row, column, "sb_level").value = level

    def _cell(self, row: int, column: int, style: str) -> Cell:
        cell = self.sheet.cell(row, column)
        # By its name a style is looked for among all of them and bound anew: once a style is enough.
        if style not in self._looks:
            cell.style = style
            self._looks[style] = cell._style
        cell._style = copy(self._looks[style])
        return cell

    def _number_style(self, places: str) -> str:
        name = f"sb_number {places}"
        if name not in self._looks and name not in self.workbook.named_styles:
            self.workbook.add_named_style(
                NamedStyle(
                    name,
                    font=_font(),
                    border=Border(bottom=Side(style="hair", color=RULE)),
                    alignment=Alignment(vertical="top"),
                    number_format=places,
                )
            )
        return name

    def ref(self, row: int, column: int) -> str:
        """Return a cell of this sheet for a formula in another one."""
        return f"{self.title}!${get_column_letter(column)}${row}"

    def column(self, column: int, last_row: int) -> str:
        """Return a whole column under the header for a formula in another sheet."""
        letter = get_column_letter(column)
        return f"{self.title}!${letter}$2:${letter}${max(2, last_row)}"

    def finish(self, *, freeze: str, footer: str, unit_system: str) -> None:
        """Set widths, what stays in view, and how it prints: as wide as a page, the header on each."""
        for column, width in self.widths.items():
            self.sheet.column_dimensions[get_column_letter(column)].width = width + 2
        for column in self.number_columns:
            self.sheet.cell(1, column).style = "sb_head_number"
        self.sheet.freeze_panes = freeze
        self.sheet.print_title_rows = "1:1"
        self.sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
        self.sheet.page_setup.orientation = "landscape"
        self.sheet.page_setup.paperSize = PAPER[unit_system]
        self.sheet.page_setup.fitToWidth = 1
        self.sheet.page_setup.fitToHeight = 0
        margins = self.sheet.page_margins
        margins.left = margins.right = margins.top = MARGIN
        margins.bottom, margins.footer = 2 * MARGIN, MARGIN
        self.sheet.oddFooter.left.text = footer.replace("&", "&&")
        self.sheet.oddFooter.center.text = "&A"
        self.sheet.oddFooter.right.text = "&P / &N"

"""One sheet of a workbook as it is filled: texts that stay texts, formulas with results, looks, print."""

from __future__ import annotations

import re
from collections.abc import Sequence

from openpyxl import Workbook
from openpyxl.cell import Cell
from openpyxl.styles import Alignment, Border, Font, NamedStyle, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.properties import PageSetupProperties

from design_challenges.services.exports import clean_text
from design_challenges.services.workbook_file import Cells, Number

INK, RULE, HEAD_FILL, MARK_FILL = "1D2B4F", "DFD6C1", "EFE8D8", "FFF8E6"
FONT, FONT_SIZE, LINE_HEIGHT = "Arial", 10, 14.0
WIDEST = 60
MARGIN = 0.45
"""Inches to the paper's edge: printers reach that far, and a wide sheet needs it."""
PAPER = {"us": 1, "metric": 9}  # Letter, A4

_LOOKS_ESCAPED = re.compile(r"_(?=x[0-9A-Fa-f]{4}_)")


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
    """A sheet as it is filled: its cells, the results of its formulas, how wide its columns have to be."""

    def __init__(self, workbook: Workbook, title: str) -> None:
        self.workbook = workbook
        self.sheet = workbook.create_sheet(title)
        self.title = title
        self.cells = Cells()
        self.values: dict[tuple[int, int], Number | str] = {}
        self.widths: dict[int, int] = {}
        self._number_columns: set[int] = set()
        self._labels: list[str] = []
        self._looks: dict[tuple[str, bool], int] = {}

    def header(self, labels: Sequence[str]) -> None:
        """Write the header row; it stays in view and stands to the right over numbers."""
        self._labels = list(labels)
        for column, label in enumerate(labels, start=1):
            self.widths[column] = max(5, *(len(line) for line in label.splitlines()))
        lines = max(len(label.splitlines()) for label in labels)
        self.cells.heights[1] = LINE_HEIGHT * lines + 8

    def text(self, row: int, column: int, text: str, *, style: str = "sb_text") -> None:
        """Write a text that stays one, whatever it begins with."""
        cleaned = clean_text(text)
        if not cleaned:
            self.cells.empty(row, column, self._look(style))
            return
        # Otherwise it becomes a formula when somebody only goes into the cell and out again.
        look = self._look(style, quoted=cleaned[0] in "=+-@")
        # The format reads _x0041_ as a character's number; the escape of the underscore keeps it a text.
        plain = "_x" not in cleaned
        self.cells.text(row, column, look, cleaned if plain else _LOOKS_ESCAPED.sub("_x005F_", cleaned))
        self.widths[column] = max(self.widths.get(column, 0), min(len(cleaned), WIDEST))
        if style == "sb_long":
            lines = -(-len(cleaned) // (WIDEST + 8))
            self.cells.heights[row] = max(LINE_HEIGHT * lines, self.cells.heights.get(row, LINE_HEIGHT))

    def number(self, row: int, column: int, value: Number | None, *, places: str = "General") -> None:
        """Write a number, or leave the cell empty."""
        self._number_columns.add(column)
        look = self._number_look(places)
        if value is None:
            self.cells.empty(row, column, look)
        else:
            self.cells.number(row, column, look, value)

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
        look = self._look("sb_text") if words else self._number_look(places)
        if not words:
            self._number_columns.add(column)
        found = "" if result is None else result
        self.cells.formula(row, column, look, formula, found, array=array)
        self.values[row, column] = found
        if isinstance(found, str):
            self.widths[column] = max(self.widths.get(column, 0), len(found))

    def mark_place(self, row: int, column: int) -> None:
        """Leave an empty place for a teacher's mark."""
        self.cells.empty(row, column, self._look("sb_mark"))

    def level(self, row: int, column: int, level: int | None) -> None:
        """Write a level in its place, or leave the place empty."""
        look = self._look("sb_level")
        if level is None:
            self.cells.empty(row, column, look)
        else:
            self.cells.number(row, column, look, level)

    def _look(self, style: str, *, quoted: bool = False) -> int:
        """Return the number that a cell of a style carries, found out once a style."""
        look = self._looks.get((style, quoted))
        if look is None:
            cell = Cell(self.sheet, 1, 1)
            cell.style = style
            cell.quotePrefix = quoted
            look = self._looks[style, quoted] = cell.style_id
        return look

    def _number_look(self, places: str) -> int:
        name = f"sb_number {places}"
        if (name, False) not in self._looks and name not in self.workbook.named_styles:
            self.workbook.add_named_style(
                NamedStyle(
                    name,
                    font=_font(),
                    border=Border(bottom=Side(style="hair", color=RULE)),
                    alignment=Alignment(vertical="top"),
                    number_format=places,
                )
            )
        return self._look(name)

    def ref(self, row: int, column: int) -> str:
        """Return a cell of this sheet for a formula in another one."""
        return f"{self.title}!${get_column_letter(column)}${row}"

    def column(self, column: int, last_row: int) -> str:
        """Return a whole column under the header for a formula in another sheet."""
        letter = get_column_letter(column)
        return f"{self.title}!${letter}$2:${letter}${max(2, last_row)}"

    def finish(self, *, freeze: str, footer: str, unit_system: str) -> None:
        """Write the header and set widths, what stays in view, and the print: a page wide, headed on each."""
        for column, label in enumerate(self._labels, start=1):
            head = "sb_head_number" if column in self._number_columns else "sb_head"
            self.cells.text(1, column, self._look(head), clean_text(label))
        for column, width in self.widths.items():
            self.sheet.column_dimensions[get_column_letter(column)].width = width + 2
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

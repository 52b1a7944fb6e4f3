"""The gradebook's picture of both rounds, as a chart of the spreadsheet's own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from django.utils.translation import gettext as _
from openpyxl.chart import BarChart
from openpyxl.chart.axis import ChartLines
from openpyxl.chart.data_source import (
    AxDataSource,
    NumData,
    NumDataSource,
    NumRef,
    NumVal,
    StrData,
    StrRef,
    StrVal,
)
from openpyxl.chart.series import Series, SeriesLabel
from openpyxl.chart.shapes import GraphicalProperties
from openpyxl.drawing.line import LineProperties

from design_challenges.services.exports import clean_text
from design_challenges.services.workbook_sheet import RULE, Sheet

BLUE, ORANGE, GREEN, PURPLE = "0072B2", "D55E00", "009E73", "CC79A7"
LINE_WIDTH = 19050
"""1.5 pt in the file's own unit (12 700 to a point)."""


def add_chart(
    sheet: Sheet, *, title: str, names: Sequence[str], columns: Mapping[int, int], number_format: str
) -> None:
    """Draw each team's figure of every round under the table: round 1 hollow, later rounds filled.

    `columns` gives each round's column. The chart carries the values it was drawn from, since a
    viewer that does not calculate draws nothing without them.
    """
    chart = BarChart()
    chart.type, chart.grouping = "col", "clustered"
    chart.title, chart.height, chart.width = title, 11, max(22, min(44, 2.6 * len(names)))
    chart.y_axis.number_format = number_format
    chart.y_axis.scaling.min = 0
    chart.x_axis.delete = chart.y_axis.delete = False
    chart.y_axis.majorGridlines = ChartLines(spPr=GraphicalProperties(ln=LineProperties(solidFill=RULE)))
    chart.legend.position = "b"
    last = len(names) + 1
    for place, (number, column) in enumerate(columns.items()):
        values = [sheet.values[row, column] for row in range(2, last + 1)]
        points = [NumVal(idx=index, v=str(value)) for index, value in enumerate(values) if value != ""]
        numbers = NumData(formatCode=number_format, ptCount=len(values), pt=points)
        words = [StrVal(idx=index, v=clean_text(name)) for index, name in enumerate(names)]
        chart.series.append(
            Series(
                idx=place,
                order=place,
                tx=SeriesLabel(v=_("Round {number}").format(number=number)),
                cat=AxDataSource(
                    strRef=StrRef(f=sheet.column(2, last), strCache=StrData(ptCount=len(words), pt=words))
                ),
                val=NumDataSource(numRef=NumRef(f=sheet.column(column, last), numCache=numbers)),
                spPr=_fill(number),
            )
        )
    sheet.sheet.add_chart(chart, f"B{last + 2}")


def _fill(number: int) -> GraphicalProperties:
    color = {1: BLUE, 2: BLUE, 3: ORANGE, 4: GREEN}.get(number, PURPLE)
    look = GraphicalProperties(ln=LineProperties(solidFill=color, w=LINE_WIDTH))
    if number == 1:
        look.solidFill = "FFFFFF"
    else:
        look.solidFill = color
    return look

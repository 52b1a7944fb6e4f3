"""The gradebook's sheet of trials: every reading, counting or not, which all its formulas go by."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.translation import gettext as _
from openpyxl.formatting.rule import FormulaRule
from openpyxl.styles import Font
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.datavalidation import DataValidation

from design_challenges.services import gradebook_formulas as formulas
from design_challenges.services.exports import TrialRow
from design_challenges.services.gradebook_settings import SettingsSheet
from design_challenges.services.record_types import ClassRecord
from design_challenges.services.workbook_sheet import Sheet, places_format

SPARE_ROWS = 100
"""Rows that the formulas watch below the last reading: a teacher may add some."""


def fill_trials(
    sheet: Sheet, settings: SettingsSheet, rows: Sequence[TrialRow], *, klass: ClassRecord
) -> None:
    """Write a row a reading and name the columns that the formulas of the other sheets read."""
    sheet.header(
        [
            _("Team\nno."),
            _("Team"),
            _("Round"),
            _("Trial"),
            _("Attempt"),
            _("Fall time\n(s)"),
            _("Rounded\n(s)"),
            _("Counts"),
            _("Reason"),
            _("Entered"),
        ]
    )
    for row, trial in enumerate(rows, start=2):
        sheet.number(row, 1, trial.team.place if trial.team else None)
        sheet.text(row, 2, trial.team.team.name if trial.team else "")
        sheet.number(row, 3, trial.round)
        sheet.number(row, 4, trial.trial)
        sheet.number(row, 5, trial.attempt)
        sheet.number(row, 6, trial.fall_time_s, places=places_format(2))
        values = trial.record.values if trial.record else klass.values
        places = settings.cell(
            "places_time", trial.record.settings_version if trial.record else klass.settings.version
        )
        sheet.formula(
            row,
            7,
            formulas.rounded_reading(f"F{row}", places),
            trial.rounded_s,
            places=places_format(values["places_time"]),
        )
        sheet.text(row, 8, "yes" if trial.counts else "no")
        sheet.text(row, 9, trial.reason, style="sb_long")
        sheet.text(row, 10, trial.source)
    last = len(rows) + 1
    watched = last + SPARE_ROWS
    for name, column in (
        (formulas.TEAM, 1),
        (formulas.ROUND, 3),
        (formulas.RAW, 6),
        (formulas.ROUNDED, 7),
        (formulas.COUNTS, 8),
    ):
        sheet.workbook.defined_names[name] = DefinedName(name, attr_text=sheet.column(column, watched))
    choice = DataValidation(type="list", formula1='"yes,no"', allow_blank=True)
    choice.add(f"H2:H{watched}")
    sheet.sheet.add_data_validation(choice)
    sheet.sheet.conditional_formatting.add(
        f"A2:J{watched}", FormulaRule(formula=['$H2="no"'], font=Font(color="6B6F80", italic=True))
    )
    sheet.sheet.auto_filter.ref = f"A1:J{last}"

"""The gradebook's sheet of settings: every version, and the cells that the formulas read."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.utils.translation import gettext as _
from openpyxl import Workbook

from design_challenges.models import ChallengeSettings
from design_challenges.services.record_types import ClassRecord
from design_challenges.services.records import settings_values
from design_challenges.services.workbook_sheet import Sheet

FIRST_VERSION = 3


class SettingsSheet:
    """A row a setting, a column a version; `cell` says where a formula finds a setting."""

    def __init__(self, workbook: Workbook, klass: ClassRecord) -> None:
        self.klass = klass
        self.sheet = Sheet(workbook, "Settings")
        self.versions = list(klass.challenge.settings_versions.order_by("version"))
        self.rows: dict[str, int] = {}

    def cell(self, slug: str, version: int | None = None) -> str:
        """Return the cell of a setting in a version (the newest where none is given) for a formula."""
        numbers = [settings.version for settings in self.versions]
        place = numbers.index(version if version is not None else self.klass.settings.version)
        return self.sheet.ref(self.rows[slug], FIRST_VERSION + place)

    def fill(self) -> None:
        """Write every setting of every version."""
        labels = [_("Setting"), _("What it means")]
        labels += [_("Version {number}").format(number=settings.version) for settings in self.versions]
        self.sheet.header(labels)
        row = 2
        for slug, label, explained in self._settings():
            self.rows[slug] = row
            self.sheet.text(row, 1, label)
            self.sheet.text(row, 2, explained, style="sb_long")
            for column, settings in enumerate(self.versions, start=FIRST_VERSION):
                self._value(row, column, slug, settings)
            row += 1
        for label, words in self._notes():
            self.sheet.text(row, 1, label)
            self.sheet.text(row, 2, words, style="sb_long")
            row += 1

    def _settings(self) -> list[tuple[str, str, str]]:
        """Return (slug, label with unit, explanation) of every setting, what all kinds have first."""
        common = [
            ("unit_system", _("Units"), _("What the class measures in.")),
            ("trials_per_round", _("Drops a round"), _("How many drops that count a round's sums wait for.")),
            ("sums_by", _("Sums"), _("Who works the sums; the software checks them either way.")),
            ("average", _("Average"), _("How the times of a round become one.")),
            (
                "drawing_required",
                _("Drawing required"),
                _("Whether a labelled drawing comes before building."),
            ),
        ]
        system = self.klass.kind.system(self.klass.values)
        own = []
        for setting in self.klass.kind.setting_fields:
            unit = str(setting.unit(system)) if setting.unit else ""
            label = f"{setting.label} ({unit})" if unit else str(setting.label)
            own.append((setting.slug, label, str(setting.help)))
        return common + own

    def _value(self, row: int, column: int, slug: str, settings: ChallengeSettings) -> None:
        value = self._shown(slug, settings_values(settings, self.klass.kind), settings)
        if isinstance(value, str):
            self.sheet.text(row, column, value)
        else:
            self.sheet.number(row, column, value)

    def _shown(
        self, slug: str, values: Mapping[str, Any], settings: ChallengeSettings
    ) -> str | int | Decimal | Fraction:
        value = values[slug]
        if isinstance(value, bool):
            return _("yes") if value else _("no")
        display = getattr(settings, f"get_{slug}_display", None)
        if display is not None:
            return str(display())
        for setting in self.klass.kind.setting_fields:
            if setting.slug == slug and setting.choices:
                return str(dict(setting.choices).get(value, value))
        return value if isinstance(value, int | Decimal | Fraction) else str(value)

    def _notes(self) -> list[tuple[str, str]]:
        klass = self.klass
        used: dict[int, set[int]] = {}
        for team in klass.teams:
            for number, record in team.rounds.items():
                used.setdefault(number, set()).add(record.settings_version)
        rounds = [
            (
                _("Round {number}").format(number=number),
                _("Settings of version {versions}.").format(versions=", ".join(map(str, sorted(versions)))),
            )
            for number, versions in sorted(used.items())
        ]
        return [
            *rounds,
            (_("Class"), klass.challenge.classroom.name),
            (_("Challenge"), str(klass.kind.name)),
            (
                _("Live formulas"),
                _(
                    "Times, speeds and changes are worked out from the sheet Trials. "
                    "Change yes to no there and the figures follow."
                ),
            ),
            (
                _("Rounding"),
                _("Half-up at every step, as the children work it; the exact columns are not rounded."),
            ),
        ]

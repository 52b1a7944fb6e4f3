"""The gradebook: a row a child, a row a team, every reading, the settings; its figures are live formulas."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _
from openpyxl import Workbook
from openpyxl.utils import get_column_letter

from classroom.models import Attendance, Lesson, Student
from design_challenges.kinds.base import ResultFigures
from design_challenges.services import gradebook_formulas as formulas
from design_challenges.services.change_words import team_change
from design_challenges.services.exports import trial_rows
from design_challenges.services.gradebook_chart import add_chart
from design_challenges.services.gradebook_marks import MarkSheets
from design_challenges.services.gradebook_settings import SettingsSheet
from design_challenges.services.gradebook_trials import fill_trials
from design_challenges.services.marking.page import load_alone
from design_challenges.services.marks import load_marks
from design_challenges.services.record_types import ClassRecord, RoundRecord, TeamRecord
from design_challenges.services.workbook_file import save_workbook
from design_challenges.services.workbook_sheet import Sheet, add_styles, places_format

EXACT = places_format(4)


def gradebook_bytes(klass: ClassRecord) -> bytes:
    """Return the gradebook of a class as an xlsx file, formulas with their results.

    `klass` is what `exports.load_export` gives. Every mean, speed and change is worked out by
    the spreadsheet from the sheet of trials, and equals the server's figure.
    """
    return _Gradebook(klass).file()


@dataclass(frozen=True)
class _RoundColumns:
    """The columns of one round on the sheet of teams."""

    variables: tuple[int, ...]
    material: int
    counted: int
    needed: int
    average: int
    speed: int
    exact_average: int
    exact_speed: int


class _Gradebook:
    def __init__(self, klass: ClassRecord) -> None:
        self.klass = klass
        self.classroom = klass.challenge.classroom
        self.system = klass.kind.system(klass.values)
        self.performance = klass.kind.performance(klass.values)
        self.rounds = range(
            1, max([klass.challenge.rounds, *(n for team in klass.teams for n in team.rounds)]) + 1
        )
        self.by_time = self.performance.slug == "average_time"
        self.changes: dict[int, Decimal | None] = {}
        self.change_words = str(self.performance.more), str(self.performance.less), _("no change")
        self.workbook = Workbook()
        self.workbook.remove(self.workbook.active)
        add_styles(self.workbook)
        self.students, self.teams, self.trials = (
            Sheet(self.workbook, title) for title in ("Students", "Teams", "Trials")
        )
        self.settings = SettingsSheet(self.workbook, klass)
        marks = load_marks(klass)
        self.marks = (
            MarkSheets(lambda title: Sheet(self.workbook, title), marks, load_alone(klass.challenge, klass))
            if marks
            else None
        )

    def file(self) -> bytes:
        self.settings.fill()
        fill_trials(self.trials, self.settings, trial_rows(self.klass), klass=self.klass)
        self.fill_teams()
        self.fill_students()
        if self.marks:
            self.marks.fill()
        sheets = [
            *((self.students, "B2"), (self.teams, "C2"), (self.trials, "C2"), (self.settings.sheet, "B2")),
            *(self.marks.sheets if self.marks else ()),
        ]
        for sheet, freeze in sheets:
            sheet.finish(freeze=freeze, footer=self.classroom.name, unit_system=self.system.slug)
        if self.marks:
            self.marks.finish()
        self.workbook.active = 0
        self.workbook.properties.creator = "Second Build"
        self.workbook.properties.title = _("Gradebook")
        return save_workbook(self.workbook, {sheet.title: sheet.cells for sheet, _freeze in sheets})

    def values_of(self, record: RoundRecord | None) -> Mapping[str, Any]:
        return record.values if record else self.klass.values

    def version_of(self, record: RoundRecord | None) -> int:
        return record.settings_version if record else self.klass.settings.version

    def time_format(self, record: RoundRecord | None) -> str:
        return places_format(self.values_of(record)["places_time"])

    def speed_format(self, record: RoundRecord | None) -> str:
        """Return how a speed is written; with its unit where it is not the one in the heading."""
        values = self.values_of(record)
        system = self.klass.kind.system(values)
        return places_format(values["places_speed"], "" if system == self.system else system.speed_label)

    # --- teams -------------------------------------------------------------------------------

    def fill_teams(self) -> None:
        sheet, labels = self.teams, [_("No."), _("Team")]
        self.columns: dict[int, _RoundColumns] = {}
        for number in self.rounds:
            self.columns[number] = self._round_columns(number, labels)
        self.change_column = len(labels) + 1
        unit = self.performance.unit
        labels += [_("Change,\nround 1 to 2\n({unit})").format(unit=unit), _("In a\nword"), _("Note")]
        sheet.header(labels)
        for row, team in enumerate(self.klass.teams, start=2):
            self._team_row(row, team)
        self.last_team = len(self.klass.teams) + 1
        figure = "average" if self.by_time else "speed"
        if self.klass.teams:
            add_chart(
                sheet,
                title=_("{figure} of each team ({unit})").format(figure=self.performance.label, unit=unit),
                names=[team.team.name for team in self.klass.teams],
                columns={number: getattr(self.columns[number], figure) for number in self.rounds},
                number_format=self.time_format(None) if self.by_time else self.speed_format(None),
            )

    def _round_columns(self, number: int, labels: list[str]) -> _RoundColumns:
        """Add a round's headings to the labels and return where they stand."""

        def add(label: str) -> int:
            labels.append(_("Round {number}\n{what}").format(number=number, what=label))
            return len(labels)

        length, speed = self.system.length.symbol, self.system.speed_label
        median = self.klass.values["average"] == "median"
        variables = tuple(
            add("\n".join(str(variable.label).split()) + f" ({length})")
            for variable in self.klass.kind.variables(self.klass.values)
        )
        return _RoundColumns(
            variables=variables,
            material=add(_("material\nused (points)")),
            counted=add(_("drops\nthat count")),
            needed=add(_("drops\nneeded")),
            average=add(_("middle\ntime (s)") if median else _("mean\ntime (s)")),
            speed=add(_("fall speed\n({unit})").format(unit=speed)),
            exact_average=add(_("exact\ntime (s)")),
            exact_speed=add(_("exact speed\n({unit})").format(unit=speed)),
        )

    def _team_row(self, row: int, team: TeamRecord) -> None:
        sheet = self.teams
        sheet.number(row, 1, team.place)
        sheet.text(row, 2, team.team.name)
        for number in self.rounds:
            self._team_round(row, number, team.rounds.get(number))
        figure = "average" if self.by_time else "speed"
        changed = self.changes[team.team.pk] = team_change(team, self.performance).change
        before, after = (
            (f"{get_column_letter(getattr(self.columns[n], figure))}{row}" for n in (1, 2))
            if (2 in self.columns)
            else ("", "")
        )
        column = self.change_column
        if before and not self._other_unit(team):
            places = self.settings.cell("places_time" if self.by_time else "places_speed")
            places_shown = places_format(self.performance.places)
            sheet.formula(row, column, formulas.change(before, after, places), changed, places=places_shown)
            self._change_word(sheet, row, column, changed)
        if team.team.retired_at is not None:
            names = {other.team.pk: other.team.name for other in self.klass.teams}
            into = names.get(team.team.merged_into_id or 0)
            note = _("merged into {team}").format(team=into) if into else _("no longer a team")
            sheet.text(row, column + 2, note)

    def _other_unit(self, team: TeamRecord) -> bool:
        """Return whether the two rounds' figures are of different kinds, so that they cannot be compared."""
        return any(
            record.number <= 2
            and (record.performance.slug, str(record.performance.unit))
            != (self.performance.slug, str(self.performance.unit))
            for record in team.rounds.values()
        )

    def _change_word(self, sheet: Sheet, row: int, column: int, change: Decimal | None) -> None:
        more, less, same = self.change_words
        word = None if change is None else same if change == 0 else more if change > 0 else less
        cell = f"{get_column_letter(column)}{row}"
        sheet.formula(row, column + 1, formulas.change_word(cell, more, less, same), word, words=True)

    def _team_round(self, row: int, number: int, record: RoundRecord | None) -> None:
        sheet, at = self.teams, self.columns[number]
        values, version = self.values_of(record), self.version_of(record)
        system = self.klass.kind.system(values)
        length_unit = "" if system == self.system else system.length.symbol
        for column, variable in zip(at.variables, self.klass.kind.variables(values), strict=True):
            size = record.variable(variable.slug) if record else None
            sheet.number(row, column, size, places=places_format(variable.places, length_unit))
        sheet.number(row, at.material, record.material_used if record else None)
        needed = record.trials_expected if record else values["trials_per_round"]
        sheet.number(row, at.needed, needed)
        figures = record.results if record and record.figure is not None else None
        team, median = f"$A{row}", values["average"] == "median"
        counted_cell, needed_cell, average_cell, exact_cell = (
            f"{get_column_letter(column)}{row}"
            for column in (at.counted, at.needed, at.average, at.exact_average)
        )
        places_time = self.settings.cell("places_time", version)
        height = self.settings.cell("drop_height", version)
        sheet.formula(
            row, at.counted, formulas.count(team, number), len(record.counting) if record else 0, places="0"
        )
        sheet.formula(
            row,
            at.average,
            formulas.average(
                team, number, counted=counted_cell, needed=needed_cell, places=places_time, median=median
            ),
            figures.average_time_s if figures else None,
            places=self.time_format(record),
            array=median,
        )
        sheet.formula(
            row,
            at.speed,
            formulas.speed(
                height,
                average_cell,
                self.settings.cell("places_speed", version),
                instead_of_zero=_instead_of_zero(figures, team, number, median=median),
            ),
            figures.fall_speed if figures else None,
            places=self.speed_format(record),
            array=median,
        )
        sheet.formula(
            row,
            at.exact_average,
            formulas.exact_average(team, number, average=average_cell, median=median),
            figures.exact_time_s if figures else None,
            places=EXACT,
            array=median,
        )
        sheet.formula(
            row,
            at.exact_speed,
            formulas.exact_speed(height, exact_cell),
            figures.exact_speed if figures else None,
            places=EXACT,
        )

    # --- students ----------------------------------------------------------------------------

    def fill_students(self) -> None:
        """Write a row a child: its team's figures of each round, places for marks, attendance."""
        sheet = self.students
        lessons = list(self.classroom.lessons.order_by("number"))
        labels = [_("Student"), _("Team"), _("Lessons\npresent")]
        unit = self.system.speed_label
        for number in self.rounds:
            start = _("Round {number}\n{what}")
            labels += [
                start.format(number=number, what=what)
                for what in (_("team\nno."), _("time\n(s)"), _("fall speed\n({unit})").format(unit=unit))
            ]
        change = len(labels) + 1
        # A class with a rubric has its marks on a sheet of their own.
        marks = (
            []
            if self.marks
            else [_("Mark:\nplanning"), _("Mark:\nmeasuring"), _("Mark:\nworking"), _("Mark:\nexplaining")]
        )
        labels += [_("Change,\nround 1 to 2\n({unit})").format(unit=self.performance.unit), _("In a\nword")]
        first_mark = len(labels) + 1
        total = first_mark + len(marks)
        labels += [*marks, *([_("Total")] if marks else []), _("Teacher's note")]
        note = len(labels)
        first_lesson = len(labels) + 1
        labels += [_lesson_label(lesson) for lesson in lessons]
        sheet.header(labels)
        sheet.widths[note] = 26
        present = {
            (row.lesson_id, row.student_id): row.present
            for row in Attendance.objects.filter(lesson__classroom=self.classroom)
        }
        where = self._teams_of_students()
        for row, student in enumerate(self.classroom.students.filter(left_at__isnull=True), start=2):
            teams = where.get(student.pk, {})
            team = teams.get(max(teams)) if teams else None
            sheet.text(row, 1, str(student))
            sheet.text(row, 2, team.team.name if team else "")
            self._attendance(row, student, lessons, present, first_lesson)
            self._figures(row, teams)
            self._change(row, change, teams)
            for column in (*range(first_mark, total), note):
                sheet.mark_place(row, column)
            if marks:
                first, last = (f"{get_column_letter(column)}{row}" for column in (first_mark, total - 1))
                sheet.formula(row, total, formulas.total(first, last), None)

    def _teams_of_students(self) -> dict[int, dict[int, TeamRecord]]:
        """Return each child's team by round, by the child's id."""
        where: dict[int, dict[int, TeamRecord]] = {}
        for team in self.klass.teams:
            for number in self.rounds:
                for student in team.members(number):
                    where.setdefault(student.pk, {})[number] = team
        return where

    def _attendance(
        self,
        row: int,
        student: Student,
        lessons: Sequence[Lesson],
        present: Mapping[tuple[int, int], bool],
        first: int,
    ) -> None:
        sheet, count = self.students, 0
        for column, lesson in enumerate(lessons, start=first):
            was_there = present.get((lesson.pk, student.pk))
            count += was_there is True
            sheet.text(row, column, "" if was_there is None else "yes" if was_there else "no")
        if lessons:
            edges = (f"{get_column_letter(column)}{row}" for column in (first, first + len(lessons) - 1))
            sheet.formula(row, 3, formulas.present(*edges), count, places="0")

    def _figures(self, row: int, teams: Mapping[int, TeamRecord]) -> None:
        sheet = self.students
        numbers = self.teams.column(1, self.last_team)
        for index, number in enumerate(self.rounds):
            team, at = teams.get(number), self.columns[number]
            record = team.rounds.get(number) if team else None
            figures = record.results if record and record.figure is not None else None
            column = 4 + 3 * index
            sheet.number(row, column, team.place if team else None)
            key = f"${get_column_letter(column)}{row}"
            sheet.formula(
                row,
                column + 1,
                formulas.look_up(key, self.teams.column(at.average, self.last_team), numbers),
                figures.average_time_s if figures else None,
                places=self.time_format(record),
            )
            sheet.formula(
                row,
                column + 2,
                formulas.look_up(key, self.teams.column(at.speed, self.last_team), numbers),
                figures.fall_speed if figures else None,
                places=self.speed_format(record),
            )

    def _change(self, row: int, column: int, teams: Mapping[int, TeamRecord]) -> None:
        """Write a child's change, where it was in one team in both rounds and these can be compared."""
        sheet, first = self.students, teams.get(1)
        if 2 not in self.columns or (first is not None and self._other_unit(first)):
            return
        same_team = first is not None and first is teams.get(2)
        change = self.changes[first.team.pk] if first is not None and same_team else None
        team_1, team_2 = (f"{get_column_letter(4 + 3 * index)}{row}" for index in (0, 1))
        offset = 1 if self.by_time else 2
        before, after = (f"{get_column_letter(4 + 3 * index + offset)}{row}" for index in (0, 1))
        places = self.settings.cell("places_time" if self.by_time else "places_speed")
        formula = formulas.change(before, after, places, only_if=f"{team_1}={team_2}")
        sheet.formula(row, column, formula, change, places=places_format(self.performance.places))
        self._change_word(sheet, row, column, change)


def _instead_of_zero(figures: ResultFigures | None, team: str, number: int, *, median: bool) -> str:
    """Return what divides where times were rounded to 0, which only seconds without decimals can be."""
    if figures is None or figures.average_time_s:
        return ""
    return formulas.instead_of_zero(team, number, median=median)


def _lesson_label(lesson: Lesson) -> str:
    day = timezone.localtime(lesson.started_at).date()
    return _("Lesson {number}\n{day}").format(number=lesson.number, day=day.isoformat())

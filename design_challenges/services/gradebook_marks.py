"""The gradebook's sheets of marks: the rubric, levels with live totals, and a line of evidence a child."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction

from django.utils.translation import gettext as _
from openpyxl.formatting.rule import CellIsRule
from openpyxl.styles import Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from design_challenges.services import gradebook_formulas as formulas
from design_challenges.services.marking.gathered import Piece, own_pieces, team_pieces
from design_challenges.services.marking.page import AloneByChild
from design_challenges.services.marking.standards import is_beyond, known
from design_challenges.services.marks import HIGHEST, TOTAL_PLACES, Child, ClassMarks
from design_challenges.services.record_types import RoundRecord
from design_challenges.services.rounding import round_half_up
from design_challenges.services.workbook_sheet import LINE_HEIGHT, Sheet, places_format

WEIGHT_COLUMN = 3
FIRST_CRITERION = 3
WEIGHT_ROW, MEAN_ROW, FIRST_CHILD = 2, 3, 4
MEAN_PLACES = 2
EVIDENCE_WIDTH = 36
LONGEST_EVIDENCE = 1500
FILLS = {1: "FCEBE0", 2: "FDEECB", 3: "E3EFF8", 4: "E0F3EC"}
"""Behind a level, whose number stands in the cell, so that colour says nothing alone."""


class MarkSheets:
    """The three sheets; `sheets` gives them with what stays in view of each."""

    def __init__(self, make_sheet: Callable[[str], Sheet], marks: ClassMarks, alone: AloneByChild) -> None:
        self.marks, self.alone = marks, alone
        self.rubric, self.levels, self.evidence = map(make_sheet, ("Rubric", "Marks", "Evidence"))
        self.last_child = FIRST_CHILD + len(marks.children) - 1

    @property
    def sheets(self) -> Sequence[tuple[Sheet, str]]:
        return [(self.rubric, "B2"), (self.levels, f"C{FIRST_CHILD}"), (self.evidence, "C2")]

    def fill(self) -> None:
        self._fill_rubric()
        self._fill_levels()
        self._fill_evidence()

    def finish(self) -> None:
        """Set how the sheets print, once each has been finished as every sheet is."""
        self.levels.sheet.print_title_rows = f"1:{MEAN_ROW}"
        for column in range(4, 4 + len(self.marks.graded)):
            self.evidence.sheet.column_dimensions[get_column_letter(column)].width = EVIDENCE_WIDTH

    # --- the rubric --------------------------------------------------------------------------------

    def _fill_rubric(self) -> None:
        sheet = self.rubric
        levels = [_("Level {number}").format(number=level) for level in range(1, HIGHEST + 1)]
        sheet.header([_("Criterion"), _("Standards"), _("Weight"), *levels, _("Note")])
        for row, criterion in enumerate([*self.marks.graded, *self.marks.shown_only], start=2):
            codes = criterion.codes.split()
            sheet.text(row, 1, criterion.title, style="sb_long")
            sheet.text(row, 2, ", ".join(codes), style="sb_long")
            sheet.number(row, WEIGHT_COLUMN, criterion.weight, places="0")
            for level, words in criterion.levels:
                sheet.text(row, WEIGHT_COLUMN + level, words, style="sb_long")
            notes = [str(standard.note) for standard in known(codes) if standard.note]
            if is_beyond(codes, self.marks.rubric.grade):
                notes.append(_("beyond the grade: shown, not graded"))
            elif not criterion.graded:
                notes.append(_("not graded"))
            sheet.text(row, WEIGHT_COLUMN + HIGHEST + 1, "; ".join(notes), style="sb_long")
            longest = max(len(words) for _level, words in criterion.levels)
            sheet.cells.heights[row] = LINE_HEIGHT * max(2, -(-longest // 26))
        for column in range(4, 4 + HIGHEST):
            sheet.widths[column] = 26
        sheet.widths[1], sheet.widths[2] = 34, 22

    # --- the levels --------------------------------------------------------------------------------

    def _fill_levels(self) -> None:
        sheet, graded = self.levels, self.marks.graded
        after = FIRST_CRITERION + len(graded)
        labels = ["\n".join(criterion.short.split()) for criterion in graded]
        more = [_("Points"), _("Out of"), _("Total\n(%)"), _("Late"), _("Comment")]
        sheet.header([_("Student"), _("Team"), *labels, *more])
        sheet.text(WEIGHT_ROW, 1, _("Weight"))
        sheet.text(MEAN_ROW, 1, _("Class mean"))
        for row in (WEIGHT_ROW, MEAN_ROW):
            sheet.text(row, 2, "")
        for place, criterion in enumerate(graded):
            weight = f"={self.rubric.ref(2 + place, WEIGHT_COLUMN)}"
            sheet.formula(WEIGHT_ROW, FIRST_CRITERION + place, weight, criterion.weight, places="0")
            levels = [self.marks.standing(child, criterion).level for child in self.marks.children]
            self._mean(FIRST_CRITERION + place, [level for level in levels if level is not None], MEAN_PLACES)
        for row, child in enumerate(self.marks.children, start=FIRST_CHILD):
            self._child(row, child, after)
        totals = [self.marks.total(child).percent for child in self.marks.children]
        self._mean(after + 2, [Fraction(total) for total in totals if total is not None], TOTAL_PLACES)
        sheet.widths[after + 4] = 30
        self._help_typing(after)

    def _child(self, row: int, child: Child, after: int) -> None:
        sheet, marks = self.levels, self.marks
        sheet.text(row, 1, str(child.student))
        sheet.text(row, 2, child.team.team.name if child.team else "")
        for column, criterion in enumerate(marks.graded, start=FIRST_CRITERION):
            standing = marks.standing(child, criterion)
            if standing.excused:
                sheet.text(row, column, standing.text, style="sb_level")
            else:
                sheet.level(row, column, standing.level)
        first, last = (get_column_letter(column) for column in (FIRST_CRITERION, after - 1))
        weights = f"${first}${WEIGHT_ROW}:${last}${WEIGHT_ROW}"
        levels = f"{first}{row}:{last}{row}"
        points, of = (f"{get_column_letter(column)}{row}" for column in (after, after + 1))
        total, said = marks.total(child), marks.said(child)
        sheet.formula(
            row,
            after,
            formulas.weighted_points(weights, levels, of),
            total.points if total.of else None,
            places="0",
        )
        sheet.formula(
            row, after + 1, formulas.points_possible(weights, levels, HIGHEST), total.of, places="0"
        )
        sheet.formula(
            row,
            after + 2,
            formulas.percent(points, of, TOTAL_PLACES),
            total.percent,
            places=places_format(TOTAL_PLACES),
        )
        sheet.text(row, after + 3, _("yes") if said.late else "")
        sheet.text(row, after + 4, said.comment, style="sb_long")

    def _mean(self, column: int, values: Sequence[int | Fraction], places: int) -> None:
        """Write the class mean of a column, rounded half-up."""
        letter = get_column_letter(column)
        cells = f"{letter}{FIRST_CHILD}:{letter}{max(FIRST_CHILD, self.last_child)}"
        mean = round_half_up(Fraction(sum(values), len(values)), places) if values else None
        self.levels.formula(
            MEAN_ROW, column, formulas.mean_of(cells, places), mean, places=places_format(places)
        )

    def _help_typing(self, after: int) -> None:
        """Offer the levels as a list, and show each on a ground of its own."""
        if not self.marks.children:
            return
        first, last = (get_column_letter(column) for column in (FIRST_CRITERION, after - 1))
        places = f"{first}{FIRST_CHILD}:{last}{self.last_child}"
        choice = DataValidation(type="list", formula1='"1,2,3,4,x"', allow_blank=True)
        choice.showErrorMessage = True
        choice.error = _("Type 1, 2, 3 or 4, x for excused, or nothing.")
        choice.errorTitle = _("No level")
        choice.add(places)
        self.levels.sheet.add_data_validation(choice)
        for level, colour in FILLS.items():
            fill = PatternFill("solid", bgColor=colour)
            self.levels.sheet.conditional_formatting.add(
                places, CellIsRule(operator="equal", formula=[str(level)], fill=fill)
            )
        grey = Font(color="6B6F80", italic=True)
        self.levels.sheet.conditional_formatting.add(
            places, CellIsRule(operator="equal", formula=['"x"'], font=grey)
        )

    # --- the evidence ------------------------------------------------------------------------------

    def _fill_evidence(self) -> None:
        sheet = self.evidence
        labels = ["\n".join(criterion.short.split()) for criterion in self.marks.graded]
        sheet.header([_("Student"), _("Team"), _("Away in\nround"), *labels])
        kind, values = self.marks.klass.kind, self.marks.klass.values
        seen: dict[tuple[str, tuple[int, ...]], str] = {}
        for row, child in enumerate(self.marks.children, start=2):
            rounds = self.marks.rounds_of(child)
            sheet.text(row, 1, str(child.student))
            sheet.text(row, 2, child.team.team.name if child.team else "")
            sheet.text(row, 3, ", ".join(map(str, self.marks.rounds_away(child))))
            longest = 0
            for column, criterion in enumerate(self.marks.graded, start=4):
                own = own_pieces(
                    criterion.evidence,
                    self.alone.get(child.student.pk, ()),
                    lambda slug: kind.sum_standards(values, slug),
                )
                shared = self._of_team(seen, criterion.evidence, rounds)
                told = "; ".join(filter(None, [shared, _in_one_line(own)]))[:LONGEST_EVIDENCE]
                sheet.text(row, column, told, style="sb_long")
                longest = max(longest, len(told))
            lines = max(1, -(-longest // (EVIDENCE_WIDTH + 2)))
            sheet.cells.heights[row] = LINE_HEIGHT * lines
        for column in range(4, 4 + len(self.marks.graded)):
            sheet.widths[column] = EVIDENCE_WIDTH

    @staticmethod
    def _of_team(
        seen: dict[tuple[str, tuple[int, ...]], str], evidence: str, rounds: Sequence[RoundRecord]
    ) -> str:
        """Return a team's evidence in one line; the children of a team share it."""
        key = evidence, tuple(record.iteration.pk for record in rounds)
        if key not in seen:
            seen[key] = _in_one_line(team_pieces(evidence, rounds))
        return seen[key]


def _in_one_line(pieces: Sequence[Piece]) -> str:
    """Return pieces of evidence as one text, each round named once."""
    told, last = [], 0
    for piece in pieces:
        text = f"“{piece.text}”" if piece.quote else piece.text
        if piece.round and piece.round != last:
            text = _("Round {number}: {text}").format(number=piece.round, text=text)
            last = piece.round
        told.append(text)
    return "; ".join(told)

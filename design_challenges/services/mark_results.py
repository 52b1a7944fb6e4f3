"""The class's marks as a OneRoster results package, under the ids of the roster that came in."""

from __future__ import annotations

import datetime
import uuid
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils import timezone
from django.utils.translation import gettext as _

from classroom.models import Classroom, Installation, Lesson, RosterSource
from classroom.rosters.oneroster_results import (
    Category,
    LineItem,
    Result,
    Results,
    ScoreStatus,
    lasting_id,
)
from design_challenges.models import Criterion
from design_challenges.models.marking import LEVELS
from design_challenges.services.marks import Child, ClassMarks, Standing

WHOLE = 100


class NoResultsError(Exception):
    """Raised where no package can be made; the text says what to do."""


@dataclass(frozen=True)
class MarkResults:
    """A package, and the children who are in it and who cannot be: the school's roster gave them no id."""

    package: Results
    children: int
    without_id: Sequence[str]


def make_results(marks: ClassMarks) -> MarkResults:
    """Return the results of a class: a line item a graded criterion (1 to 4), one for the total in percent.

    A mark that is not given yet makes no result; excused ones are exempt. Raises NoResultsError where the
    class came from no OneRoster package, or where that left out what the standard wants of a line item.
    """
    classroom = marks.klass.challenge.classroom
    source = RosterSource.objects.filter(classroom=classroom).first()
    if source is None:
        raise NoResultsError(
            _("This class did not come from a OneRoster package, so its children have no ids there.")
        )
    if not (source.school_source_id and source.session_source_id):
        raise NoResultsError(
            _("The package that this class came from names no school or no term, and results must name both.")
        )
    maker = _Maker(marks, source, Installation.get().uuid)
    return MarkResults(
        package=maker.package(),
        children=len(maker.children),
        without_id=[str(child.student) for child in marks.children if not child.student.source_id],
    )


class _Maker:
    def __init__(self, marks: ClassMarks, source: RosterSource, installation: uuid.UUID) -> None:
        self.marks, self.source, self.installation = marks, source, installation
        self.children = [child for child in marks.children if child.student.source_id]
        self.category = self.id("category")
        self.assigned_on, self.due_on = _days(marks.klass.challenge.classroom, marks)

    def id(self, *parts: object) -> str:
        """Return an id that stays the same for the same thing of this class challenge."""
        return lasting_id(self.installation, self.marks.klass.challenge.pk, *parts)

    def package(self) -> Results:
        results = [*self._criteria_results(), *self._totals()]
        return Results(
            categories=[Category(self.category, str(self.marks.klass.kind.name), WHOLE)],
            line_items=[
                *(
                    self._item(self.id("criterion", one.key), one.title, LEVELS[0], LEVELS[-1], one)
                    for one in self.marks.graded
                ),
                self._item(self.id("total"), _("Total (%)"), 0, WHOLE),
            ],
            results=results,
        )

    def _item(
        self, source_id: str, title: str, lowest: int, highest: int, criterion: Criterion | None = None
    ) -> LineItem:
        return LineItem(
            source_id=source_id,
            title=title,
            assigned_on=self.assigned_on,
            due_on=self.due_on,
            class_source_id=self.source.source_id,
            category_source_id=self.category,
            session_source_id=self.source.session_source_id,
            school_source_id=self.source.school_source_id,
            lowest=Decimal(lowest),
            highest=Decimal(highest),
            description=criterion.codes if criterion else "",
        )

    def _criteria_results(self) -> Iterator[Result]:
        for criterion in self.marks.graded:
            for child in self.children:
                standing = self.marks.standing(child, criterion)
                if not standing.source:
                    continue
                yield Result(
                    source_id=self.id("criterion", criterion.key, child.student.source_id),
                    line_item_source_id=self.id("criterion", criterion.key),
                    student_source_id=child.student.source_id,
                    status=ScoreStatus.EXEMPT if standing.excused else ScoreStatus.FULLY_GRADED,
                    scored_on=_day(standing),
                    score=None if standing.level is None else Decimal(standing.level),
                    late=self.marks.said(child).late,
                )

    def _totals(self) -> Iterator[Result]:
        for child in self.children:
            standings = [self.marks.standing(child, criterion) for criterion in self.marks.graded]
            given = [standing for standing in standings if standing.source]
            if not given:
                continue
            total = self.marks.total(child)
            yield Result(
                source_id=self.id("total", child.student.source_id),
                line_item_source_id=self.id("total"),
                student_source_id=child.student.source_id,
                status=self._status(child),
                scored_on=max(_day(standing) for standing in given),
                score=total.percent,
                comment=self.marks.said(child).comment,
                incomplete=total.missing > 0,
                late=self.marks.said(child).late,
            )

    def _status(self, child: Child) -> ScoreStatus:
        total = self.marks.total(child)
        if total.percent is None:
            return ScoreStatus.EXEMPT if not total.missing else ScoreStatus.PARTIALLY_GRADED
        return ScoreStatus.PARTIALLY_GRADED if total.missing else ScoreStatus.FULLY_GRADED


def _day(standing: Standing) -> datetime.date:
    """Return the school's day on which a mark was given."""
    return timezone.localtime(standing.given.made_at).date() if standing.given else timezone.localdate()


def _days(classroom: Classroom, marks: ClassMarks) -> tuple[datetime.date, datetime.date]:
    """Return the days on which the work was set and due: the first and the last lesson, else the set-up."""
    lessons = list(Lesson.objects.filter(classroom=classroom).order_by("started_at"))
    first = lessons[0].started_at if lessons else marks.klass.challenge.made_at
    last = (lessons[-1].ended_at or lessons[-1].started_at) if lessons else first
    days = [timezone.localtime(moment).date() for moment in (first, last)]
    return days[0], max(days)

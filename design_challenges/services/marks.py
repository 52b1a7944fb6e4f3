"""Reads a class's rubric and marks as plain values: what stands for each team and child, and the totals."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from functools import cached_property
from typing import Literal

from django.db.models import Subquery

from classroom.models import Student
from design_challenges.models import ClassChallenge, Criterion, Mark, Remark, Rubric
from design_challenges.services.marking.away import Away, find_away
from design_challenges.services.marking.rules import ROUND_1_ONLY
from design_challenges.services.record_types import ClassRecord, RoundRecord, TeamRecord
from design_challenges.services.rounding import round_half_up

HIGHEST = 4
TOTAL_PLACES = 1

Source = Literal["own", "team", "away", ""]


@dataclass(frozen=True)
class Given:
    """A mark as it was given: a level or excused, the row, by whom and when."""

    level: int | None
    excused: bool
    row_id: int
    user_id: int | None
    made_at: datetime

    @property
    def text(self) -> str:
        """Return what stands in its place: "3", "x" for excused."""
        return "x" if self.excused else str(self.level)


@dataclass(frozen=True)
class Standing:
    """What stands for one child and criterion, and from where.

    "own" is the child's own mark, "team" its team's; "away": the team's mark stands on rounds that the
    child was away for, so nothing is counted; "" where nobody has marked.
    """

    source: Source = ""
    given: Given | None = None

    @property
    def level(self) -> int | None:
        return self.given.level if self.given else None

    @property
    def excused(self) -> bool:
        return self.source == "away" or (self.given is not None and self.given.excused)

    @property
    def text(self) -> str:
        """Return what a gradebook shows: "3", "x" for excused or away, "" for no mark yet."""
        return "x" if self.excused else self.given.text if self.given else ""


@dataclass(frozen=True)
class Total:
    """The weighted total of the criteria that have a level: points, of how many, and percent half-up.

    `missing` counts graded criteria without a mark; excused ones count nowhere.
    """

    points: int
    of: int
    missing: int

    @property
    def percent(self) -> Decimal | None:
        """Return 0 to 100 to one place, None without a level."""
        return round_half_up(Fraction(100 * self.points, self.of), TOTAL_PLACES) if self.of else None


@dataclass(frozen=True)
class Said:
    """Whether it came late, and the comment."""

    late: bool = False
    comment: str = ""


@dataclass(frozen=True)
class Child:
    """A child of the class with its team by round, and the team it is in now (None for none)."""

    student: Student
    team: TeamRecord | None
    teams: Mapping[int, TeamRecord]


Place = tuple[str, int, str]
"""Whose mark it is ("t" or "s"), the team's or the child's id, and the criterion's key."""


@dataclass
class ClassMarks:
    """A class's marks: by one rubric version, every mark that stands, every remark."""

    klass: ClassRecord
    rubric: Rubric
    criteria: Sequence[Criterion]
    given: Mapping[Place, Given]
    remarks: Mapping[tuple[str, int], Said]
    away: Away = field(default_factory=dict)
    newest_row: int = 0

    @cached_property
    def graded(self) -> list[Criterion]:
        return [criterion for criterion in self.criteria if criterion.graded]

    @cached_property
    def shown_only(self) -> list[Criterion]:
        """Return the criteria that are shown and not graded."""
        return [criterion for criterion in self.criteria if not criterion.graded]

    @cached_property
    def children(self) -> list[Child]:
        """Return every child that is in a team, in team order, then those in none."""
        return children_of(self.klass)

    def rounds_of(self, child: Child) -> list[RoundRecord]:
        """Return the rounds that count for a child: its team's of the time, without those it was away for."""
        away = self.away.get(child.student.pk, frozenset())
        return [
            team.rounds[number]
            for number, team in sorted(child.teams.items())
            if number in team.rounds and (team.team.pk, number) not in away
        ]

    def rounds_away(self, child: Child) -> list[int]:
        """Return the rounds begun that a child was away for."""
        away = self.away.get(child.student.pk, frozenset())
        return [
            number
            for number, team in sorted(child.teams.items())
            if number in team.rounds and (team.team.pk, number) in away
        ]

    def team_mark(self, team: TeamRecord, key: str) -> Given | None:
        return self.given.get(("t", team.team.pk, key))

    def own_mark(self, student: Student, key: str) -> Given | None:
        return self.given.get(("s", student.pk, key))

    def standing(self, child: Child, criterion: Criterion) -> Standing:
        """Return what stands for a child: its own mark, else its team's, where it had a part in that."""
        own = self.own_mark(child.student, criterion.key)
        if own is not None:
            return Standing("own", own)
        team = self.team_mark(child.team, criterion.key) if child.team else None
        if team is None:
            return Standing()
        return Standing("team", team) if self.had_a_part(child, criterion) else Standing("away")

    def had_a_part(self, child: Child, criterion: Criterion) -> bool:
        """Return whether a child was there for any round that a criterion looks at."""
        away = self.rounds_away(child)
        if not away:
            return True
        there = [record.number for record in self.rounds_of(child)]
        return 1 not in away if criterion.evidence in ROUND_1_ONLY else bool(there)

    def total(self, child: Child) -> Total:
        return total_of((criterion.weight, self.standing(child, criterion)) for criterion in self.graded)

    def said(self, child: Child) -> Said:
        """Return a child's own remark where there is one, else its team's."""
        own = self.remarks.get(("s", child.student.pk))
        if own is not None:
            return own
        return self.remarks.get(("t", child.team.team.pk), Said()) if child.team else Said()


def total_of(marks: Iterable[tuple[int, Standing]]) -> Total:
    """Return the total of (weight, standing) pairs."""
    points = of = missing = 0
    for weight, standing in marks:
        if standing.level is not None:
            points += weight * standing.level
            of += weight * HIGHEST
        elif not standing.excused:
            missing += 1
    return Total(points, of, missing)


def children_of(klass: ClassRecord) -> list[Child]:
    """Return the class's children by the team they are in now, in team order, then those in no team."""
    rounds = range(1, max([1, *(number for team in klass.teams for number in team.members_by_round)]) + 1)
    rounds = range(1, max([rounds[-1], *(number for team in klass.teams for number in team.rounds)]) + 1)
    where: dict[int, dict[int, TeamRecord]] = {}
    students: dict[int, Student] = {}
    for team in klass.teams:
        for number in rounds:
            for student in team.members(number):
                students[student.pk] = student
                where.setdefault(student.pk, {})[number] = team
    found = []
    for team in klass.teams:
        for student in team.members(rounds[-1]):
            found.append(Child(student, team, where[student.pk]))
    seated = {child.student.pk for child in found}
    others = [pk for pk in students if pk not in seated]
    found += [Child(students[pk], None, where[pk]) for pk in others]
    left_over = klass.challenge.classroom.students.filter(left_at__isnull=True).exclude(pk__in=students)
    found += [Child(student, None, {}) for student in left_over]
    return found


# --- reading -----------------------------------------------------------------------------------------


def find_rubric(challenge: ClassChallenge) -> Rubric | None:
    """Return the rubric that a class is marked by now, with its criteria; None where there is none."""
    return challenge.rubrics.order_by("-version").prefetch_related("criteria").first()


def load_marks(klass: ClassRecord, *, second: bool = False) -> ClassMarks | None:
    """Return a class's marks in a fixed number of queries; None while it has no rubric.

    With `second`, the marks of the second marking.
    """
    newest = klass.challenge.rubrics.order_by("-version").values("pk")[:1]
    criteria = list(Criterion.objects.filter(rubric=Subquery(newest)).select_related("rubric"))
    if not criteria:
        return None
    rows = list(Mark.objects.filter(class_challenge=klass.challenge, second=second).order_by("pk"))
    remarks = Remark.objects.filter(class_challenge=klass.challenge).order_by("pk")
    return ClassMarks(
        klass=klass,
        rubric=criteria[0].rubric,
        criteria=criteria,
        given=standing_marks(rows),
        remarks={_whose(remark): Said(remark.late, remark.comment) for remark in remarks},
        away=find_away(klass.challenge),
        newest_row=rows[-1].pk if rows else 0,
    )


def standing_marks(rows: Iterable[Mark]) -> dict[Place, Given]:
    """Return the mark that stands in each place, from rows in the order in which they were given."""
    given: dict[Place, Given] = {}
    for row in rows:
        place = (*_whose(row), row.criterion)
        if row.level is None and not row.excused:
            given.pop(place, None)
        else:
            given[place] = Given(row.level, row.excused, row.pk, row.user_id, row.made_at)
    return given


def _whose(row: Mark | Remark) -> tuple[str, int]:
    return ("t", row.team_id) if row.team_id is not None else ("s", row.student_id or 0)

"""Lays out the page of marks: a row a team and a row a child, and the evidence of one place."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from design_challenges.models import ClassChallenge, Criterion, ExitAnswer, SawIt
from design_challenges.services.evidence import alone_steps
from design_challenges.services.marking.gathered import Alone, Piece, own_pieces, team_pieces
from design_challenges.services.marking.rules import RULES, Rule, suggest
from design_challenges.services.marking.standards import Standard, is_beyond, known
from design_challenges.services.marks import Child, ClassMarks, Said, Total
from design_challenges.services.record_types import ClassRecord, RoundRecord, TeamRecord

AloneByChild = Mapping[int, Sequence[Alone]]


@dataclass(frozen=True)
class Cell:
    """One place for a mark: what stands in it, what a child takes over from its team, what is suggested.

    `taken_over` is shown where nothing of the child's own stands.
    """

    criterion: Criterion
    name: str
    text: str
    taken_over: str
    suggested: int | None


@dataclass(frozen=True)
class Row:
    """A team or a child with its cells; `kind` is "t" or "s"."""

    kind: str
    pk: int
    name: str
    team: str
    cells: Sequence[Cell]
    total: Total | None
    said: Said
    away: Sequence[int]

    @property
    def key(self) -> str:
        return f"{self.kind}{self.pk}"

    @property
    def is_team(self) -> bool:
        return self.kind == "t"


@dataclass(frozen=True)
class Section:
    """A criterion with its evidence for one team or child."""

    criterion: Criterion
    standards: Sequence[Standard]
    beyond: bool
    rule: Rule | None
    suggested: int | None
    mark: str
    pieces: Sequence[Piece]
    own: Sequence[Piece]

    @property
    def left(self) -> list[str]:
        """Return the standards that no suggestion goes by."""
        return self.rule.left_of(self.criterion.codes.split()) if self.rule else []


@dataclass(frozen=True)
class Looked:
    """What is looked at: one team's or child's evidence, and its remark."""

    key: str
    name: str
    team: TeamRecord | None
    child: Child | None
    away: Sequence[int]
    sections: Sequence[Section]
    said: Said


def rows_of(marks: ClassMarks, typed: Mapping[str, str] | None = None) -> list[Row]:
    """Return the rows in team order, each team before its children; `typed` stands where it was typed."""
    rows = []
    children = marks.children
    for team in marks.klass.teams:
        members = [child for child in children if child.team is team]
        if team.team.retired_at is None or members:
            rows.append(_team_row(marks, team, typed or {}))
        rows += [_child_row(marks, child, typed or {}) for child in members]
    return rows + [_child_row(marks, child, typed or {}) for child in children if child.team is None]


def team_rounds(team: TeamRecord) -> list[RoundRecord]:
    """Return a team's rounds in order."""
    return [record for _number, record in sorted(team.rounds.items())]


def _team_row(marks: ClassMarks, team: TeamRecord, typed: Mapping[str, str]) -> Row:
    rounds, cells = team_rounds(team), []
    for criterion in marks.graded:
        name = f"t{team.team.pk}:{criterion.key}"
        given = marks.team_mark(team, criterion.key)
        text = typed.get(name, given.text if given else "")
        cells.append(Cell(criterion, name, text, "", suggest(criterion.evidence, rounds)))
    said = marks.remarks.get(("t", team.team.pk), Said())
    return Row("t", team.team.pk, team.team.name, team.team.name, cells, None, said, ())


def _child_row(marks: ClassMarks, child: Child, typed: Mapping[str, str]) -> Row:
    away, cells = marks.rounds_away(child), []
    for criterion in marks.graded:
        name = f"s{child.student.pk}:{criterion.key}"
        own = marks.own_mark(child.student, criterion.key)
        text = typed.get(name, own.text if own else "")
        standing = marks.standing(child, criterion)
        taken_over = "" if standing.source == "own" else standing.text
        suggested = suggest(criterion.evidence, marks.rounds_of(child)) if away else None
        cells.append(Cell(criterion, name, text, taken_over, suggested))
    team = child.team.team.name if child.team else ""
    said = marks.remarks.get(("s", child.student.pk), Said())
    return Row("s", child.student.pk, str(child.student), team, cells, marks.total(child), said, away)


# --- the evidence of one place -----------------------------------------------------------------------


def load_alone(challenge: ClassChallenge, klass: ClassRecord) -> AloneByChild:
    """Return what each child did alone, by the child's id: two queries."""
    labels = {step.slug: str(step.label) for step in alone_steps(klass.kind, klass.values)}
    found: dict[int, list[Alone]] = {}
    answers = ExitAnswer.objects.filter(question__class_challenge=challenge).order_by("pk")
    for student_id, step, typed, right in answers.values_list(
        "student_id", "question__step", "typed", "right"
    ):
        alone = Alone(step, labels.get(step, step), typed=typed, right=right)
        found.setdefault(student_id, []).append(alone)
    saw: dict[tuple[int, str], bool] = {}
    for student_id, step, seen in (
        SawIt.objects.filter(class_challenge=challenge)
        .order_by("pk")
        .values_list("student_id", "step", "saw")
    ):
        saw[student_id, step] = seen
    for (student_id, step), seen in saw.items():
        if seen:
            found.setdefault(student_id, []).append(Alone(step, labels.get(step, step), saw=True))
    return found


def look_at(marks: ClassMarks, kind: str, pk: int, alone: AloneByChild, only: str = "") -> Looked | None:
    """Return the evidence for a team ("t") or a child ("s"): of one criterion, or of all; None for nobody."""
    if kind == "t":
        team = next((team for team in marks.klass.teams if team.team.pk == pk), None)
        if team is None:
            return None
        rounds, child, away = team_rounds(team), None, []
        name = team.team.name
        said = marks.remarks.get(("t", pk), Said())
    else:
        child = next((child for child in marks.children if child.student.pk == pk), None)
        if child is None:
            return None
        team, rounds, away = child.team, marks.rounds_of(child), marks.rounds_away(child)
        name = str(child.student)
        said = marks.said(child)
    criteria = [criterion for criterion in marks.criteria if only in ("", criterion.key)]
    return Looked(
        key=f"{kind}{pk}",
        name=name,
        team=team,
        child=child,
        away=away,
        sections=[
            section_of(marks, criterion, rounds, child, alone.get(pk, ()) if child else ())
            for criterion in criteria
        ],
        said=said,
    )


def section_of(
    marks: ClassMarks,
    criterion: Criterion,
    rounds: Sequence[RoundRecord],
    child: Child | None,
    alone: Iterable[Alone],
) -> Section:
    """Return one criterion's evidence from the rounds that count."""
    codes = criterion.codes.split()
    kind, values = marks.klass.kind, marks.klass.values
    own = own_pieces(criterion.evidence, list(alone), lambda slug: kind.sum_standards(values, slug))
    return Section(
        criterion=criterion,
        standards=known(codes),
        beyond=not criterion.graded and is_beyond(codes, marks.rubric.grade),
        rule=RULES.get(criterion.evidence),
        suggested=suggest(criterion.evidence, rounds) if criterion.graded else None,
        mark=marks.standing(child, criterion).text if child else "",
        pieces=team_pieces(criterion.evidence, rounds),
        own=own,
    )

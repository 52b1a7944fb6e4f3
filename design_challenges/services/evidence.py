"""Reads and saves what one child can do alone: exit questions, answers, and what a teacher saw."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.utils import timezone

from classroom.models import Student
from design_challenges.kinds.base import Kind, Values
from design_challenges.models import ClassChallenge, ExitAnswer, ExitQuestion, SawIt
from design_challenges.services.entries import Author, teacher_change
from design_challenges.services.record_types import ClassRecord, TeamRecord
from design_challenges.services.working import Marking, Step, SumContext, Verdict
from design_challenges.words import Words


@dataclass(frozen=True)
class ChildEvidence:
    """One child at one sum: the answer to the newest exit question on it, and what a teacher saw."""

    student: Student
    answer: ExitAnswer | None
    right_answer: str
    slip: Words
    saw: SawIt | None

    @property
    def key(self) -> str:
        """Return the child's id as text, for the ids of a page."""
        return str(self.student.pk)

    @property
    def seen(self) -> bool:
        return self.saw is not None and self.saw.saw


@dataclass(frozen=True)
class TeamEvidence:
    """The children of one team."""

    team: TeamRecord
    children: tuple[ChildEvidence, ...]


def alone_steps(kind: Kind, values: Values) -> Sequence[Step]:
    """Return the sums that a child may be asked alone, in the order of the challenge."""
    return [*kind.plan_steps(values), kind.rounding_step(values, 1), *kind.result_steps(values, 2)]


def find_step(kind: Kind, values: Values, slug: str) -> Step | None:
    """Return the sum of that name, or None."""
    return next((step for step in alone_steps(kind, values) if step.slug == slug), None)


def child_context(kind: Kind, values: Values, step: str, student: Student, turn: int = 0) -> SumContext:
    """Return a child's own numbers for a sum: other children have others; `turn` makes new ones again."""
    return kind.example(values, f"{step} {student.pk} {turn}")


def ask(challenge: ClassChallenge, step: str) -> None:
    """Open an exit question on a sum; one that is open is closed."""

    def change() -> None:
        _close(challenge)
        ExitQuestion.objects.create(class_challenge=challenge, step=step)

    teacher_change(challenge.pk, change)


def close(challenge: ClassChallenge) -> None:
    """Close the exit question; its answers are kept."""
    teacher_change(challenge.pk, lambda: _close(challenge))


def _close(challenge: ClassChallenge) -> None:
    ExitQuestion.objects.filter(class_challenge=challenge, closed_at__isnull=True).update(
        closed_at=timezone.now()
    )


def open_question(challenge: ClassChallenge) -> ExitQuestion | None:
    """Return the exit question that is open, or None."""
    return ExitQuestion.objects.filter(class_challenge=challenge, closed_at__isnull=True).first()


def save_answer(
    question: ExitQuestion, student: Student, typed: str, verdict: Verdict, author: Author
) -> None:
    """Keep a child's answer; a second one of the same child is passed over."""
    ExitAnswer.objects.get_or_create(
        question=question,
        student=student,
        defaults={
            "typed": typed[:40],
            "value": "" if verdict.value is None else f"{verdict.value:f}",
            "right": verdict.outcome == "right",
            "slips": list(verdict.slips),
            **author.fields(),
        },
    )


def answered_by(question: ExitQuestion, students: Sequence[Student]) -> dict[int, ExitAnswer]:
    """Return the answers of these children, by child."""
    rows = ExitAnswer.objects.filter(question=question, student__in=students)
    return {row.student_id: row for row in rows}


def mark_seen(challenge: ClassChallenge, student: Student, step: str, saw: bool, author: Author) -> None:
    """Note that a teacher saw a child do a sum, or take it back."""
    SawIt.objects.create(class_challenge=challenge, student=student, step=step, saw=saw, **author.fields())


def load_evidence(klass: ClassRecord, step: Step) -> tuple[list[TeamEvidence], ExitQuestion | None]:
    """Return every child of the class at one sum, by team, and the newest exit question on it."""
    challenge = klass.challenge
    question = ExitQuestion.objects.filter(class_challenge=challenge, step=step.slug).order_by("-pk").first()
    answers = {row.student_id: row for row in question.answers.all()} if question else {}
    saws: Mapping[int, SawIt] = {
        row.student_id: row
        for row in SawIt.objects.filter(class_challenge=challenge, step=step.slug).order_by("pk")
    }
    teams = []
    for team in klass.teams:
        members = team.members(team.current.number if team.current else 1)
        children = tuple(
            _child(klass, step, student, answers.get(student.pk), saws.get(student.pk), question)
            for student in members
        )
        teams.append(TeamEvidence(team, children))
    return teams, question


def _child(
    klass: ClassRecord,
    step: Step,
    student: Student,
    answer: ExitAnswer | None,
    saw: SawIt | None,
    question: ExitQuestion | None,
) -> ChildEvidence:
    right = ""
    doing: Words = ""
    if question is not None and answer is not None:
        context = child_context(klass.kind, klass.values, step.slug, student, question.pk)
        right = show_right(step, context)
        named = [slip for slip in map(step.slip, answer.slips) if slip is not None]
        doing = named[0].doing if len({slip.mistake for slip in named}) == 1 else ""
    return ChildEvidence(student, answer, right, doing, saw)


def show_right(step: Step, context: SumContext) -> str:
    """Return the right answer as text, or the range of right answers."""
    right = Marking.of(step, context).right
    low, high = f"{right.lowest:f}", f"{right.highest:f}"
    return low if low == high else f"{low} – {high}"

"""Classes that are marked, for tests: played rounds, a rubric, marks given by a teacher."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from typing import Any

from classroom.models import Classroom, Team
from design_challenges.models import ClassChallenge
from design_challenges.services import saving
from design_challenges.services.exports import load_export
from design_challenges.services.marking import giving, rubrics
from design_challenges.services.marks import ClassMarks, load_marks
from tests.builders import enter, make_challenge, make_class, play_round

WORDS = {
    "purpose": "It must fall slowly. We may not use more than 375 points.",
    "meets_limit": "both",
    "chosen": "a",
    "why": "It is bigger, so more air holds it.",
}


def make_marked_class(teams: int = 2, *, children: int = 3, grade: int = 5, **options: Any) -> ClassChallenge:
    """Make a class whose teams have not begun, with the usual rubric of a grade."""
    classroom = make_class(teams, children=children)
    challenge = make_challenge(classroom, **options)
    rubrics.start_usual(challenge, grade, teacher_of(classroom))
    return challenge


def teacher_of(classroom: Classroom) -> Any:
    return classroom.memberships.first().user


def play_well(challenge: ClassChallenge, team: Team, **options: Any) -> None:
    """Play both rounds as a team does that leaves nothing out; `hundredths` are the second round's times."""
    first = play_round(challenge, team, 1)
    write(challenge, first.iteration, WORDS)
    play_round(
        challenge,
        team,
        2,
        radius="7 1/2",
        across=("15", "15"),
        noticing="Ours took longer than before.",
        **options,
    )


def write(challenge: ClassChallenge, iteration: Any, words: Mapping[str, str]) -> None:
    """Write a team's texts."""
    for prompt, text in words.items():
        enter(challenge, lambda author, p=prompt, t=text: saving.save_note(iteration, p, t, author))


def marks_of(challenge: ClassChallenge, *, second: bool = False) -> ClassMarks:
    """Read a class's marks."""
    marks = load_marks(load_export(challenge), second=second)
    assert marks is not None
    return marks


def give(challenge: ClassChallenge, user: Any, second: bool = False, **marks: str) -> None:
    """Give marks by place, `t5__limits="3"` for the team 5 (`fair_test` stands for the key fair-test)."""
    found = marks_of(challenge, second=second)
    wanted = [
        giving.read_mark(place.replace("__", ":").replace("_", "-"), text, found)
        for place, text in marks.items()
    ]
    giving.give(found, wanted, user, uuid.uuid4(), second=second)


def levels(challenge: ClassChallenge, name: str) -> dict[str, str]:
    """Return what stands for a child, by criterion."""
    marks = marks_of(challenge)
    child = next(child for child in marks.children if child.student.given_name == name)
    return {criterion.key: marks.standing(child, criterion).text for criterion in marks.graded}

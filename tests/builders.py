"""Builds classes and plays rounds for tests, through the same doors as the pages use."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Sequence
from decimal import Decimal
from typing import Any

from django.contrib.auth import get_user_model
from django.test import Client

from classroom.access import TEAM_COOKIE
from classroom.codes import hash_token, make_token
from classroom.models import Classroom, Device, Membership, Student, Team, TeamMember
from design_challenges.models import ChallengeSettings, ClassChallenge, DesignIteration, Revision
from design_challenges.services import saving
from design_challenges.services.entries import Author, Sender, save_entry
from design_challenges.services.lengths import parse_length
from design_challenges.services.readiness import judge_material
from design_challenges.services.record_types import RoundRecord
from design_challenges.services.records import load_team
from design_challenges.services.working import Step

NAMES = ["Gannet", "Heron", "Plover", "Skua", "Tern", "Avocet", "Dunlin", "Eider"]
CHILDREN = ["Ana", "Bo", "Cem", "Dia", "Eli", "Fay", "Gus", "Hana"]


def make_teacher(username: str = "teacher", password: str = "a long pass phrase") -> Any:  # noqa: S107
    """Make an adult's account."""
    return get_user_model().objects.create_user(username, password=password)


def make_class(
    teams: int = 2, *, teacher: Any = None, children: int = 3, name: str = "Room 5", joining: bool = True
) -> Classroom:
    """Make a class with teams of invented children, and a challenge with the usual settings."""
    classroom = Classroom.objects.create(name=name, joining_open=joining)
    Membership.objects.create(user=teacher or make_teacher(f"teacher-{classroom.code}"), classroom=classroom)
    for place in range(1, teams + 1):
        turn, index = divmod(place - 1, len(NAMES))
        team = Team.objects.create(
            classroom=classroom, name=NAMES[index] + (f" {turn + 1}" if turn else ""), place=place
        )
        for child in range(children):
            student = Student.objects.create(
                classroom=classroom, given_name=CHILDREN[child], initial=chr(64 + place % 26 or 90)
            )
            TeamMember.objects.create(student=student, team=team)
    return classroom


def make_challenge(
    classroom: Classroom, *, unit_system: str = "us", values: dict[str, str] | None = None, **common: Any
) -> ClassChallenge:
    """Set up the soft landing for a class; `values` are the kind's own settings as text."""
    challenge = ClassChallenge.objects.create(classroom=classroom, kind="soft-landing")
    Revision.objects.create(class_challenge=challenge)
    common.setdefault("drawing_required", False)
    ChallengeSettings.objects.create(
        class_challenge=challenge, version=1, unit_system=unit_system, values=values or {}, **common
    )
    return challenge


def team_client(team: Team) -> Client:
    """Return a browser that has joined the team."""
    from django.utils import timezone

    from classroom.access import TEAM_STAY

    token = make_token()
    Device.objects.create(
        token_hash=hash_token(token),
        classroom=team.classroom,
        role=Device.Role.TEAM,
        team=team,
        expires_at=timezone.now() + TEAM_STAY,
        last_seen_at=timezone.now(),
    )
    client = Client()
    client.cookies[TEAM_COOKIE] = token
    return client


def teacher_client(classroom: Classroom) -> Client:
    """Return a browser in which a teacher of the class is signed in."""
    client = Client()
    client.force_login(classroom.memberships.first().user)
    return client


def record_of(challenge: ClassChallenge, team: Team, number: int = 1) -> RoundRecord:
    """Read a team's round."""
    return load_team(challenge, team).teams[0].rounds[number]


def enter(challenge: ClassChallenge, effect: Callable[[Author], object]) -> None:
    """Save one entry the way a page does."""

    def save(author: Author) -> str:
        effect(author)
        return ""

    save_entry(challenge, Sender(), uuid.uuid4(), {"by": "builder"}, save)


def plan_round(
    challenge: ClassChallenge, team: Team, number: int = 1, *, radius: str = "7", line: str = "13"
) -> DesignIteration:
    """Begin a round and give it a complete plan, sums included where the children work them."""
    iteration = saving.start_round(challenge, team, number)
    unit = record_of(challenge, team, number).kind.length_unit(record_of(challenge, team, number).values)

    def plan(author: Author) -> None:
        for stage in ("idea_a", "idea_b", "planned") if number == 1 else ("planned",):
            saving.save_size(iteration, stage, "canopy_radius", parse_length(radius, unit), author)
            saving.save_size(iteration, stage, "line_length", parse_length(line, unit), author)
        texts = (
            {
                "purpose": "It must fall slowly. It may not pass the limit.",
                "chosen": "a",
                "why": "It is bigger.",
            }
            if number == 1
            else {
                "change": "canopy_radius",
                "change_why": "More air.",
                "change_two": "The limit pushed both.",
            }
        )
        for prompt, text in texts.items():
            saving.save_note(iteration, prompt, text, author)

    enter(challenge, plan)
    record = record_of(challenge, team, number)
    if record.sums_by_children:
        for step in record.kind.plan_steps(record.values):
            answer_right(challenge, team, number, step)
    return iteration


def answer_right(challenge: ClassChallenge, team: Team, number: int, step: Step) -> Decimal:
    """Answer one sum right, and return the answer."""
    record = record_of(challenge, team, number)
    right = step.right(record.context()).highest
    enter(
        challenge,
        lambda author: saving.save_working(
            record.iteration, step.slug, record.basis(step), f"{right:f}", "right", author, value=right
        ),
    )
    return right


def clear_round(challenge: ClassChallenge, team: Team, number: int = 1) -> None:
    """Clear the team to build on the figure the check uses."""
    record = record_of(challenge, team, number)
    judgement = judge_material(record)
    assert judgement is not None
    enter(
        challenge,
        lambda author: saving.clear_team(
            record, "check", author, figure=judgement.figure, figure_from=judgement.figure_from
        ),
    )


def build_round(
    challenge: ClassChallenge,
    team: Team,
    number: int = 1,
    *,
    across: Sequence[str] = ("14", "14"),
    lines: Sequence[str] = ("13", "13", "13", "13"),
) -> None:
    """Measure the made thing."""
    record = record_of(challenge, team, number)
    unit = record.kind.length_unit(record.values)

    def measure(author: Author) -> None:
        for quantity, typed in (("canopy_diameter", across), ("line_length", lines)):
            for spot, text in enumerate(typed, start=1):
                saving.save_size(
                    record.iteration, "built", quantity, parse_length(text, unit), author, spot=spot
                )

    enter(challenge, measure)


def drop_round(
    challenge: ClassChallenge, team: Team, number: int = 1, *, hundredths: Sequence[int] = (412, 398, 405)
) -> None:
    """Time the drops."""
    record = record_of(challenge, team, number)
    for trial, time in enumerate(hundredths, start=1):
        enter(challenge, lambda author, t=trial, h=time: saving.save_reading(record.iteration, t, h, author))


def work_results(challenge: ClassChallenge, team: Team, number: int = 1) -> None:
    """Answer every rounding and every result sum right."""
    record = record_of(challenge, team, number)
    if record.sums_by_children:
        for step in record.rounding_steps.values():
            answer_right(challenge, team, number, step)
        for step in record.result_steps:
            answer_right(challenge, team, number, step)


def play_round(
    challenge: ClassChallenge,
    team: Team,
    number: int = 1,
    *,
    radius: str = "7",
    line: str = "13",
    across: Sequence[str] = ("14", "14"),
    lines: Sequence[str] = ("13", "13", "13", "13"),
    hundredths: Sequence[int] = (412, 398, 405),
    noticing: str = "Bigger canopies fell slower.",
) -> RoundRecord:
    """Take a team through a whole round, and return its record."""
    iteration = plan_round(challenge, team, number, radius=radius, line=line)
    clear_round(challenge, team, number)
    build_round(challenge, team, number, across=across, lines=lines)
    drop_round(challenge, team, number, hundredths=hundredths)
    work_results(challenge, team, number)
    enter(challenge, lambda author: saving.save_note(iteration, "noticing", noticing, author))
    return record_of(challenge, team, number)

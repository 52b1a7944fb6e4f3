"""Invents the demo's school: a class in the middle of round 2, entered the way a class enters it."""

from __future__ import annotations

import secrets
import tomllib
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import timedelta
from fractions import Fraction
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING, Any

from django.conf import settings
from django.contrib.auth import get_user_model
from django.db import transaction
from django.db.models import F
from django.utils import timezone

from classroom.access import TEAM_STAY
from classroom.codes import hash_token, make_token
from classroom.models import (
    Classroom,
    Device,
    Installation,
    Lesson,
    Membership,
    Student,
    Team,
    TeamMember,
)
from design_challenges.kinds import get_kind
from design_challenges.kinds.base import Kind
from design_challenges.kinds.soft_landing.invented import InventedDevice
from design_challenges.kinds.soft_landing.kind import DIAMETER, LINE, RADIUS
from design_challenges.kinds.soft_landing.options import TWICE
from design_challenges.models import (
    ChallengeSettings,
    ClassChallenge,
    Clearance,
    Drop,
    HelpCall,
    Judgement,
    Measurement,
    Note,
    Reading,
    Revision,
    StepGate,
    Working,
)
from design_challenges.services.demo_measuring import read_twice
from design_challenges.services.demo_story import DropPlay, RoundPlay, play_round
from design_challenges.services.entries import Sender, teacher_change
from design_challenges.services.lengths import format_length, parse_length
from design_challenges.services.lessons import end_lesson, save_attendance, start_lesson
from design_challenges.services.marking import giving, rubrics
from design_challenges.services.marks import load_marks
from design_challenges.services.records import load_class, settings_values
from design_challenges.steps import Step

if TYPE_CHECKING:
    from django.contrib.auth.models import User

SEED = 20_240_301
STORY = Path(settings.BASE_DIR) / "fixtures" / "demo.toml"
TEACHER = "demo-teacher"
# fmt: off
WORDS = [
    "anchor", "basalt", "beacon", "bramble", "cinder", "cobble", "compass", "copper", "cormorant",
    "dune", "estuary", "fathom", "fennel", "gravel", "harbour", "heather", "jetty", "kelp",
    "lagoon", "lantern", "lichen", "marram", "meadow", "mooring", "oyster", "paddle", "pebble",
    "pepper", "pontoon", "quartz", "ripple", "rudder", "saffron", "sandbar", "shingle", "signal",
    "slate", "sorrel", "spindle", "thistle", "timber", "trellis", "tunnel", "umber", "velvet",
    "walnut", "whistle", "willow", "winter", "yarrow",
]
# fmt: on
FIRST_LESSON_AGO = timedelta(days=2)
LESSON_LENGTH = timedelta(minutes=50)
GRADE, LEVELS = 5, ("344343", "334434")
SECOND_LESSON_AGO = timedelta(minutes=30)
MEASURED_TWICE = {"measure_canopy": TWICE, "measure_lines": TWICE}
ENTERED = (Measurement, Note, Working, Clearance, Drop, Reading, Judgement)
PROMPTS = (
    "purpose",
    "chosen",
    "meets_limit",
    "slower",
    "why",
    "change_why",
    "change_two",
    "noticing",
    "broke",
)


class DemoRefusedError(RuntimeError):
    """Raised where the database holds classes that nobody invented."""


@dataclass(frozen=True)
class DemoSummary:
    """What somebody needs to look round the demo."""

    teacher_username: str
    teacher_password: str
    class_name: str
    class_code: str
    teams: list[tuple[str, str]]


@dataclass(frozen=True)
class _Measured:
    """What was agreed on and what two children had read, by quantity, spot after spot."""

    built: dict[str, list[str]] = field(default_factory=dict)
    readings: dict[str, list[tuple[str, str]]] = field(default_factory=dict)


def make_password() -> str:
    """Return a fresh password that reads out easily: four different words and four digits, about 36 bits."""
    words = secrets.SystemRandom().sample(WORDS, 4)
    return "-".join([*words, f"{secrets.randbelow(10_000):04d}"])


def load_demo(seed: int = SEED, *, unit_system: str = "us") -> DemoSummary:
    """Make the invented class, or leave it as it is where it was made before, and say how to come in.

    `seed` settles every reading and measurement; codes and the password are fresh each time.
    Raises DemoRefusedError for a database with classes of its own.
    """
    with transaction.atomic():
        installation = Installation.get()
        classroom = Classroom.objects.order_by("pk").first()
        if classroom is not None and not installation.demo:
            raise DemoRefusedError("This database holds real classes: the demo leaves it alone.")
        teacher, password = _teacher()
        if classroom is None:
            story = read_story()
            Installation.objects.filter(pk=installation.pk).update(demo=True, time_zone=story["time_zone"])
            classroom = _Invention(story, seed, unit_system, teacher).make()
    return DemoSummary(
        teacher_username=teacher.get_username(),
        teacher_password=password,
        class_name=classroom.name,
        class_code=classroom.code,
        teams=[(team.name, team.code) for team in classroom.teams.filter(retired_at=None)],
    )


def _teacher() -> tuple[User, str]:
    """Return the demo's teacher with a password that was never used before."""
    password = make_password()
    teacher, _made = get_user_model().objects.get_or_create(username=TEACHER)
    teacher.set_password(password)
    # Whoever looks round in the demo sees the technician's page, too.
    teacher.is_staff = True
    teacher.save(update_fields=["password", "is_staff"])
    return teacher, password


class _Invention:
    """The making of the class: the school's side first, then two lessons."""

    def __init__(self, story: Mapping[str, Any], seed: int, unit_system: str, teacher: User) -> None:
        self.story, self.seed, self.unit_system = story, seed, unit_system
        self.teacher = teacher
        self.by_teacher = Sender(user=teacher)
        self.students: dict[str, Student] = {}
        self.teams: list[tuple[Team, Mapping[str, Any]]] = []

    def make(self) -> Classroom:
        self.classroom = Classroom.objects.create(name=self.story["class_name"])
        Membership.objects.create(user=self.teacher, classroom=self.classroom)
        for place, told in enumerate(self.story["teams"], start=1):
            self.add_team(place, told)
        self.challenge = ClassChallenge.objects.create(classroom=self.classroom, kind="soft-landing")
        Revision.objects.create(class_challenge=self.challenge)
        self.settings = ChallengeSettings.objects.create(
            class_challenge=self.challenge,
            version=1,
            unit_system=self.unit_system,
            values=MEASURED_TWICE,
            made_by=self.teacher,
        )
        self.first_lesson()
        self.open_round_2()
        self.second_lesson()
        self.mark()
        return self.classroom

    def mark(self) -> None:
        """Give the class a rubric and the first teams their marks; the others wait to be marked."""
        rubrics.start_usual(self.challenge, GRADE, self.teacher)
        marks = load_marks(load_class(self.challenge))
        if marks is None:
            return
        wanted = [
            giving.read_mark(f"t{team.pk}:{criterion.key}", level, marks)
            for (team, _told), levels in zip(self.teams, LEVELS, strict=False)
            for criterion, level in zip(marks.graded, levels, strict=True)
        ]
        giving.give(marks, wanted, self.teacher, uuid.uuid4())

    def add_team(self, place: int, told: Mapping[str, Any]) -> None:
        team = Team.objects.create(classroom=self.classroom, name=told["name"], place=place)
        self.teams.append((team, told))
        for child in told["children"]:
            given_name, _space, initial = child.rpartition(" ")
            student = Student.objects.create(classroom=self.classroom, given_name=given_name, initial=initial)
            TeamMember.objects.create(student=student, team=team)
            self.students[child] = student

    # --- lessons -----------------------------------------------------------------------------

    def first_lesson(self) -> None:
        """Round 1, from the first sentence to the noticing; ended, tablets signed out."""
        lesson = start_lesson(self.classroom, self.teacher)
        self.call_the_roll(lesson)
        for team, told in self.teams:
            self.play(team, told, 1, Sender(device=self.tablet(team)))
        end_lesson(lesson)
        started = timezone.now() - FIRST_LESSON_AGO
        ended = started + LESSON_LENGTH
        Lesson.objects.filter(pk=lesson.pk).update(started_at=started, ended_at=ended)
        self.classroom.devices.update(made_at=started, revoked_at=ended, last_seen_at=ended)
        # What was entered in this lesson carries its day: who was away for a round follows from that.
        for model in ENTERED:
            model._base_manager.update(made_at=F("made_at") - FIRST_LESSON_AGO)

    def second_lesson(self) -> None:
        """Round 2, as far as each team has come; still open, and tablets may join."""
        lesson = start_lesson(self.classroom, self.teacher)
        Lesson.objects.filter(pk=lesson.pk).update(started_at=lesson.started_at - SECOND_LESSON_AGO)
        self.call_the_roll(lesson)
        for team, told in self.teams:
            self.play(team, told, 2, Sender(device=self.tablet(team)))
            if told["two"].get("help"):
                self.call_for_help(team)

    def call_the_roll(self, lesson: Lesson) -> None:
        absent = self.story["absent"][f"lesson_{lesson.number}"]
        here = {student.pk for child, student in self.students.items() if child not in absent}
        save_attendance(lesson, here)

    def tablet(self, team: Team) -> Device:
        """Return a tablet that joined the team, last seen a moment ago; nobody holds its token."""
        now = timezone.now()
        return Device.objects.create(
            token_hash=hash_token(make_token()),
            classroom=self.classroom,
            role=Device.Role.TEAM,
            team=team,
            expires_at=now + TEAM_STAY,
            last_seen_at=now - timedelta(seconds=7 * team.place),
        )

    def open_round_2(self) -> None:
        def switch() -> None:
            for step in Step:
                StepGate.objects.create(class_challenge=self.challenge, round=2, step=step, open=True)

        teacher_change(self.challenge.pk, switch)

    def call_for_help(self, team: Team) -> None:
        def call() -> None:
            HelpCall.objects.create(class_challenge=self.challenge, team=team)

        teacher_change(self.challenge.pk, call)

    # --- rounds ------------------------------------------------------------------------------

    def play(self, team: Team, told: Mapping[str, Any], number: int, sender: Sender) -> None:
        kind = get_kind(self.challenge.kind)
        values = settings_values(self.settings, kind)
        given = invent_play(kind, values, told, number, f"{self.seed} {team.place} {number}")
        given = replace(given, readers=self.readers(told, number))
        play_round(self.challenge, team, number, given, sender, teacher=self.by_teacher)

    def readers(self, told: Mapping[str, Any], number: int) -> list[Student]:
        """Return the two children who measure: the first two of the team who are there."""
        absent = self.story["absent"][f"lesson_{number}"]
        return [self.students[child] for child in told["children"] if child not in absent][:2]


def read_story() -> Mapping[str, Any]:
    """Return the story of the invented class."""
    return tomllib.loads(STORY.read_text(encoding="utf-8"))


def invent_play(
    kind: Kind, values: Mapping[str, Any], told: Mapping[str, Any], number: int, seed: str
) -> RoundPlay:
    """Return what a team of the story types in a round under these settings; `seed` settles its numbers."""
    script = told["one" if number == 1 else "two"]
    sizes = told[values["unit_system"]]
    chosen = sizes.get(script.get("chosen", "two"))
    ideas, plan = {}, {}
    if number == 1:
        ideas = {letter: _by_quantity(sizes[letter]) for letter in ("a", "b")}
    elif chosen:
        plan = _by_quantity(chosen)
    measured, drops = _invent(kind, values, chosen, script, number, seed) if chosen else (_Measured(), [])
    return RoundPlay(
        ideas=ideas,
        plan=plan,
        notes=_notes(script, sizes, number),
        tries=script.get("tries", {}),
        cleared_by_hand=script.get("clear", ""),
        built=measured.built,
        readings=measured.readings,
        drops=drops,
        stop=script.get("stop", ""),
    )


def _invent(
    kind: Kind,
    values: Mapping[str, Any],
    sizes: Sequence[str],
    script: Mapping[str, Any],
    number: int,
    seed: str,
) -> tuple[_Measured, list[DropPlay]]:
    """Return what the made thing measures, and how it falls, each with its scatter."""
    # Two generators, so that who reads how leaves the device and its falls as they are.
    random, eyes = Random(seed), Random(f"{seed} eyes")  # noqa: S311 - not for secrets
    unit, division = kind.length_unit(values), Fraction(values["tape_division"])
    planned = _by_quantity(sizes)
    radius, line = (parse_length(planned[slug], unit).value for slug in (RADIUS, LINE))
    middle = {DIAMETER: 2 * radius, LINE: line}
    made: dict[str, list[Fraction]] = {}
    for spot in kind.spots(values):
        off = random.choice((-1, 0, 0, 0, 1)) * division
        made.setdefault(spot.quantity, []).append(middle[spot.quantity] + off)
    device = InventedDevice(
        values, {slug: sum(values, Fraction(0)) / len(values) for slug, values in made.items()}, random
    )
    told = script.get("drops") or [{"trial": trial} for trial in range(1, values["trials_per_round"] + 1)]
    from_the_one = bool(script.get("from_the_one"))
    readings = read_twice(made, number, division, eyes, from_the_one=from_the_one)

    def write(size: Fraction) -> str:
        return format_length(size, unit, division)

    measured = _Measured(
        {quantity: [write(size) for size in found] for quantity, found in made.items()},
        {quantity: [(write(a), write(b)) for a, b in found] for quantity, found in readings.items()},
    )
    if script.get("stop") == "build":
        measured.built[LINE][0] = ""
    return measured, [_drop(drop, device) for drop in told]


def _by_quantity(sizes: Sequence[str]) -> dict[str, str]:
    return dict(zip((RADIUS, LINE), sizes, strict=True))


def _drop(told: Mapping[str, Any], device: InventedDevice) -> DropPlay:
    mark = told.get("mark", "")
    if mark in ("hit", "timing", "release"):
        return DropPlay(told["trial"], None, mark)
    reading = device.drop(mark)
    if "misread" in told:
        typed = reading + int(told["misread"])
        return DropPlay(told["trial"], typed, mark, corrected=reading, note=told["note"])
    return DropPlay(told["trial"], reading, mark)


def _notes(script: Mapping[str, Any], sizes: Mapping[str, Sequence[str]], number: int) -> dict[str, str]:
    notes = {"drawing": "paper", **{prompt: script[prompt] for prompt in PROMPTS if prompt in script}}
    if number > 1 and "two" in sizes:
        pairs = zip((RADIUS, LINE), sizes["a"], sizes["two"], strict=True)
        changed = [slug for slug, before, after in pairs if before != after]
        notes["change"] = changed[0] if len(changed) == 1 else "two"
    return notes

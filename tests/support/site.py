"""Builds a school for looking at pages: classes of a size, a team at every stage, cards and links."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import timedelta
from typing import Any

from django.conf import settings
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY, get_user_model
from django.contrib.auth.tokens import default_token_generator
from django.contrib.sessions.backends.db import SessionStore
from django.db import transaction
from django.db.models import Model
from django.utils import timezone
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode

from classroom.access import TEAM_STAY
from classroom.codes import hash_token, make_token
from classroom.models import Classroom, Device, StationPass, SubstitutePass, Team
from design_challenges.models import (
    ClassChallenge,
    Clearance,
    DesignIteration,
    Drop,
    Judgement,
    Measurement,
    Note,
    Reading,
    Working,
)
from design_challenges.services import evidence
from design_challenges.services.demo import load_demo
from design_challenges.services.lessons import end_lesson, start_lesson
from design_challenges.services.marking import rubrics
from tests import builders
from tests.support import stages

TEAMS_IN_A_CLASS = 8


def add_to_class(classroom: Classroom, source: Team, teams: Sequence[Team]) -> None:
    """Give teams of a class the rounds that another team has played."""
    challenge = classroom.challenges.get()
    for team in teams:
        copy_rounds(source, team, challenge)


def copy_rounds(source: Team, target: Team, challenge: ClassChallenge) -> None:
    """Copy every row of a team's rounds to another team, which has none."""
    newest = challenge.settings_versions.order_by("-version")[:1].get()
    for iteration in DesignIteration.objects.filter(team=source).order_by("number"):
        twin = _copies([iteration], team=target, class_challenge=challenge, settings=newest)[iteration.pk]
        for model in (Measurement, Note, Working, Clearance):
            _copies(model.objects.filter(iteration=iteration).order_by("pk"), iteration=twin, submission=None)
        drops = _copies(
            Drop.objects.filter(iteration=iteration).order_by("pk"), iteration=twin, submission=None
        )
        for drop_id, drop in drops.items():
            of_drop = Reading.objects.filter(drop_id=drop_id).order_by("pk")
            readings = _copies(of_drop, drop=drop, team=target, class_challenge=challenge, submission=None)
            _copies(Judgement.objects.filter(drop_id=drop_id).order_by("pk"), drop=drop, submission=None)
            for reading_id, reading in readings.items():
                _copies(
                    Judgement.objects.filter(reading_id=reading_id).order_by("pk"),
                    reading=reading,
                    submission=None,
                )


def _copies(rows: Any, **changes: Any) -> dict[int, Any]:
    """Copy rows with changes; return the copies by the id of what they were copied from."""
    copies: dict[int, Any] = {}
    for row in rows:
        model: type[Model] = type(row)
        values = {field.attname: getattr(row, field.attname) for field in model._meta.concrete_fields}
        del values["id"]
        for name, value in changes.items():
            values.pop(model._meta.get_field(name).attname, None)
            values[name] = value
        copies[row.pk] = model._default_manager.create(**values)
    return copies


def played_team(teacher: Any, stage: str = "finished") -> Team:
    """Return a team in a class of its own that has played up to a stage."""
    classroom = builders.make_class(1, teacher=teacher, name="Pattern")
    challenge = builders.make_challenge(classroom, drawing_required=True)
    team = classroom.teams.get()
    stages.play_to(challenge, team, stage)
    return team


def make_class(
    size: int, teacher: Any, source: Team | None, *, name: str = "Room 5", free: int = 1
) -> Classroom:
    """Make a class of `size` teams in its second lesson; all but the first `free` have played both rounds."""
    classroom = builders.make_class(size, teacher=teacher, name=name)
    challenge = builders.make_challenge(classroom, drawing_required=True)
    rubrics.start_usual(challenge, 5, teacher)
    stages.open_round(challenge, 2)
    if source is not None:
        add_to_class(classroom, source, list(classroom.teams.all()[free:]))
    end_lesson(start_lesson(classroom, teacher))
    start_lesson(classroom, teacher)
    return classroom


def let_in(team: Team) -> str:
    """Return the cookie of a new tablet of a team."""
    return _device(classroom=team.classroom, role=Device.Role.TEAM, team=team)


def _device(**who: Any) -> str:
    token = make_token()
    Device.objects.create(
        token_hash=hash_token(token),
        expires_at=timezone.now() + TEAM_STAY,
        last_seen_at=timezone.now(),
        **who,
    )
    return token


def make_card(classroom: Classroom, *, over: bool = False) -> tuple[str, SubstitutePass]:
    """Return a substitute card's token and the card."""
    token = make_token()
    lasts = timedelta(days=-1) if over else timedelta(days=1)
    card = SubstitutePass.objects.create(
        classroom=classroom, token_hash=hash_token(token), expires_at=timezone.now() + lasts
    )
    return token, card


def let_substitute_in(classroom: Classroom) -> str:
    """Return the cookie of a substitute's browser."""
    _token, card = make_card(classroom)
    return _device(classroom=classroom, role=Device.Role.SUBSTITUTE, substitute_pass=card)


def make_station(classroom: Classroom, *, over: bool = False) -> tuple[str, StationPass]:
    """Return a timing station's token and its pass."""
    token = make_token()
    lasts = timedelta(days=-1) if over else timedelta(days=1)
    card = StationPass.objects.create(
        classroom=classroom,
        kind="soft-landing",
        token_hash=hash_token(token),
        expires_at=timezone.now() + lasts,
    )
    return token, card


def let_station_in(classroom: Classroom) -> str:
    """Return the cookie of a phone that is a timing station."""
    _token, card = make_station(classroom)
    return _device(classroom=classroom, role=Device.Role.STATION, station_pass=card)


def leave_unplaced(team: Team) -> Reading:
    """Add a time of the team's that found no drop."""
    return Reading.objects.create(
        class_challenge=team.classroom.challenges.get(),
        team=team,
        hundredths=377,
        source=Reading.Source.STATION,
        unplaced=Reading.Unplaced.ENDED,
    )


def sign_in(user: Any) -> str:
    """Return the session cookie of a browser in which the user is signed in."""
    session = SessionStore()
    session[SESSION_KEY] = str(user.pk)
    session[BACKEND_SESSION_KEY] = settings.AUTHENTICATION_BACKENDS[0]
    session[HASH_SESSION_KEY] = user.get_session_auth_hash()
    session.save()
    return str(session.session_key)


def other_classes(teacher: Any) -> dict[str, Any]:
    """Make a class that is paused, asked, without a challenge, without children, put away: one of each."""
    paused = builders.make_class(2, teacher=teacher, name="Paused class")
    challenge = builders.make_challenge(paused)
    stages.play_to(challenge, paused.teams.first(), "idea-a")
    ClassChallenge.objects.filter(pk=challenge.pk).update(paused_at=timezone.now())
    asked = builders.make_class(2, teacher=teacher, name="Class with a question")
    evidence.ask(builders.make_challenge(asked), "area")
    unset = builders.make_class(2, teacher=teacher, name="Class without a challenge")
    empty = builders.make_class(0, teacher=teacher, name="Empty class")
    archived = builders.make_class(2, teacher=teacher, name="Class put away")
    Classroom.objects.filter(pk=archived.pk).update(archived_at=timezone.now())
    return {
        "unset_code": unset.code,
        "empty_code": empty.code,
        "archived_code": archived.code,
        "paused_code": paused.code,
        "asked_child": asked.teams.first().members.first().student_id,
        "tablets": {
            "asked": let_in(asked.teams.first()),
            "paused": let_in(paused.teams.first()),
            "unset": let_in(unset.teams.first()),
        },
    }


def known_of(classroom: Classroom, team: Team | None = None) -> dict[str, Any]:
    """Return what the addresses of a class's pages need; `team` is one that has played."""
    team = team or classroom.teams.last()
    invited = get_user_model().objects.create_user(f"colleague-{classroom.code}")
    return {
        "code": classroom.code,
        "team": team.pk,
        "team_code": team.code,
        "student": classroom.students.first().pk,
        "member": team.members.order_by("pk")[0].student_id,
        "drop": stages.some_drop(team),
        "invited": urlsafe_base64_encode(force_bytes(invited.pk)),
        "invitation": default_token_generator.make_token(invited),
        "card": make_card(classroom)[0],
        "old_card": make_card(classroom, over=True)[0],
        "station": make_station(classroom)[0],
        "old_station": make_station(classroom, over=True)[0],
        "unplaced": leave_unplaced(team).pk,
    }


def teams_at_stages(teacher: Any, wanted: Collection[str] | None = None) -> dict[str, Team]:
    """Return a team at each wanted stage (at every one unless said otherwise), eight to a class."""
    pattern_class = builders.make_class(1, teacher=teacher, name="Pattern")
    challenge = builders.make_challenge(pattern_class, drawing_required=True)
    pattern = pattern_class.teams.get()
    teams: dict[str, Team] = {}
    free: list[Team] = []
    for stage in stages.walk(challenge, pattern):
        if wanted is not None and stage not in wanted:
            continue
        if not free:
            name = f"Room {len(teams) // TEAMS_IN_A_CLASS + 1}"
            free = list(make_class(TEAMS_IN_A_CLASS, teacher, None, name=name).teams.all())
        teams[stage] = free.pop(0)
        copy_rounds(pattern, teams[stage], teams[stage].classroom.challenges.get())
    return teams


@transaction.atomic
def build() -> dict[str, Any]:
    """Build the demo's class for the teacher's pages, and a team at every stage for the tablets'."""
    load_demo()
    demo = Classroom.objects.get()
    teacher = demo.memberships.get().user
    teams = teams_at_stages(teacher)
    others = other_classes(teacher)
    second = stages.second_reading(teams["which"])
    return {
        "known": {**known_of(demo, demo.teams.first()), **others, "second": second},
        "tablets": {**{stage: let_in(team) for stage, team in teams.items()}, **others["tablets"]},
        "session": sign_in(teacher),
        "substitute": let_substitute_in(demo),
        "station": let_station_in(demo),
    }


@transaction.atomic
def build_stages(username: str, password: str, wanted: Collection[str]) -> dict[str, Any]:
    """Build teams at some stages, in classes of a teacher who can sign in."""
    teacher = builders.make_teacher(username, password)
    return {
        stage: {
            "team": team.pk,
            "code": team.classroom.code,
            "team_code": team.code,
            "cookie": let_in(team),
        }
        for stage, team in teams_at_stages(teacher, wanted).items()
    }

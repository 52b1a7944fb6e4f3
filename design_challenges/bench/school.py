"""Makes the benchmark's classes: one team plays as tablets do, its rows are copied to the others."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import cycle
from typing import Any

from django.conf import settings
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY, get_user_model
from django.contrib.sessions.backends.db import SessionStore
from django.db.models import Model
from django.utils import timezone

from classroom.access import TEAM_STAY
from classroom.codes import hash_token, make_token
from classroom.models import Classroom, Device, Membership, StationPass, Student, Team, TeamMember
from design_challenges.kinds import get_kind
from design_challenges.models import (
    ChallengeSettings,
    ClassChallenge,
    Clearance,
    DesignIteration,
    Drop,
    Judgement,
    Measurement,
    Note,
    QueueMove,
    Reading,
    Revision,
    Working,
)
from design_challenges.services import demo, progress, switches
from design_challenges.services.demo_story import play_round
from design_challenges.services.entries import Sender
from design_challenges.services.lessons import start_lesson
from design_challenges.services.records import load_team, settings_values
from design_challenges.steps import Step

BATCH = 400
ROUNDS = 2


def make_teacher() -> Any:
    """Make an adult who cannot sign in by a password."""
    return get_user_model().objects.create_user(f"bench-{make_token()[:12]}")


def sign_in(user: Any) -> str:
    """Return the session of a browser in which the user is signed in."""
    session = SessionStore()
    session[SESSION_KEY] = str(user.pk)
    session[BACKEND_SESSION_KEY] = settings.AUTHENTICATION_BACKENDS[0]
    session[HASH_SESSION_KEY] = user.get_session_auth_hash()
    session.save()
    return str(session.session_key)


def make_empty_class(name: str, teacher: Any, **options: Any) -> ClassChallenge:
    """Make a class with the challenge's usual settings, both rounds open, no teams."""
    classroom = Classroom.objects.create(name=name, joining_open=True)
    Membership.objects.create(user=teacher, classroom=classroom)
    challenge = ClassChallenge.objects.create(classroom=classroom, kind="soft-landing")
    Revision.objects.create(class_challenge=challenge)
    ChallengeSettings.objects.create(class_challenge=challenge, version=1, unit_system="us", **options)
    for number in range(1, ROUNDS + 1):
        switches.set_gates(challenge, number, list(Step), True)
    start_lesson(classroom, teacher)
    return challenge


def make_pattern(teacher: Any, trials: int = 3) -> Team:
    """Return a team that has played both rounds with so many drops in each."""
    challenge = make_empty_class("Pattern", teacher, trials_per_round=trials)
    team = add_teams(challenge.classroom, 1)[0]
    newest = challenge.settings_versions.get()
    kind = get_kind(challenge.kind)
    told = next(team for team in demo.read_story()["teams"] if "stop" not in team["two"])
    for number in range(1, ROUNDS + 1):
        play = demo.invent_play(kind, settings_values(newest, kind), told, number, f"bench {number}")
        # These classes measure once.
        play_round(
            challenge, team, number, replace(play, readings={}), Sender(), teacher=Sender(user=teacher)
        )
    _check_played(challenge, team)
    return team


def _check_played(challenge: ClassChallenge, team: Team) -> None:
    rounds = load_team(challenge, team).teams[0].rounds.values()
    if len(rounds) != ROUNDS or any(progress.next_step(record) is not None for record in rounds):
        raise RuntimeError("The pattern's team did not come to the end of its rounds.")


def make_class(name: str, teams: int, teacher: Any, pattern: Team, children: int = 4) -> ClassChallenge:
    """Make a class whose teams have all played what the pattern has, with other times."""
    trials = DesignIteration.objects.filter(team=pattern)[0].settings.trials_per_round
    challenge = make_empty_class(name, teacher, trials_per_round=trials)
    copy_rounds(pattern, add_teams(challenge.classroom, teams, children), challenge)
    return challenge


def make_dropping_class(name: str, teams: int, teacher: Any, pattern: Team) -> ClassChallenge:
    """Make a class whose teams have built in their first round and dropped nothing, the station open."""
    challenge = make_empty_class(name, teacher, sums_by="software")
    copy_rounds(pattern, add_teams(challenge.classroom, teams), challenge, rounds=1, drops=False)
    for move in (QueueMove.Move.START, QueueMove.Move.NO_REFERENCE):
        QueueMove.objects.create(class_challenge=challenge, move=move)
    return challenge


def add_teams(classroom: Classroom, teams: int, children: int = 4) -> list[Team]:
    """Add teams of invented children."""
    added = Team.objects.bulk_create(
        Team(classroom=classroom, name=f"Team {place}", place=place) for place in range(1, teams + 1)
    )
    students = Student.objects.bulk_create(
        Student(classroom=classroom, given_name=f"Kid {number}", initial="K")
        for number in range(teams * children)
    )
    TeamMember.objects.bulk_create(
        TeamMember(student=student, team=added[number // children]) for number, student in enumerate(students)
    )
    return added


def copy_rounds(
    source: Team,
    targets: Sequence[Team],
    challenge: ClassChallenge,
    *,
    rounds: int = ROUNDS,
    drops: bool = True,
) -> None:
    """Give every target the rounds of a team; their times differ from team to team by some hundredths."""
    newest = challenge.settings_versions.order_by("-version")[:1].get()
    for iteration in DesignIteration.objects.filter(team=source, number__lte=rounds).order_by("number"):
        twins = DesignIteration.objects.bulk_create(
            DesignIteration(
                team=team,
                class_challenge=challenge,
                number=iteration.number,
                settings=newest,
                made_at=timezone.now(),
            )
            for team in targets
        )
        for model in (Measurement, Note, Working, Clearance):
            rows = list(model._default_manager.filter(iteration=iteration).order_by("pk"))
            _add(_copy(row, iteration=twin, submission=None) for twin in twins for row in rows)
        for drop in Drop.objects.filter(iteration=iteration).order_by("pk") if drops else ():
            copies = _add(_copy(drop, iteration=twin, submission=None) for twin in twins)
            judged = list(Judgement.objects.filter(drop=drop).order_by("pk"))
            _add(_copy(row, drop=twin, submission=None) for twin in copies for row in judged)
            for reading in Reading.objects.filter(drop=drop).order_by("pk"):
                _add(
                    _copy(
                        reading,
                        drop=twin,
                        team=team,
                        class_challenge=challenge,
                        submission=None,
                        hundredths=reading.hundredths + 7 * place % 90,
                    )
                    for place, (twin, team) in enumerate(zip(copies, targets, strict=True))
                )


def _copy(row: Model, **changes: Any) -> Model:
    values = {field.attname: getattr(row, field.attname) for field in row._meta.concrete_fields}
    del values["id"]
    for name, value in changes.items():
        values.pop(f"{name}_id", None)
        values.pop(name, None)
        values[name] = value
    return type(row)(**values)


def _add(rows: Iterable[Model]) -> list[Any]:
    made = list(rows)
    return list(type(made[0])._default_manager.bulk_create(made, batch_size=BATCH)) if made else []


def saves_of(challenge: ClassChallenge) -> Iterator[None]:
    """Save something for one team after the other, each time it is asked: a drop is judged once more."""
    drops = list(Drop.objects.filter(iteration__class_challenge=challenge, iteration__number=ROUNDS))
    for drop in cycle(drops):
        Judgement.objects.create(drop=drop, counts=True, reason=Judgement.Reason.TEACHER)
        yield


def let_in(teams: Sequence[Team]) -> list[str]:
    """Return the cookie of a tablet for each team."""
    tokens = [make_token() for _ in teams]
    now = timezone.now()
    Device.objects.bulk_create(
        Device(
            token_hash=hash_token(token),
            classroom_id=team.classroom_id,
            role=Device.Role.TEAM,
            team=team,
            expires_at=now + TEAM_STAY,
            last_seen_at=now,
        )
        for token, team in zip(tokens, teams, strict=True)
    )
    return tokens


def let_station_in(classroom: Classroom) -> str:
    """Return the cookie of a phone that is the class's timing station."""
    until = timezone.now() + TEAM_STAY
    card = StationPass.objects.create(
        classroom=classroom, kind="soft-landing", token_hash=hash_token(make_token()), expires_at=until
    )
    token = make_token()
    Device.objects.create(
        token_hash=hash_token(token),
        classroom=classroom,
        role=Device.Role.STATION,
        station_pass=card,
        expires_at=until,
        last_seen_at=timezone.now(),
    )
    return token


def call_drops(challenge: ClassChallenge, teams: Sequence[Team], trials: int) -> list[tuple[Team, int]]:
    """Put teams at the drop site with every drop called good and no time yet; return team and drop ids."""
    newest = challenge.settings_versions.order_by("-version")[:1].get()
    rounds = list(DesignIteration.objects.filter(team__in=teams, number=1).select_related("team"))
    if not rounds:
        raise ValueError("These teams have not begun.")
    DesignIteration.objects.filter(pk__in=[one.pk for one in rounds]).update(settings=newest)
    drops = Drop.objects.bulk_create(
        Drop(iteration=one, trial=trial, attempt=2) for one in rounds for trial in range(1, trials + 1)
    )
    team_of = {one.pk: one.team for one in rounds}
    return [(team_of[drop.iteration_id], drop.pk) for drop in drops]

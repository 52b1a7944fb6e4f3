"""Who plays: the invented teams of the story, what each types in a round, and the right answers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from typing import Any

from django.db import connections, transaction

from classroom.models import Classroom, Student, Team, TeamMember
from design_challenges.kinds import get_kind
from design_challenges.kinds.base import Kind
from design_challenges.models import ClassChallenge
from design_challenges.services.demo import SEED, invent_play, read_story
from design_challenges.services.demo_story import RoundPlay, typed_for
from design_challenges.services.direction import true_direction
from design_challenges.services.lengths import parse_length
from design_challenges.services.records import find_challenge, load_team, settings_values


class RehearsalRefusedError(RuntimeError):
    """Raised where a class has children of its own, or no challenge to work through."""


@dataclass(frozen=True)
class Part:
    """One team's part: who it is, and what it types in each round."""

    team_id: int
    name: str
    code: str
    plays: Mapping[int, RoundPlay]
    story: int
    """Which team of the story it is: teams of one story give the same answers."""


@dataclass
class Cast:
    """A class that is rehearsed with, and its teams' parts."""

    class_code: str
    challenge_id: int
    parts: list[Part] = field(default_factory=list)


def assemble(classroom: Classroom, teams: int = 8) -> Cast:
    """Give a class without children of its own this many invented teams, and each team its part.

    A class that was rehearsed with before keeps its teams. Raises RehearsalRefusedError.
    """
    challenge = find_challenge(classroom)
    if challenge is None or challenge.newest_settings is None:
        raise RehearsalRefusedError("This class has no challenge yet: set one up, then rehearse it.")
    told = read_story()["teams"]
    _refuse_real_children(classroom, told)
    if not classroom.teams.exists():
        _add_teams(classroom, told, teams)
    kind = get_kind(challenge.kind)
    values = settings_values(challenge.newest_settings, kind)
    stories = range(len(told))
    plays = {
        story: {number: _fit(invent_play, kind, values, told[story], number) for number in (1, 2)}
        for story in stories
    }
    cast = Cast(classroom.code, challenge.pk)
    for place, team in enumerate(classroom.teams.filter(retired_at__isnull=True).order_by("place", "pk")):
        story = place % len(told)
        cast.parts.append(Part(team.pk, team.name, team.code, plays[story], story))
    return cast


def _fits(kind: Kind, values: Mapping[str, Any], typed: Sequence[str]) -> bool:
    """Say whether a plan of these sizes keeps to the limit under these settings."""
    unit = kind.length_unit(values)
    slugs = [quantity.slug for quantity in kind.quantities(values)]
    sizes = {slug: parse_length(text, unit).value for slug, text in zip(slugs, typed, strict=True)}
    figures = kind.plan_figures(values, sizes, {})
    return figures.material_class <= figures.limit


def _fit(
    invent: Any, kind: Any, values: Mapping[str, Any], told: Mapping[str, Any], number: int
) -> RoundPlay:
    """Return a round that a team can play to its end by itself: no stop, nothing that waits for a teacher."""
    script = {key: text for key, text in told["one" if number == 1 else "two"].items() if key != "stop"}
    if number == 2:
        script = {**_ROUND_2, **script}
    units = values["unit_system"]
    # Who has not chosen new sizes yet, or too large ones, takes one of the ideas.
    wanted = [told[units][name] for name in ("two", "b", "a") if name in told[units]]
    fitting = next((sizes for sizes in wanted if _fits(kind, values, sizes)), wanted[-1])
    whole = {**told, units: {**told[units], "two": fitting}, "one" if number == 1 else "two": script}
    given: RoundPlay = invent(kind, values, whole, number, f"{SEED} {told['name']} {number}")
    drops = [
        drop if drop.corrected is None else replace(drop, hundredths=drop.corrected) for drop in given.drops
    ]
    return replace(given, cleared_by_hand="", drops=drops)


_ROUND_2 = {
    "change_why": "We want to know what it does when only this changes.",
    "change_two": "The limit: when one grows, the other must shrink.",
    "noticing": "It fell otherwise than the first one. We measured it three times.",
}


def _refuse_real_children(classroom: Classroom, told: Sequence[Mapping[str, Any]]) -> None:
    invented = {child for team in told for child in team["children"]}
    if any(f"{child.given_name} {child.initial}" not in invented for child in classroom.students.all()):
        raise RehearsalRefusedError(
            "This class has children of its own, and a rehearsal writes into the class. "
            "Make another class, set its challenge up, and rehearse with that one."
        )


def _add_teams(classroom: Classroom, told: Sequence[Mapping[str, Any]], teams: int) -> None:
    with transaction.atomic():
        for place in range(teams):
            turn, index = divmod(place, len(told))
            name = told[index]["name"] + (f" {turn + 1}" if turn else "")
            team = Team.objects.create(classroom=classroom, name=name, place=place + 1)
            for child in told[index]["children"]:
                given_name, _space, initial = child.rpartition(" ")
                student = Student.objects.create(classroom=classroom, given_name=given_name, initial=initial)
                TeamMember.objects.create(student=student, team=team)


class Answers:
    """What the children work out: read off the team's own record, once for all teams of one story.

    The database is asked in a thread of its own, because the players share one that must not wait.
    """

    def __init__(self) -> None:
        self._known: dict[tuple[object, ...], list[str]] = {}
        self._reader = ThreadPoolExecutor(1)

    async def of(self, challenge_id: int, part: Part, number: int, what: str) -> list[str]:
        """Return what is typed for a sum, wrong tries first; `what` is the sum's slug or "direction"."""
        import asyncio

        key = (part.story, number, what)
        if key not in self._known:
            loop = asyncio.get_running_loop()
            self._known[key] = await loop.run_in_executor(
                self._reader, self._read, challenge_id, part, number, what
            )
        return self._known[key]

    def _read(self, challenge_id: int, part: Part, number: int, what: str) -> list[str]:
        challenge = ClassChallenge.objects.select_related("classroom").get(pk=challenge_id)
        record = load_team(challenge, Team.objects.get(pk=part.team_id)).teams[0].rounds[number]
        if what == "direction":
            return [true_direction(record)]
        steps = [
            *record.kind.plan_steps(record.values),
            *record.rounding_steps.values(),
            *record.result_steps,
        ]
        step = next(step for step in steps if step.slug == what)
        tries = [typed_for(step, record, attempt) for attempt in part.plays[number].tries.get(what, ())]
        return [*(typed for typed in tries if typed), f"{step.right(record.context()).lowest:f}"]

    def close(self) -> None:
        """Let go of the database."""
        self._reader.submit(connections.close_all).result()
        self._reader.shutdown()

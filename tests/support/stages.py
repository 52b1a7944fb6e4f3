"""Walks a team through both rounds of the soft landing and stops where a page is to be looked at."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from classroom.models import Team
from design_challenges.models import ClassChallenge, DesignIteration, Drop, Reading, StepGate
from design_challenges.services import saving
from design_challenges.services.lengths import parse_length
from design_challenges.services.record_types import RoundRecord
from design_challenges.services.units import Unit
from tests import builders


def open_round(challenge: ClassChallenge, number: int) -> None:
    """Open every step of a round for the class."""
    for step in ("plan", "ready", "build", "test", "results", "compare"):
        StepGate.objects.get_or_create(
            class_challenge=challenge, round=number, step=step, team=None, defaults={"open": True}
        )


def walk(challenge: ClassChallenge, team: Team) -> Iterator[str]:
    """Yield the name of each stage once the team is there."""
    first = saving.start_round(challenge, team, 1)
    yield "purpose"
    _note(challenge, first, purpose="It must fall slowly. It may not pass the limit.")
    yield "idea-a"
    _sizes(challenge, first, "idea_a", "8 1/2", "14")
    yield "idea-b"
    _sizes(challenge, first, "idea_b", "7", "13")
    yield "limit"
    _note(challenge, first, meets_limit="b")
    yield "slower"
    _note(challenge, first, slower="a", why="Its canopy is bigger")
    yield "choose"
    builders.enter(
        challenge, lambda author: saving.choose_idea(builders.record_of(challenge, team), "a", author)
    )
    yield "sums"
    _sums(challenge, team, 1)
    yield "over"
    _sizes(challenge, first, "planned", "7", "13")
    _sums(challenge, team, 1)
    yield "drawing"
    _note(challenge, first, drawing="paper")
    yield "ready"
    builders.clear_round(challenge, team)
    yield "cleared"
    _measure(challenge, first, "canopy_diameter", ["14", "13 3/4"])
    yield "lines"
    _measure(challenge, first, "line_length", ["13", "13", "12 3/4", "13"])
    yield "made"
    _call(challenge, first, 1)
    yield "time"
    _time(challenge, first, 1, 345)
    yield "round"
    builders.enter(challenge, lambda author: saving.save_reading(first, 1, 354, author, seen=0))
    yield "which"
    _round(challenge, team, 1)
    yield "call"
    _call(challenge, first, 2)
    builders.enter(challenge, lambda author: saving.save_reading(first, 2, 156, author, mark="not_open"))
    _round(challenge, team, 1)
    builders.enter(challenge, lambda author: saving.void_drop(first, 3, "timing", author))
    _call(challenge, first, 3)
    _time(challenge, first, 3, 352)
    _round(challenge, team, 1)
    yield "dropped"
    builders.work_results(challenge, team)
    yield "worked"
    _note(challenge, first, noticing="Teams with a wide canopy fell slower.")
    yield "noticed"
    second = saving.start_round(challenge, team, 2)
    yield "change"
    _note(challenge, second, change="two", change_why="Our canopy was small and we had points left.")
    yield "new-sizes"
    _sizes(challenge, second, "planned", "8", "12")
    yield "change-two"
    _note(challenge, second, change_two="The limit: when one grows, the other must shrink.")
    yield "new-sums"
    _sums(challenge, team, 2)
    _note(challenge, second, drawing="paper")
    yield "new-ready"
    builders.clear_round(challenge, team, 2)
    _measure(challenge, second, "canopy_diameter", ["16", "16"])
    _measure(challenge, second, "line_length", ["12"] * 4)
    for trial, hundredths in enumerate((371, 368, 380), start=1):
        _call(challenge, second, trial)
        _time(challenge, second, trial, hundredths)
        _round(challenge, team, 2)
    yield "new-dropped"
    builders.work_results(challenge, team, 2)
    yield "direction"
    _note(challenge, second, direction="slower")
    yield "new-worked"
    _note(challenge, second, noticing="Ours fell slower than before. We changed two things at once.")
    yield "finished"


def play_to(challenge: ClassChallenge, team: Team, stage: str) -> None:
    """Take a team to a stage."""
    for reached in walk(challenge, team):
        if reached == stage:
            return
    raise ValueError(stage)


def second_reading(team: Team) -> int:
    """Return the id of the reading that a second tablet sent for a drop (stage "which")."""
    return Reading.objects.filter(team=team, drop__iteration__number=1).order_by("pk")[1].pk


def some_drop(team: Team) -> int:
    """Return the id of the team's first drop."""
    return Drop.objects.filter(iteration__team=team).order_by("pk")[0].pk


def _note(challenge: ClassChallenge, iteration: DesignIteration, **texts: str) -> None:
    for prompt, text in texts.items():
        builders.enter(challenge, _saving_note(iteration, prompt, text))


def _saving_note(iteration: DesignIteration, prompt: str, text: str) -> Callable[..., object]:
    return lambda author: saving.save_note(iteration, prompt, text, author)


def _sizes(challenge: ClassChallenge, iteration: DesignIteration, stage: str, radius: str, line: str) -> None:
    unit = _unit(challenge, iteration)
    for quantity, typed in (("canopy_radius", radius), ("line_length", line)):
        length = parse_length(typed, unit)
        builders.enter(
            challenge,
            lambda author, q=quantity, size=length: saving.save_size(iteration, stage, q, size, author),
        )


def _measure(challenge: ClassChallenge, iteration: DesignIteration, quantity: str, typed: list[str]) -> None:
    unit = _unit(challenge, iteration)
    for spot, text in enumerate(typed, start=1):
        length = parse_length(text, unit)
        builders.enter(
            challenge,
            lambda author, s=spot, size=length: saving.save_size(
                iteration, "built", quantity, size, author, spot=s
            ),
        )


def _unit(challenge: ClassChallenge, iteration: DesignIteration) -> Unit:
    record = builders.record_of(challenge, iteration.team, iteration.number)
    return record.kind.length_unit(record.values)


def _sums(challenge: ClassChallenge, team: Team, number: int) -> None:
    record = builders.record_of(challenge, team, number)
    for step in record.kind.plan_steps(record.values):
        builders.answer_right(challenge, team, number, step)


def _call(challenge: ClassChallenge, iteration: DesignIteration, trial: int) -> None:
    attempts = Drop.objects.filter(iteration=iteration, trial=trial).count()
    builders.enter(challenge, lambda author: saving.call_drop(iteration, trial, attempts + 1, author))


def _time(challenge: ClassChallenge, iteration: DesignIteration, trial: int, hundredths: int) -> None:
    builders.enter(challenge, lambda author: saving.save_reading(iteration, trial, hundredths, author))


def _round(challenge: ClassChallenge, team: Team, number: int) -> None:
    """Round every time that is not rounded yet."""
    record: RoundRecord = builders.record_of(challenge, team, number)
    for step in record.rounding_steps.values():
        if record.working(step).accepted is None:
            builders.answer_right(challenge, team, number, step)

"""Whose turn it is at the station: the same cases hold the server and the phone that goes on alone."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from design_challenges.models import Judgement
from design_challenges.services import saving
from design_challenges.services.drop_queue import (
    OPEN_FOR,
    Move,
    QueueTeam,
    build_queue,
    queue_team,
    said_place,
)
from tests import builders

CASES = json.loads((Path(__file__).parent / "queue_cases.json").read_text(encoding="utf-8"))
NOW = datetime(2026, 3, 2, 10, tzinfo=UTC)


def team(pk: int, number: int = 1, trial: int = 1, state: Any = "ready") -> QueueTeam:
    return QueueTeam(pk, f"Team {pk}", number, trial, 1, 3, state)


def moves(*said: tuple[str, int, int, int], at: datetime = NOW) -> list[Move]:
    return [Move(*one, at=at) for one in said]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["name"])
def test_the_order_is(case: dict[str, Any]) -> None:
    queue = build_queue(
        [team(*one) for one in case["teams"]],
        moves(*map(tuple, case["moves"])),
        NOW,
        last_first=case["lastFirst"] or None,
        reference_drops=case["reference"],
    )
    assert [turn.team_id for turn in queue.turns] == case["turns"]
    assert queue.reference_due is case["referenceDue"]
    assert sorted(queue.skipped) == case["skipped"]


def test_a_station_that_was_stopped_is_closed_and_forgets_the_day_s_skips() -> None:
    said = moves(("start", 0, 0, 0), ("skip", 1, 1, 1), ("stop", 0, 0, 0))
    queue = build_queue([team(1), team(2)], said, NOW)
    assert not queue.open
    assert [turn.team_id for turn in queue.turns] == [1, 2]
    assert queue.place_of(1) is None
    again = build_queue([team(1), team(2)], [*said, *moves(("start", 0, 0, 0))], NOW)
    assert again.open


def test_a_station_that_nobody_stopped_is_over_the_next_day() -> None:
    yesterday = NOW - OPEN_FOR - timedelta(minutes=1)
    assert not build_queue([team(1)], moves(("start", 0, 0, 0), at=yesterday), NOW).open
    assert build_queue([team(1)], moves(("start", 0, 0, 0)), NOW).open


def test_a_team_hears_how_many_are_before_it() -> None:
    queue = build_queue(
        [team(pk) for pk in (1, 2, 3, 4)], moves(("start", 0, 0, 0)), NOW, reference_drops=None
    )
    said = [str(said_place(queue.place_of(pk))) for pk in (1, 2, 3, 4, 5)]
    assert said == [
        "It is your turn at the drop site. Bring your device.",
        "You are next at the drop site. Go there now.",
        "You are next but one at the drop site. Get your device ready.",
        "3 teams are before you at the drop site.",
        "",
    ]


def test_the_reference_device_is_a_turn_before_every_team_s() -> None:
    queue = build_queue([team(1)], moves(("start", 0, 0, 0)), NOW, reference_drops=0)
    assert queue.place_of(1) == 1


@pytest.mark.django_db
def test_a_team_comes_up_when_it_has_measured_and_goes_on_from_its_voids() -> None:
    challenge = builders.make_challenge(builders.make_class(1))
    own = challenge.classroom.teams.get()

    def now() -> Any:
        from design_challenges.services.records import load_team

        found = queue_team(load_team(challenge, own).teams[0])
        return found and (found.state, found.trial, found.attempt)

    assert now() is None
    iteration = builders.plan_round(challenge, own)
    assert now() == ("building", 1, 1)
    builders.clear_round(challenge, own)
    builders.build_round(challenge, own)
    assert now() == ("ready", 1, 1)
    builders.enter(challenge, lambda author: saving.void_drop(iteration, 1, "hit", author))
    assert now() == ("ready", 1, 2)
    builders.enter(challenge, lambda author: saving.call_drop(iteration, 1, 2, author))
    assert now() == ("ready", 1, 2)
    builders.drop_round(challenge, own)
    assert now() == ("done", 0, 0)
    assert Judgement.objects.count() == 1

"""Several of a station's entries in one request: each for itself, in their order."""

from __future__ import annotations

import json
from typing import Any

import pytest

from classroom.models import Team
from design_challenges.models import Reading, Submission
from design_challenges.services import station_entries
from tests.support.station_phone import Station, drops, make_built_class, unplaced

pytestmark = pytest.mark.django_db


@pytest.fixture
def challenge() -> Any:
    return make_built_class()


@pytest.fixture
def team(challenge: Any) -> Team:
    found: Team = challenge.classroom.teams.order_by("place").first()
    return found


@pytest.fixture
def station(challenge: Any) -> Station:
    return Station(challenge)


def test_of_entries_that_come_together_each_is_saved_by_itself_and_in_their_order(
    challenge: Any, team: Team, station: Station
) -> None:
    first = station.body(**station.time_of(team, 1, 412))
    call = station.body(do="call", of=first["entry_id"], call="hit")
    again = station.body(**station.time_of(team, 1, 433, attempt=2))
    told = station.send_together(first, call, again)
    assert [(one["status"], one["outcome"]) for one in told] == [(200, "saved")] * 3
    assert drops(challenge, team) == [(1, 1, 412, False, "hit"), (1, 2, 433, True, "")]
    sent = Submission.objects.filter(device=station.device).order_by("pk")
    assert list(sent.values_list("counter", flat=True)) == [1, 2, 3]


def test_a_refused_one_among_several_stops_nothing(challenge: Any, team: Team, station: Station) -> None:
    bodies = [
        station.body(**station.time_of(team, 1, 412)),
        station.body(**station.time_of(team, 9, 555)),
        station.body(do="dance"),
        station.body(**station.time_of(team, 2, 433)),
    ]
    told = station.send_together(*bodies)
    assert [one["outcome"] for one in told] == ["saved", "refused", "refused", "saved"]
    assert drops(challenge, team) == [(1, 1, 412, True, ""), (2, 1, 433, True, "")]
    assert unplaced(challenge) == [(555, "trial")]


def test_several_that_come_again_whole_or_in_part_count_once(
    challenge: Any, team: Team, station: Station
) -> None:
    bodies = [station.body(**station.time_of(team, trial, 400 + trial)) for trial in (1, 2, 3)]
    alone = station.client.post("/station/entry/", bodies[0], headers={"X-Entry": "1", "X-Sent": "0"}).json()
    told = station.send_together(*bodies)
    assert station.send_together(*bodies) == told
    assert told[0] == {"status": 200, **alone}
    assert [row[2] for row in drops(challenge, team)] == [401, 402, 403]
    assert Reading.objects.count() == 3


def test_where_one_among_several_breaks_off_those_before_it_are_told_and_those_behind_it_wait(
    challenge: Any, team: Team, station: Station, monkeypatch: pytest.MonkeyPatch
) -> None:
    bodies = [station.body(**station.time_of(team, trial, 400 + trial)) for trial in (1, 2, 3)]
    carry_out = station_entries.carry_out

    def stumble(challenge: Any, body: Any, author: Any, **more: Any) -> Any:
        if body["hundredths"] == "402":
            raise OSError("the disk does not answer")
        return carry_out(challenge, body, author, **more)

    with monkeypatch.context() as patched:
        patched.setattr(station_entries, "carry_out", stumble)
        assert [one["outcome"] for one in station.send_together(*bodies)] == ["saved"]
        with pytest.raises(OSError, match="disk"):
            station.send_together(*bodies[1:])
        assert [row[2] for row in drops(challenge, team)] == [401]
    assert [one["outcome"] for one in station.send_together(*bodies)] == ["saved"] * 3
    assert [row[2] for row in drops(challenge, team)] == [401, 402, 403]


@pytest.mark.parametrize("entries", ["", "no list", "{}", "[]", "[1]", json.dumps([{"do": "reading"}] * 101)])
def test_what_is_no_list_of_entries_is_told_so(station: Station, entries: str) -> None:
    answer = station.client.post("/station/entries/", {"entries": entries}, headers={"X-Entry": "1"})
    assert answer.status_code == 400
    assert answer.json()["reason"] == "These entries cannot be read."
    assert not Submission.objects.filter(device=station.device).exists()

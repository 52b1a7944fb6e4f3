"""A phone that is a timing station, as its outbox speaks to the server, and what became of its times."""

from __future__ import annotations

import json
import uuid
from datetime import UTC, datetime, timedelta
from typing import Any

from django.core import signing
from django.test import Client

from classroom.access import STATION_COOKIE
from classroom.models import Device, Team
from design_challenges.models import Reading
from design_challenges.services.records import load_class
from tests import builders
from tests.support import site


class Station:
    """A phone that sends entries as its outbox does."""

    def __init__(self, challenge: Any) -> None:
        self.challenge = challenge
        self.client = Client()
        self.client.cookies[STATION_COOKIE] = site.let_station_in(challenge.classroom)
        self.device = Device.objects.filter(role=Device.Role.STATION).latest("pk")
        # Its page's own, and the same in every entry: one signed anew a second later is another.
        self.ticket = signing.dumps(self.device.pk, salt="timing-station")
        self.counter = 0
        self.clock = datetime(2026, 1, 1, tzinfo=UTC)  # its clock is far off, and that does not matter

    def body(self, *, entry_id: str = "", **fields: Any) -> dict[str, str]:
        self.counter += 1
        self.clock += timedelta(seconds=40)
        body = {
            "entry_id": entry_id or str(uuid.uuid4()),
            "counter": self.counter,
            "device_time": self.clock.isoformat(),
            "challenge": self.challenge.pk,
            "station": self.ticket,
            **fields,
        }
        return {name: str(value) for name, value in body.items()}

    def send(self, *, waited: float = 0, entry_id: str = "", **fields: Any) -> dict[str, Any]:
        body = self.body(entry_id=entry_id, **fields)
        sent = int((self.clock.timestamp() + waited) * 1000)
        answer = self.client.post("/station/entry/", body, headers={"X-Entry": "1", "X-Sent": str(sent)})
        assert answer.status_code == 200, answer.content
        return {**answer.json(), "id": body["entry_id"]}

    def send_together(self, *bodies: dict[str, str]) -> list[dict[str, Any]]:
        """Send a list of entries in one request; return what the server says of each."""
        answer = self.client.post(
            "/station/entries/", {"entries": json.dumps(bodies)}, headers={"X-Entry": "1", "X-Sent": "0"}
        )
        assert answer.status_code == 200, answer.content
        told: list[dict[str, Any]] = answer.json()["told"]
        return told

    def time_of(self, of: Team, /, trial: int = 1, hundredths: int = 400, **more: Any) -> dict[str, Any]:
        place = {"team": of.pk, "team_name": of.name, "round": 1, "trial": trial, "attempt": 1}
        return {"do": "reading", "how": "thumb", "hundredths": hundredths, **place, **more}

    def time(self, of: Team, /, trial: int = 1, hundredths: int = 400, **more: Any) -> Any:
        return self.send(**self.time_of(of, trial, hundredths, **more))


def make_built_class() -> Any:
    """Return the challenge of a class whose two teams have built and measured."""
    challenge = builders.make_challenge(builders.make_class(2), sums_by="software")
    for team in challenge.classroom.teams.all():
        builders.plan_round(challenge, team)
        builders.clear_round(challenge, team)
        builders.build_round(challenge, team)
    return challenge


def drops(challenge: Any, team: Team) -> list[tuple[int, int, int, bool, str]]:
    record = load_class(challenge).team(team.pk).rounds[1]
    return [
        (drop.trial, drop.attempt, drop.reading.hundredths if drop.reading else 0, drop.counts, drop.mark)
        for drop in record.drops
    ]


def unplaced(challenge: Any) -> list[tuple[int, str]]:
    found = Reading.objects.filter(class_challenge=challenge, drop=None).order_by("pk")
    return list(found.values_list("hundredths", "unplaced"))

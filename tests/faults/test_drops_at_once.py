"""Two tablets of one team at the same moment, on a real server: nothing is lost, nothing counts twice."""

from __future__ import annotations

import re
import threading
import uuid
from http.client import HTTPConnection
from typing import Any
from urllib.parse import urlencode

import pytest

TEAMS = 6
PATH = "/team/1/test/"

SETUP = f"""
from classroom.access import TEAM_COOKIE
from tests import builders as b
room = b.make_class(teams={TEAMS})
challenge = b.make_challenge(room, sums_by="software")
def token(team):
    return b.team_client(team).cookies[TEAM_COOKIE].value
teams = list(room.teams.order_by("place"))
for team in teams:
    b.plan_round(challenge, team)
    b.clear_round(challenge, team)
    b.build_round(challenge, team)
print(json.dumps([[token(team), token(team)] for team in teams]))
"""

READ = """
from design_challenges.models import ClassChallenge
from design_challenges.services.records import load_class
klass = load_class(ClassChallenge.objects.latest("pk"))
print(json.dumps([
    [
        [drop.trial, drop.attempt, [[r.hundredths, r.set_aside] for r in drop.readings]]
        for drop in team.rounds[1].drops
    ]
    for team in klass.teams
]))
"""


class Tablet:
    """A tablet that speaks plain HTTP, so that two of them can send in the same instant."""

    def __init__(self, port: int, token: str) -> None:
        self.port, self.cookies = port, {"sb_team": token}
        self.page = ""

    def look(self) -> None:
        """Open the page."""
        self._ask("GET", {})

    def hidden(self, name: str) -> str:
        """Return a hidden field of the page's main form."""
        found = re.search(rf'name="{name}" value="([^"]*)"', self.page.split("<main", 1)[1])
        assert found, f"no {name} on the page"
        return found[1]

    def send(self, **fields: Any) -> tuple[int, str]:
        """Send a form, and return the answer's status and where it leads."""
        token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', self.page)
        assert token
        return self._ask("POST", {"csrfmiddlewaretoken": token[1], **fields})

    def _ask(self, method: str, fields: dict[str, Any]) -> tuple[int, str]:
        connection = HTTPConnection("127.0.0.1", self.port, timeout=60)
        headers = {"Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items())}
        body = urlencode(fields) if fields else None
        if body:
            headers["Content-Type"] = "application/x-www-form-urlencoded"
        connection.request(method, PATH, body, headers)
        answer = connection.getresponse()
        for name, value in answer.getheaders():
            if name.lower() == "set-cookie":
                key, _equals, rest = value.partition("=")
                self.cookies[key] = rest.split(";")[0]
        self.page = answer.read().decode()
        connection.close()
        return answer.status, answer.headers.get("Location", "")


@pytest.fixture(scope="module")
def pairs(served: Any) -> list[tuple[Tablet, Tablet]]:
    """Two tablets for each team, before their first drop."""
    tokens = served.ask_python(SETUP)
    return [(Tablet(served.port, first), Tablet(served.port, second)) for first, second in tokens]


def at_once(*sends: Any) -> list[tuple[int, str]]:
    """Do all of these in the same instant, and return their answers in order."""
    gate = threading.Barrier(len(sends))
    answers: list[Any] = [None] * len(sends)

    def run(place: int) -> None:
        gate.wait()
        answers[place] = sends[place]()

    threads = [threading.Thread(target=run, args=(place,)) for place in range(len(sends))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return answers


def test_of_two_calls_at_once_one_stands_and_the_other_is_told(served, pairs):
    for first, second in pairs:
        first.look()
        second.look()
        at_once(
            lambda tablet=first: tablet.send(
                do="call", trial=1, attempt=1, call="yes", entry_id=tablet.hidden("entry_id")
            ),
            lambda tablet=second: tablet.send(
                do="call", trial=1, attempt=1, call="hit", entry_id=tablet.hidden("entry_id")
            ),
        )
        first.look()
        second.look()
        told = ["was called before" in tablet.page for tablet in (first, second)]
        assert sorted(told) == [False, True]
    for drops in served.ask_python(READ):
        assert [(trial, attempt) for trial, attempt, _readings in drops] == [(1, 1)]


def test_of_two_times_at_once_one_stands_and_both_are_kept(served, pairs):
    for first, second in pairs:
        first.look()
        if 'value="call"' in first.page:  # the void call won above: this is the next attempt
            first.send(do="call", trial=1, attempt=2, call="yes", entry_id=uuid.uuid4())
        first.look()
        second.look()
        drop = first.hidden("drop")
        answers = at_once(
            lambda tablet=first, drop=drop: tablet.send(
                do="time", drop=drop, time="4.12", mark="opened", entry_id=tablet.hidden("entry_id")
            ),
            lambda tablet=second, drop=drop: tablet.send(
                do="time", drop=drop, time="4.21", mark="opened", entry_id=tablet.hidden("entry_id")
            ),
        )
        assert [status for status, _where in answers] == [302, 302]
        assert sum("second=" in where for _status, where in answers) == 1
    for drops in served.ask_python(READ):
        readings = drops[-1][2]
        assert sorted(hundredths for hundredths, _aside in readings) == [412, 421]
        assert [aside for _hundredths, aside in readings] == ["", "second"]


def test_one_entry_sent_three_times_at_once_counts_once(served, pairs):
    tablet = pairs[0][0]
    tablet.look()
    tablet.send(do="call", trial=2, attempt=1, call="yes", entry_id=uuid.uuid4())
    tablet.look()
    drop, entry = tablet.hidden("drop"), tablet.hidden("entry_id")
    copies = [Tablet(served.port, tablet.cookies["sb_team"]) for _copy in range(3)]
    for copy in copies:
        copy.look()
    answers = at_once(
        *(
            lambda copy=copy: copy.send(do="time", drop=drop, time="3.98", mark="opened", entry_id=entry)
            for copy in copies
        )
    )
    assert [status for status, _where in answers] == [302, 302, 302]
    assert len({where for _status, where in answers}) == 1
    assert served.ask_python(READ)[0][-1][2] == [[398, ""]]

"""A class that types: tablets in threads that send entries over HTTP and note which were acknowledged."""

from __future__ import annotations

import re
import threading
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from http.client import HTTPConnection, HTTPException
from urllib.parse import urlencode

from tests.support.server import ServedSite

TEAMS = 6
SETUP = f"""
from classroom.access import TEAM_COOKIE
from tests import builders as b
from tests.support import stages
room = b.make_class(teams={TEAMS}, name="Typing")
challenge = b.make_challenge(room)
print(json.dumps([
    [stages.play_to(challenge, team, "purpose"), b.team_client(team).cookies[TEAM_COOKIE].value][1]
    for team in room.teams.all()
]))
"""
PATH = "/team/1/plan/purpose/"
HIDDEN = re.compile(r'name="(csrfmiddlewaretoken|seen[^"]*)" value="([^"]*)"')


class TypingClass:
    """Six tablets that change their team's purpose again and again.

    acknowledged    the entries that the server said were saved, in order
    refused         what it said instead, where it said something else
    broken          how many sends met a dead connection or a server that is not well
    """

    def __init__(self, site: ServedSite) -> None:
        self.site = site
        self.cookies: list[str] = site.ask_python(SETUP)
        self.acknowledged: list[str] = []
        self.refused: list[str] = []
        self.told: list[tuple[int, str]] = []
        self.broken = 0
        self._stop = threading.Event()

    @contextmanager
    def typing(self) -> Iterator[None]:
        """Let them type while the block runs."""
        self._stop.clear()
        threads = [threading.Thread(target=self._type, args=(cookie,)) for cookie in self.cookies]
        for thread in threads:
            thread.start()
        try:
            yield
        finally:
            self._stop.set()
            for thread in threads:
                thread.join()

    def wait_for(self, more: int, seconds: float = 60) -> None:
        """Wait until so many more entries are acknowledged."""
        wanted = len(self.acknowledged) + more
        end = time.monotonic() + seconds
        while len(self.acknowledged) < wanted:
            assert time.monotonic() < end, (len(self.acknowledged), self.refused[:3], self.told[-3:])
            time.sleep(0.02)

    def wait_for_broken(self, seconds: float = 30) -> None:
        """Wait until one more send meets a dead connection."""
        before, end = self.broken, time.monotonic() + seconds
        while self.broken == before:
            assert time.monotonic() < end, "nobody noticed"
            time.sleep(0.02)

    def _type(self, cookie: str) -> None:
        jar = {"sb_team": cookie}
        number = 0
        while not self._stop.is_set():
            number += 1
            try:
                status, page = self._ask(jar, "GET", {})
                if status != 200:
                    self._note(status, page)
                    continue
                fields = dict(HIDDEN.findall(page.split("<main", 1)[-1]))
                entry = str(uuid.uuid4())
                status, where = self._ask(
                    jar,
                    "POST",
                    {**fields, "entry_id": entry, "purpose": f"It must fall slowly. Try {number}."},
                )
                if status == 302:
                    self.acknowledged.append(entry)
                else:
                    self._note(status, where)
            except (OSError, HTTPException):
                self.broken += 1
                time.sleep(0.05)

    def _note(self, status: int, page: str) -> None:
        self.told.append((status, page))
        if status < 500:
            words = re.sub(r"<[^>]+>|\s+", " ", page)
            self.refused.append(f"{status}: {words[-600:]}")
        time.sleep(0.05)

    def _ask(self, jar: dict[str, str], method: str, fields: dict[str, str]) -> tuple[int, str]:
        connection = HTTPConnection("127.0.0.1", self.site.port, timeout=60)
        headers = {"Cookie": "; ".join(f"{name}={value}" for name, value in jar.items())}
        if fields:
            headers["Content-Type"] = "application/x-www-form-urlencoded"
        connection.request(method, PATH, urlencode(fields) if fields else None, headers)
        answer = connection.getresponse()
        for name, value in answer.getheaders():
            if name.lower() == "set-cookie":
                key, _equals, rest = value.partition("=")
                jar[key] = rest.split(";")[0]
        page = answer.read().decode()
        connection.close()
        return answer.status, page

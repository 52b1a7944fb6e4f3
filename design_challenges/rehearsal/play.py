"""Lets whole classes play at a pace: tablets come in one after another, boards and dashboards watch."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from random import Random

from django.conf import settings

from design_challenges.rehearsal.cast import Answers, Cast, Part
from design_challenges.rehearsal.log import Log
from design_challenges.rehearsal.screens import read_polls
from design_challenges.rehearsal.tablet import StuckError, Tablet
from design_challenges.rehearsal.web import Browser

JOINING_S = 180.0
"""Over how long the tablets of a class come in, at a real pace."""
Tell = Callable[[str], None]


@dataclass(frozen=True)
class Watcher:
    """Somebody signed in who keeps a class's board and dashboard open: a session's cookie."""

    session: str


@dataclass(frozen=True)
class Stage:
    """Where it is played: the server, how many times faster than a class, rounds, for how long (s)."""

    base_url: str
    pace: float = 1.0
    rounds: int = 2
    most_s: float = 24 * 3600.0
    waits: bool = True


async def play(
    stage: Stage,
    casts: Sequence[Cast],
    watchers: Sequence[Watcher | None],
    log: Log,
    tell: Tell | None = None,
) -> None:
    """Play all classes to their end, or until `stage.most_s` is over; whatever happened stands in the log."""
    answers = Answers()
    watching: list[asyncio.Task[None]] = []
    playing: list[asyncio.Task[None]] = []
    try:
        for index, (cast, watcher) in enumerate(zip(casts, watchers, strict=True)):
            if watcher is not None:
                for page, kind in (("board", "board"), ("dashboard", "dashboard")):
                    shown = _watch_page(stage, cast, watcher, page, kind, log, late=_chance(index))
                    watching.append(asyncio.create_task(shown))
            for place, part in enumerate(cast.parts):
                seed = index * 100 + place
                playing.append(
                    asyncio.create_task(
                        _play_team(stage, cast, part, place, answers, log, seed, watching, tell)
                    )
                )
        await asyncio.wait(playing, timeout=stage.most_s)
    finally:
        for task in (*playing, *watching):
            task.cancel()
        await asyncio.gather(*playing, *watching, return_exceptions=True)
        answers.close()


async def _play_team(
    stage: Stage,
    cast: Cast,
    part: Part,
    place: int,
    answers: Answers,
    log: Log,
    seed: int,
    watching: list[asyncio.Task[None]],
    tell: Tell | None,
) -> None:
    async def pause(seconds: float) -> None:
        await asyncio.sleep(seconds / stage.pace)

    browser = Browser(stage.base_url)
    tablet = Tablet(browser, cast, part, answers, log, pause, seed)
    # One after the other, each at a moment of its own: no two classes do the same in the same instant.
    await pause(JOINING_S * (place + _chance(seed)) / max(1, len(cast.parts)))
    poller = Browser(stage.base_url, browser.cookies)
    try:
        await tablet.join()
        watching.append(asyncio.create_task(tablet.watch(poller)))
        if tell:
            tell(f"{part.name} came in.")
        await tablet.play(stage.rounds, waits=stage.waits)
        log.finished.append(part.name)
        if tell:
            tell(f"{part.name} is through.")
    except StuckError as error:
        log.faults.append(f"{cast.class_code} {part.name} is stuck: {error}")
        if tell:
            tell(f"{part.name} is stuck: {error}")


def _chance(seed: int) -> float:
    return Random(seed).random()  # noqa: S311 - not for secrets


async def _watch_page(
    stage: Stage, cast: Cast, watcher: Watcher, page: str, kind: str, log: Log, late: float
) -> None:
    """Open a teacher's live page so late (s) and keep it open: ask as often as it does, swap what comes."""
    await asyncio.sleep(late)
    browser = Browser(stage.base_url, {settings.SESSION_COOKIE_NAME: watcher.session})
    answer = await browser.get(f"/classes/{cast.class_code}/{page}/")
    log.note("page", cast.class_code, answer)
    while True:
        polls = _live(answer.text)
        await asyncio.sleep(polls[1])
        found = await browser.get(polls[0], htmx=True)
        log.note(kind, cast.class_code, found)
        if found.status == 200 and re.search("hx-get", found.text):
            answer = found


def _live(page: str) -> tuple[str, float]:
    """Return the address that a live page asks, and how often in s."""
    return next(iter(read_polls(page).values()))

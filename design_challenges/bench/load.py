"""Asks a server the same kind of question from several browsers for a while, and counts the answers."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Awaitable, Callable

from design_challenges.rehearsal.web import Answer, Browser

Ask = Callable[[Browser], Awaitable[list[Answer]]]


async def _answers_a_second(
    base_url: str, ask: Ask, browsers: int, seconds: float
) -> tuple[float, list[int]]:
    """Return how many times a second `ask` was answered in full, and the statuses of what it asked."""
    end, done, statuses = time.monotonic() + seconds, 0, list[int]()

    async def go_on() -> None:
        nonlocal done
        browser = Browser(base_url)
        while time.monotonic() < end:
            answers = await ask(browser)
            if not answers:
                break
            statuses.extend(answer.status for answer in answers)
            done += 1
        browser.close()

    began = time.monotonic()
    await asyncio.gather(*(go_on() for _ in range(browsers)))
    return done / (time.monotonic() - began), statuses


def side_by_side(
    base_url: str, ask: Ask, bare: Ask, *, browsers: int = 4, seconds: float = 2.0, turns: int = 3
) -> tuple[float, float, list[int]]:
    """Return answers a second of `ask` and of `bare`, in turns A B A B, each the median of its turns.

    The statuses of all that `ask` asked come third.
    """
    rates: tuple[list[float], list[float]] = ([], [])
    statuses: list[int] = []
    for _ in range(turns):
        for rate, question in zip(rates, (ask, bare), strict=True):
            found, seen = asyncio.run(_answers_a_second(base_url, question, browsers, seconds))
            rate.append(found)
            if question is ask:
                statuses += seen
    middle = [sorted(rate)[len(rate) // 2] for rate in rates]
    return middle[0], middle[1], statuses

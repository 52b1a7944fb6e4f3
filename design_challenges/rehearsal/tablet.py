"""One team's tablet: it does what each screen asks, at a child's pace, and watches as the page does."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Awaitable, Callable
from random import Random
from urllib.parse import urljoin

from design_challenges.rehearsal.cast import Answers, Cast, Part
from design_challenges.rehearsal.log import Log
from design_challenges.rehearsal.screens import Field, Form, Screen, read_polls, read_screen
from design_challenges.rehearsal.web import Answer, Browser
from design_challenges.services.demo_story import DropPlay, RoundPlay

# How long a team takes at a screen, in s at a real class's pace: 37 minutes a round, with the building.
SECONDS = {
    "plan": 75.0,
    "sums": 45.0,
    "drawing": 240.0,
    "ready": 30.0,
    "build": 420.0,
    "call": 60.0,
    "time": 20.0,
    "round": 20.0,
    "results": 45.0,
    "compare": 150.0,
    "start": 20.0,
}
READS_S = 5.0
LOOKS_AGAIN_S = 60.0
TRIES_AT_A_SCREEN = 8
SCREENS_AT_MOST = 120
PART = re.compile(r"^(\w+)_(\d+)$")
Pause = Callable[[float], Awaitable[None]]


class StuckError(Exception):
    """A screen that the team did not get past."""


class Tablet:
    """A tablet of one team. `pause` waits for a time of the class's own clock, in s."""

    def __init__(
        self, browser: Browser, cast: Cast, part: Part, answers: Answers, log: Log, pause: Pause, seed: int
    ) -> None:
        self.browser, self.cast, self.part = browser, cast, part
        self.answers, self.log, self.pause = answers, log, pause
        self.random = Random(seed)  # noqa: S311 - not for secrets
        self.path = ""
        self.page = ""
        self.polls: dict[str, tuple[str, float]] = {}
        self.typed: dict[tuple[int, str], int] = {}
        self.shown = ""
        self.times_shown = 0

    # --- coming in -------------------------------------------------------------------------------

    async def join(self) -> None:
        """Come in by the two codes."""
        await self._show(await self._get("/join/"))
        codes = {"class_code": self.cast.class_code, "team_code": self.part.code}
        form = read_screen(self.page).form
        if form is None:
            raise StuckError("The page to join has no form.")
        await self._send(form, [*form.hidden, *codes.items()], "join")

    # --- the rounds ------------------------------------------------------------------------------

    async def play(self, rounds: int, *, waits: bool = True) -> None:
        """Work through the rounds; with nothing to do, wait for the teacher, or (not `waits`) fail."""
        await self._show(await self._get("/team/"))
        for _ in range(SCREENS_AT_MOST):
            screen = read_screen(self.page)
            if screen.link:
                await self.pause(READS_S)
                await self._show(await self._get(self._url(screen.link)))
            elif screen.form is not None:
                await self._do(screen, screen.form)
            elif self._done(rounds):
                return
            elif not waits:
                raise StuckError(f"nothing to do at {self.path} ({screen.heading})")
            else:
                await self.pause(LOOKS_AGAIN_S)
                await self._show(await self._get("/team/"))
        raise StuckError(f"no end at {self.path}")

    def _done(self, rounds: int) -> bool:
        return self.path.startswith((f"/team/{rounds}/compare/", "/team/finished/"))

    async def _do(self, screen: Screen, form: Form) -> None:
        """Fill a screen's form in and send it; where it comes back with errors, once more, a few times."""
        state = f"{self.path} {screen.heading} {sorted(form.fields)} {dict(form.hidden).get('sum')}"
        self.times_shown = self.times_shown + 1 if state == self.shown else 1
        self.shown = state
        if self.times_shown > TRIES_AT_A_SCREEN:
            raise StuckError(f"{self.path} ({screen.heading}): {'; '.join(screen.errors) or 'no way on'}")
        await self.pause(self._seconds(form) * self.random.uniform(0.6, 1.4))
        filled = [*form.hidden]
        for field in form.fields.values():
            value = await self._value(field, form)
            if value or field.kind == "text":
                filled.append((field.name, value))
        await self._send(form, filled, "save")

    async def _send(self, form: Form, filled: list[tuple[str, str]], kind: str) -> None:
        if not form.htmx:
            # As the pages' script does: a form goes off only when the server answers.
            self._note("health", await self.browser.get("/healthz"))
        answer = await self.browser.post(self._url(form.action or self.path), filled, htmx=form.htmx)
        self._note(kind, answer)
        entry = dict(filled).get("entry_id")
        # Beginning a round adds no entry: a round that was begun twice is begun once.
        if entry and answer.status in (200, 302) and not answer.path.endswith("/start/"):
            self.log.acknowledged.append(entry)
        if answer.location:
            await self._show(await self._get(answer.location))
        elif answer.status in (200, 422):
            self._take(answer, fragment=form.htmx)
        else:
            # Not saved, or nobody knows: the page is loaded again and says where the team is.
            await self.pause(READS_S)
            await self._show(await self._get(self.path or "/team/"))

    # --- pages -----------------------------------------------------------------------------------

    async def _get(self, path: str) -> Answer:
        answer = await self.browser.get(path)
        self._note("page", answer)
        return answer

    async def _show(self, answer: Answer) -> None:
        """Show an answer to a GET, following where it leads."""
        for _ in range(6):
            if not answer.location:
                break
            answer = await self._get(answer.location)
        self.path = answer.path.partition("?")[0]
        if answer.status in (200, 422):
            self._take(answer, fragment=False)

    def _take(self, answer: Answer, *, fragment: bool) -> None:
        self.page = answer.text
        if not fragment:
            self.path = answer.path.partition("?")[0]
            self.polls = read_polls(self.page)

    def _url(self, action: str) -> str:
        return urljoin(self.path or "/", action)

    def _note(self, kind: str, answer: Answer) -> None:
        self.log.note(kind, self.cast.class_code, answer)

    async def watch(self, browser: Browser) -> None:
        """Ask what the page asks by itself, for ever; `browser` is a connection of its own."""
        while True:
            part, (address, every) = next(iter(self.polls.items()), ("", ("", 2.0)))
            await asyncio.sleep(every)
            if not address:
                continue
            answer = await browser.get(address, htmx=True)
            self._note("pulse", answer)
            if answer.status == 200 and self.polls.get(part, ("", 0))[0] == address:
                self.polls |= read_polls(answer.text)

    # --- what the team types ---------------------------------------------------------------------

    @property
    def number(self) -> int:
        parts = self.path.strip("/").split("/")
        return int(parts[1]) if len(parts) > 1 and parts[1].isdigit() else 1

    @property
    def given(self) -> RoundPlay:
        return self.part.plays[self.number]

    def _seconds(self, form: Form) -> float:
        parts = self.path.strip("/").split("/")
        step = parts[2] if len(parts) > 2 else "start"
        hidden = dict(form.hidden)
        if "drawing" in parts:
            return SECONDS["drawing"]
        if step == "plan" and "sum" in hidden:
            return SECONDS["sums"]
        if step == "test":
            return SECONDS.get("round" if "sum" in hidden else hidden.get("do", "call"), SECONDS["call"])
        return SECONDS.get(step, SECONDS["plan"])

    async def _value(self, field: Field, form: Form) -> str:
        known = await self._known(field.name, dict(form.hidden))
        if field.kind in ("radio", "select", "checkbox"):
            choices = [choice for choice in field.choices if choice]
            if known in choices:
                return known
            if field.name.startswith("keep_"):
                return field.value
            return choices[0] if choices else ""
        return known or field.value or "We talked about it and this is what we think."

    async def _known(self, name: str, hidden: dict[str, str]) -> str:
        """Return what the story says for a field, "" where it says nothing."""
        given = self.given
        if name == "answer":
            return await self._sum(hidden.get("sum", ""))
        if name == "direction":
            return (await self._read("direction"))[0]
        if name in given.plan or any(name in sizes for sizes in given.ideas.values()):
            return self._size(name)
        if found := PART.match(name):
            apart = given.readings.get(found[1], ())
            if hidden.get("turn") in ("1", "2") and int(found[2]) <= len(apart):
                return apart[int(found[2]) - 1][int(hidden["turn"]) - 1]
            built = given.built.get(found[1], ())
            if int(found[2]) <= len(built):
                return built[int(found[2]) - 1]
        if name == "time":
            drop = self._drop(hidden)
            return (
                f"{drop.hundredths // 100}.{drop.hundredths % 100:02d}"
                if drop and drop.hundredths
                else "3.00"
            )
        if name == "call":
            drop = self._drop(hidden)
            return drop.mark if drop is not None and drop.hundredths is None else "yes"
        if name == "mark":
            drop = self._drop(hidden)
            return (drop.mark if drop else "") or "opened"
        return given.notes.get({"own": "why"}.get(name, name), "")

    async def _read(self, what: str) -> list[str]:
        return await self.answers.of(self.cast.challenge_id, self.part, self.number, what)

    async def _sum(self, slug: str) -> str:
        """Return the next try at a sum: the story's slips first, then what is right."""
        tries = await self._read(slug)
        turn = self.typed.get((self.number, slug), 0)
        self.typed[self.number, slug] = turn + 1
        return tries[min(turn, len(tries) - 1)]

    def _size(self, quantity: str) -> str:
        given = self.given
        for letter, sizes in given.ideas.items():
            if self.path.rstrip("/").endswith(f"idea-{letter}"):
                return sizes[quantity]
        if given.plan:
            return given.plan[quantity]
        # Its first choice was over the limit: the team takes the smaller of its ideas.
        return min((sizes[quantity] for sizes in given.ideas.values()), key=len)

    def _drop(self, hidden: dict[str, str]) -> DropPlay | None:
        """Return the drop that comes next in the story."""
        done = self.typed.get((self.number, "drops"), 0)
        drops = list(self.given.drops)
        if hidden.get("do") == "call":
            trial, attempt = int(hidden.get("trial", "1")), int(hidden.get("attempt", "1"))
            own = [drop for drop in drops if drop.trial == trial]
            self.typed[self.number, "drops"] = drops.index(own[min(attempt, len(own)) - 1]) if own else done
            done = self.typed[self.number, "drops"]
        return drops[done] if done < len(drops) else None

"""A team at its tablet: it does what the screen asks, one screen after the other, as its story says."""

from __future__ import annotations

from collections.abc import Iterator
from urllib.parse import urlsplit

from playwright.sync_api import Page, expect

from tests.browser.plays.screens import Fingers, names_on
from tests.browser.plays.stories import DropStory, RoundStory, Setup

STEPS = ("plan", "ready", "build", "test", "results", "compare")
SCREENS_AT_MOST = 80


class Tablet:
    """One tablet of a team; a round is a generator, a screen at a time, so that many can play at once."""

    def __init__(
        self,
        page: Page,
        base_url: str,
        setup: Setup,
        stories: tuple[RoundStory, ...],
        hands: Fingers | None = None,
    ) -> None:
        self.page, self.base_url, self.setup, self.stories = page, base_url, setup, stories
        self.hands = hands or Fingers(page)
        self.number = 1
        self.slips = [{step: list(typed) for step, typed in story.slips.items()} for story in stories]
        self.drops_left: list[list[DropStory]] = [list(story.drops) for story in stories]
        self.void_once = ""
        self.told: list[str] = []
        self.mended = False

    @property
    def story(self) -> RoundStory:
        return self.stories[self.number - 1]

    @property
    def before(self) -> RoundStory | None:
        return self.stories[self.number - 2] if self.number > 1 else None

    @property
    def path(self) -> str:
        return urlsplit(self.page.url).path

    @property
    def at(self) -> tuple[int, str]:
        """Return the round and the step whose page is shown; (0, "") for any other page."""
        parts = self.path.strip("/").split("/")
        if len(parts) >= 3 and parts[0] == "team" and parts[2] in STEPS:
            return int(parts[1]), parts[2]
        return 0, ""

    # --- coming in -----------------------------------------------------------------------------

    def join(self, class_code: str, team_code: str) -> None:
        """Come in by the two codes, typed as children type them: small letters, a blank in between."""
        self.page.goto(f"{self.base_url}/join/")
        spaced = f"{team_code[:3]} {team_code[3:].lower()}"
        self.hands.fill({"class_code": class_code.lower(), "team_code": spaced})
        self.hands.send("Join")

    def join_by_link(self, class_code: str, team_code: str) -> None:
        """Come in by the address in the picture of the team card."""
        self.page.goto(f"{self.base_url}/join/{class_code}/{team_code}/")
        self.hands.send("Yes, that is us")

    # --- a round ---------------------------------------------------------------------------------

    def go_on(self) -> None:
        self.page.goto(f"{self.base_url}/team/")

    def play_round(self, number: int, until: str = "") -> Iterator[str]:
        """Go through a round, a screen at a time, up to (not into) the step `until`."""
        self.number = number
        self.go_on()
        if self.path.endswith("/start/"):
            self.hands.send(f"Start round {number}")
        for _ in range(SCREENS_AT_MOST):
            shown, step = self.at
            if shown != number or step == until:
                return
            if step == "compare" and self.page.locator("main blockquote").count():
                return
            if step == "test" and until == "results" and self._has("Your drops are in"):
                return
            self.do_screen(step)
            yield step
        raise AssertionError(f"round {number} does not come to its end: {self.page.url}")

    def _has(self, heading: str) -> bool:
        return self.page.get_by_role("heading", name=heading, level=1).count() == 1

    def do_screen(self, step: str) -> None:
        """Do what the screen asks, and send it."""
        names = names_on(self.page)
        if "sum" in names:
            self._work_out()
        elif self.page.locator("#sums-next").count():
            self._after_sums()
        elif step == "plan":
            self._plan(names)
        elif step == "ready":
            self._get_ready()
        elif step == "build":
            self._measure(names)
        elif step == "test":
            self._drop(names)
        elif step == "results":
            self.hands.tap("direction", self.story.direction(self.setup, self._must_have_before()))
            self.hands.send("Check it")
        else:
            self.hands.fill({"noticing": self.story.noticing})
            self.hands.send("Save")

    def _must_have_before(self) -> RoundStory:
        assert self.before is not None
        return self.before

    # --- plan and ready --------------------------------------------------------------------------

    def _plan(self, names: list[str]) -> None:
        story, page = self.story, self.page
        if "canopy_radius" in names:
            self._sizes()
        elif "purpose" in names:
            self.hands.fill(
                {"purpose": "It must bring the load down slowly. It may not use too many points."}
            )
            self.hands.send("Save and go on")
        elif "meets_limit" in names:
            self.hands.tap("meets_limit", self._inside())
            self.hands.send("Save and go on")
        elif "slower" in names:
            self.hands.tap("slower", "a")
            self.hands.fill({"own": "It catches more air"})
            self.hands.send("Save and go on")
        elif "chosen" in names:
            self.hands.tap("chosen", "a")
            self.hands.send("Choose it")
        elif "change" in names:
            self.hands.tap("change", story.change)
            self.hands.fill({"change_why": story.why})
            self.hands.send("Save and go on")
        elif "change_two" in names:
            self.hands.fill({"change_two": story.why_two})
            self.hands.send("Save and go on")
        elif "how" in names:
            self.hands.send("It is on our paper")
        else:
            self.hands.follow(page.get_by_role("main").get_by_role("link", name="Go on"))

    def _inside(self) -> str:
        """Return which of the two ideas are inside the limit, by this test's own sums."""
        story, limit = self.story, self.setup.limit
        inside = {
            "a": story.material(self.setup, story.too_big or story.plan) <= limit,
            "b": story.material(self.setup, story.idea_b) <= limit,
        }
        found = [letter for letter, holds in inside.items() if holds]
        return {0: "neither", 2: "both"}.get(len(found), "".join(found))

    def _sizes(self) -> None:
        story = self.story
        if self.path.endswith("/idea-a/"):
            radius, line = story.too_big or story.plan
        elif self.path.endswith("/idea-b/"):
            radius, line = story.idea_b
        else:
            radius, line = story.plan
            self.mended = True
        self.hands.fill({"canopy_radius": radius, "line_length": line})
        self.hands.send("Save and go on")

    def _plan_now(self) -> tuple[str, str]:
        too_big = self.story.too_big
        return self.story.plan if too_big is None or self.mended else too_big

    def _get_ready(self) -> None:
        if self.page.get_by_role("button", name="We are ready").count():
            self.hands.send("We are ready")
            expect(self.page.get_by_role("heading", level=1)).to_have_text("Cleared to build!")
        else:
            self.hands.follow(self.page.get_by_role("main").get_by_role("link", name="Go on"))

    # --- sums --------------------------------------------------------------------------------------

    def _answer(self, step: str) -> str:
        if step == "area":
            return f"{self.story.area(self.setup, self._plan_now()):f}"
        if step == "material":
            return f"{self.story.material(self.setup, self._plan_now()).normalize():f}"
        return self.story.answer(step, self.setup, self.before)

    def _work_out(self) -> None:
        page = self.page
        step = page.locator("main input[name=sum]").get_attribute("value") or ""
        slips = self.slips[self.number - 1].get(step, [])
        typed = slips.pop(0) if slips else ""
        self.hands.fill({"answer": typed or self._answer(step)})
        self.hands.send("Check it")
        if typed:
            verdict = page.locator(f"#sum-{step}-verdict")
            expect(verdict).to_contain_text("not yet")
            self.told.append(f"{step}: {verdict.inner_text()}")
            expect(page.locator("main [name=answer]")).to_have_value(typed)
        else:
            expect(page.locator(f"#sum-{step}")).to_contain_text("Right.")

    def _after_sums(self) -> None:
        link = self.page.locator("#sums-next")
        if link.inner_text() == "Change the sizes":
            self.told.append(self.page.get_by_role("main").inner_text())
        self.hands.follow(link)

    # --- build and test --------------------------------------------------------------------------

    def _measure(self, names: list[str]) -> None:
        wanted = {
            **{f"canopy_diameter_{spot}": text for spot, text in enumerate(self.story.across, 1)},
            **{f"line_length_{spot}": text for spot, text in enumerate(self.story.lines, 1)},
        }
        asked = {name: text for name, text in wanted.items() if name in names}
        if asked:
            self.hands.fill(asked)
            self.hands.send("Save")
        else:
            self.hands.follow("On to the drops")

    def _drop(self, names: list[str]) -> None:
        left = self.drops_left[self.number - 1]
        if "outcome" in names:
            self.hands.tap("outcome", "no_more")
            self.hands.send("Go on")
        elif "call" in names:
            if not left and self.story.cannot_be_mended:
                return self.hands.follow("It broke")
            self.hands.tap("call", left[0].void or "yes")
            self.hands.send("Go on")
            if left[0].void:
                left.pop(0)
        elif "time" in names:
            self._time(left.pop(0))
        else:
            self.hands.follow("On to Results")
        return None

    def _time(self, drop: DropStory) -> None:
        """Type a time; where it is asked about (under free fall, unlike the others), say that it is so."""
        page = self.page
        self.hands.fill({"time": drop.time})
        self.hands.tap("mark", drop.mark)
        self.hands.send("Save the time")
        sure = page.locator("main [name=sure]")
        if drop.asked:
            summary = page.locator("[data-error-summary]")
            expect(summary).to_contain_text("A dropped stone takes about 1.0 s here.")
            self.told.append(summary.inner_text())
        if sure.count():
            self.hands.check(sure)
            self.hands.send("Save the time")


def take_turns(plays: list[Iterator[str]]) -> None:
    """Let every tablet do one screen in turn until all of them are at their end."""
    while plays:
        plays = [play for play in plays if next(play, None) is not None]

"""A teacher at a laptop: from the first link to a class with teams, a challenge and a lesson."""

from __future__ import annotations

import re

from playwright.sync_api import Locator, Page, expect

from tests.browser.plays.screens import Fingers
from tests.support.fresh import polls_until

PASSWORD = "gannets over grey water"
CHILDREN = """Ana P
Bo K.
Cem Yilmaz
Dia R
Eli, Fay
Fay Okoro
Gus T
Hana B
Ines M
Jon D
Kofi A
Lea S
Mio T
Noor H
Ole V
Pia N
Quinn E
Rae F
Sami G
Tia L
Uma W
Vik J
Wen C
Xan Q
Yara O
Zoe I
Abe U
Bea X
Cal Z"""


class Teacher:
    """One teacher's browser; `code` is the class's code once it is made."""

    def __init__(self, page: Page, base_url: str, hands: Fingers | None = None) -> None:
        self.page, self.base_url, self.code = page, base_url, ""
        self.hands = hands or Fingers(page)

    def open(self, path: str) -> None:
        self.page.goto(f"{self.base_url}/classes/{self.code}/{path}")

    def make_account(self, link: str, username: str = "m.okafor") -> None:
        self.page.goto(f"{self.base_url}{link}")
        self.hands.fill(
            {"username": username, "new_password1": PASSWORD, "new_password2": PASSWORD},
        )
        self.hands.tap("time_zone", "UTC")
        self.hands.send("Make my account")

    def sign_in(self, username: str = "m.okafor", password: str = PASSWORD) -> None:
        self.page.goto(f"{self.base_url}/sign-in/")
        self.hands.fill({"username": username, "password": password})
        self.hands.send("Sign in")

    def make_class(self, name: str) -> None:
        self.page.goto(f"{self.base_url}/classes/")
        self.hands.follow(self.page.get_by_role("main").get_by_role("link", name="Make a class").first)
        self.hands.fill({"name": name})
        self.hands.send("Make the class")
        found = re.search(r"/classes/([A-Z0-9]+)/", self.page.url)
        assert found, self.page.url
        self.code = found[1]

    def paste_children(self, names: str = CHILDREN) -> None:
        self.open("students/")
        self.hands.fill({"names": names})
        self.hands.send("See what was read")
        self.hands.send("Add these children")

    def shuffle(self, size: int) -> None:
        """Deal teams of a size and use them as they come."""
        self.open("teams/")
        self.hands.tap("size", str(size))
        self.hands.send("Shuffle and show me")
        self.hands.send("Use these teams")

    def set_up(self, unit_system: str, preset: str) -> None:
        """Set the challenge up from a preset, after a look at every number."""
        self.open("settings/")
        self.hands.tap("unit_system", unit_system)
        self.hands.tap("preset", preset)
        self.hands.send("Look at every number first")
        self.hands.send("Save the settings")

    def start_lesson(self) -> None:
        self.open("lessons/")
        self.hands.send("Start lesson")

    # --- the live page -----------------------------------------------------------------------------

    def dashboard(self) -> None:
        self.open("dashboard/")

    def tap(self, name: str) -> None:
        """Tap a one-tap button of the live page; where each round has one, that of the first."""
        self.hands.tap_live(self.page.get_by_role("button", name=name, exact=True).first)

    def team_codes(self) -> list[tuple[str, str]]:
        """Return each team's name and code, in team order, from the page of teams."""
        self.open("teams/")
        cards = self.page.locator("main ol > li")
        return [(card.get_by_role("heading").inner_text(), _code(card)) for card in cards.all()]

    # --- the live page, read ---------------------------------------------------------------------

    def count(self, number: int, step: str) -> Locator:
        """Return the count beside a step of a round, like `8 of 8 teams in`."""
        part = self.page.locator(_steps_of(number))
        return part.filter(has=self.page.get_by_text(step, exact=True)).locator(".count")

    def sees(self, number: int, step: str, said: str) -> int:
        """Wait until the dashboard says by itself how many teams are in; return how often it asked."""
        asked = polls_until(self.page, _steps_of(number), step, said)
        expect(self.count(number, step)).to_have_text(said)
        return asked


def _steps_of(number: int) -> str:
    return f"section[aria-labelledby=round-{number}-title] li"


def _code(card: Locator) -> str:
    return card.locator(".codes").inner_text()

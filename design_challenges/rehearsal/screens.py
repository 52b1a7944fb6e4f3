"""Reads a team's page as a child does: the one thing to do next, its form's fields, and what it polls."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from html.parser import HTMLParser

_POLL = re.compile(r'id="([\w-]+)" hx-get="([^"]+)" hx-trigger="every (\d+)s')


@dataclass
class Field:
    """A field to fill in: its kind ("text", "radio", "checkbox", "select"), what it holds, its choices."""

    name: str
    kind: str
    value: str = ""
    choices: list[str] = field(default_factory=list)


@dataclass
class Form:
    """A form of the page's main part: what it carries unseen, and what somebody fills in."""

    action: str
    htmx: bool
    hidden: list[tuple[str, str]] = field(default_factory=list)
    fields: dict[str, Field] = field(default_factory=dict)


@dataclass
class Screen:
    """The page: `link` or `form` is what to do next, neither where there is nothing to do but wait."""

    heading: str = ""
    link: str = ""
    form: Form | None = None
    errors: list[str] = field(default_factory=list)


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.screen = Screen()
        self._form: Form | None = None
        self._select: Field | None = None
        self._area: Field | None = None
        self._within: list[str] = []
        self._done = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        classes = given.get("class", "").split()
        if tag == "form":
            htmx = "hx-post" in given
            self._form = Form(given.get("hx-post") or given.get("action", ""), htmx)
        elif tag in ("input", "select", "textarea") and self._form is not None:
            self._field(tag, given, self._form)
        elif tag == "option" and self._select is not None:
            self._select.choices.append(given.get("value", ""))
            if "selected" in given:
                self._select.value = given.get("value", "")
        elif tag == "h1":
            self._within.append("h1")
        elif tag == "ul" and "errors" in classes:
            self._within.append("errors")
        if "button-next" in classes and not self._done:
            if tag == "a" and given.get("href"):
                self.screen.link, self._done = given["href"], True
            elif tag in ("button", "input") and self._form is not None:
                self.screen.form, self._done = self._form, True

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._form = None
        elif tag == "select":
            self._select = None
        elif tag == "textarea":
            self._area = None
        elif tag == "h1" or (tag == "ul" and self._within[-1:] == ["errors"]):
            self._within = self._within[:-1]

    def handle_data(self, data: str) -> None:
        text = " ".join(data.split())
        if self._area is not None:
            self._area.value += data
        elif text and self._within[-1:] == ["h1"]:
            self.screen.heading = f"{self.screen.heading} {text}".strip()
        elif text and self._within[-1:] == ["errors"]:
            self.screen.errors.append(text)

    def _field(self, tag: str, given: dict[str, str], form: Form) -> None:
        name, kind = given.get("name", ""), given.get("type", "text") if tag == "input" else tag
        if not name or kind in ("submit", "button", "file"):
            return
        if kind in ("radio", "checkbox"):
            found = form.fields.setdefault(name, Field(name, kind))
            found.choices.append(given.get("value", "on"))
            if "checked" in given:
                found.value = given.get("value", "on")
            return
        if kind == "hidden":
            form.hidden.append((name, given.get("value", "")))
            return
        found = form.fields[name] = Field(
            name, "select" if tag == "select" else "text", given.get("value", "")
        )
        if tag == "select":
            self._select = found
        elif tag == "textarea":
            self._area = found


def read_screen(page: str) -> Screen:
    """Return what the main part of a page (or a fragment that htmx swaps in) asks for."""
    main = page.partition("<main")[2] or page
    reader = _Reader()
    reader.feed(main.partition("</main>")[0])
    return reader.screen


def read_polls(page: str) -> dict[str, tuple[str, float]]:
    """Return what a page polls: by its part's id the address to ask, and how often, in s."""
    return {
        part: (address.replace("&amp;", "&"), float(every)) for part, address, every in _POLL.findall(page)
    }

"""A team's tablet in tests: it fills in forms as a browser without scripts does, hidden fields and all."""

from __future__ import annotations

import html
import re
from typing import Any

from django.test import Client

from classroom.models import Team
from tests.builders import team_client

_HIDDEN = re.compile(r'<input type="hidden" name="(?!csrf)([^"]+)" value="([^"]*)"')


def main_part(response: Any) -> str:
    """Return the page's main part as HTML."""
    return response.content.decode().split("<main", 1)[1]


def words(response: Any) -> str:
    """Return the words of the page's main part, tags left out."""
    text = html.unescape(re.sub(r"<[^>]+>", " ", main_part(response)))
    return re.sub(r"\s+", " ", text).replace(" .", ".").replace(" ,", ",")


def hidden_fields(response: Any, *, form: int = 0) -> dict[str, str]:
    """Return the hidden fields of a form of the page's main part, the first one unless said otherwise."""
    found = main_part(response).split("<form")[1:][form].split("</form>", 1)[0]
    return {name: html.unescape(value) for name, value in _HIDDEN.findall(found)}


def at(response: Any) -> str:
    """Return the path that the redirects led to."""
    return response.redirect_chain[-1][0] if response.redirect_chain else response.request["PATH_INFO"]


class Tablet:
    """A tablet of a team."""

    def __init__(self, team: Team) -> None:
        self.client: Client = team_client(team)

    def get(self, path: str) -> Any:
        """Open a page, following where it leads."""
        return self.client.get(path, follow=True)

    def post(self, path: str, **fields: Any) -> Any:
        """Send fields as they are."""
        return self.client.post(path, fields, follow=True)

    def fill(self, path: str, *, form: int = 0, **fields: Any) -> Any:
        """Open a page and send its form with these fields filled in."""
        return self.post(path, **{**hidden_fields(self.get(path), form=form), **fields})

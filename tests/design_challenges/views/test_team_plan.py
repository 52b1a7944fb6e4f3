"""The Plan step on a team's tablet, from the first sentence to the drawing."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.test import Client

from design_challenges.models import ClassChallenge, Measurement, Note, Submission
from design_challenges.services.entries import Author
from design_challenges.services.lengths import parse_length
from design_challenges.services.saving import save_size, start_round
from design_challenges.services.units import INCH
from tests.builders import enter, make_challenge, make_class, record_of, team_client

pytestmark = pytest.mark.django_db


class Tablet:
    """A team's tablet that fills in forms as a browser does: it sends the hidden fields along."""

    def __init__(self, client: Client) -> None:
        self.client = client

    def get(self, path: str) -> Any:
        return self.client.get(path, follow=True)

    def fill(self, path: str, **fields: str) -> Any:
        return self.client.post(path, {**hidden_fields(self.get(path)), **fields}, follow=True)


def hidden_fields(response: Any) -> dict[str, str]:
    """Return the hidden fields of the form that begins the page's main part."""
    main = response.content.decode().split("<main", 1)[1]
    form = main.split("<form", 1)[1].split("</form>", 1)[0]
    return dict(re.findall(r'<input type="hidden" name="((?!csrf)[^"]+)" value="([^"]*)"', form))


@pytest.fixture
def challenge() -> ClassChallenge:
    challenge = make_challenge(make_class(2))
    for team in challenge.classroom.teams.all():
        start_round(challenge, team, 1)
    return challenge


@pytest.fixture
def tablet(challenge: ClassChallenge) -> Tablet:
    return Tablet(team_client(challenge.classroom.teams.first()))


def at(response: Any) -> str:
    """Return the path that the redirects led to."""
    return response.redirect_chain[-1][0] if response.redirect_chain else response.request["PATH_INFO"]


def plan_until_sums(tablet: Tablet) -> Any:
    tablet.fill("/team/1/plan/purpose/", purpose="It must fall slowly. We may not pass the limit.")
    tablet.fill("/team/1/plan/idea-a/", canopy_radius="9", line_length="10")
    tablet.fill("/team/1/plan/idea-b/", canopy_radius="11", line_length="14")
    tablet.fill("/team/1/plan/limit/", meets_limit="a")
    tablet.fill("/team/1/plan/slower/", slower="b", reason="Its canopy is bigger")
    return tablet.fill("/team/1/plan/choose/", chosen="a")


def test_a_team_plans_with_six_numbers_and_one_sentence(tablet: Tablet, challenge: ClassChallenge) -> None:
    assert at(tablet.get("/team/")) == "/team/1/plan/purpose/"

    assert at(plan_until_sums(tablet)) == "/team/1/plan/sums/"
    tablet.fill("/team/1/plan/sums/", answer="254")
    assert "Right." in tablet.get("/team/1/plan/sums/").content.decode()
    tablet.fill("/team/1/plan/sums/", answer="374")
    assert at(tablet.get("/team/")) == "/team/1/plan/drawing/"
    tablet.client.post("/team/1/plan/drawing/", {"how": "later"})
    ready = tablet.get("/team/")
    assert at(ready) == "/team/1/ready/"
    assert "374 of 375 points: 1 to spare." in ready.content.decode()

    cleared = tablet.client.post("/team/1/ready/", hidden_fields(ready), follow=True)

    assert "Cleared to build!" in cleared.content.decode()
    record = record_of(challenge, challenge.classroom.teams.first())
    assert record.clearance is not None
    assert (record.clearance.by, record.clearance.figure, record.clearance.figure_from) == ("check", "374", "team")

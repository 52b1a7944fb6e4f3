"""An invented class rehearses a challenge against the real server, far faster than a class would."""

from __future__ import annotations

import re
from typing import Any

import pytest

SETUP = """
from classroom.models import Classroom
from tests import builders
rehearsed = builders.make_class(0, name="Rehearsal")
challenge = builders.make_challenge(rehearsed, unit_system=UNITS, drawing_required=True)
real = builders.make_class(2)
builders.make_challenge(real)
bare = builders.make_class(0, name="Bare")
print(json.dumps({"code": rehearsed.code, "real": real.code, "bare": bare.code}))
"""
READ = """
from classroom.models import Classroom
from design_challenges.models import Submission
from design_challenges.services.records import find_challenge, load_class
from design_challenges.services import progress
challenge = find_challenge(Classroom.objects.get(code=CODE))
klass = load_class(challenge)
print(json.dumps({
    "teams": [[team.team.name, [str(record.figure) for record in team.rounds.values()],
               [progress.next_step(record) for record in team.rounds.values()]] for team in klass.teams],
    # Beginning a round is a tap, which a rehearsal does not count as an entry.
    "saved": Submission.objects.filter(class_challenge=challenge, outcome="saved")
        .exclude(body__has_key="start").count(),
    "other": Submission.objects.filter(class_challenge=challenge).exclude(outcome="saved").count(),
}))
"""


@pytest.mark.parametrize(("units", "teams"), [("us", 8), ("metric", 3)])
def test_a_class_comes_through_both_rounds_by_itself_and_every_answered_entry_is_saved(
    served: Any, units: str, teams: int
) -> None:
    codes = served.ask_python(f"UNITS = {units!r}\n{SETUP}")
    url = served.base_url
    said = served.manage(
        "rehearse", codes["code"], "--url", url, "--pace", "900", "--teams", str(teams), "--open-rounds"
    )
    print(said)
    read = served.ask_python(f"CODE = {codes['code']!r}\n{READ}")
    assert [team[0] for team in read["teams"]][:3] == ["Sea Glass", "Kelp Flyers", "Tide Riders"]
    for _name, figures, unfinished in read["teams"]:
        assert len(figures) == 2
        assert "None" not in figures
        assert unfinished == [None, None], "every step of both rounds is done"
    assert f"{teams} teams came to the end" in said
    assert int(re.search(r"(\d+) entries saved", said)[1]) == read["saved"]
    assert read["other"] == 0
    again = served.manage("rehearse", codes["code"], "--url", url, "--pace", "900")
    assert " 0 entries saved" in again, "a class that is through has nothing left to do"


def test_a_class_with_children_of_its_own_or_without_a_challenge_is_left_alone(served: Any) -> None:
    codes = served.ask_python(f"UNITS = 'us'\n{SETUP}")
    for which, why in (("real", "children of its own"), ("bare", "no challenge yet")):
        with pytest.raises(AssertionError, match=why):
            served.manage("rehearse", codes[which], "--url", served.base_url)
    with pytest.raises(AssertionError, match="no class with the code"):
        served.manage("rehearse", "NOBODY", "--url", served.base_url)

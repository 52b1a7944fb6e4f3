"""The teacher's page on measuring: pairs round by round, spreads team by team, and what is not there yet."""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction
from typing import Any

import pytest

from classroom.models import Team
from design_challenges.models import ClassChallenge
from design_challenges.services import saving
from design_challenges.services.lengths import parse_length
from design_challenges.services.measuring import build_measuring, spread
from design_challenges.services.records import find_challenge, load_class
from tests import builders

pytestmark = pytest.mark.django_db

TWICE = {"measure_canopy": "twice", "measure_lines": "twice"}


@pytest.fixture
def challenge() -> ClassChallenge:
    return builders.make_challenge(builders.make_class(teams=3), values=TWICE)


@pytest.fixture
def teams(challenge: ClassChallenge) -> list[Team]:
    return list(challenge.classroom.teams.order_by("place"))


def measure(
    challenge: ClassChallenge,
    team: Team,
    number: int,
    first: Sequence[str],
    second: Sequence[str],
    *,
    agreed: Sequence[str] = (),
    quantity: str = "canopy_diameter",
    reader: str = "",
) -> None:
    """Let two children measure, and the pair agree on the second reading where nothing else is said."""
    iteration = saving.start_round(challenge, team, number)
    record = builders.record_of(challenge, team, number)
    unit = record.kind.length_unit(record.values)

    def save(author: Any) -> None:
        for spot, texts in enumerate(zip(first, second, agreed or second, strict=True), start=1):
            for turn, text in zip((1, 2, 0), texts, strict=True):
                saving.save_size(
                    iteration,
                    "built",
                    quantity,
                    parse_length(text, unit),
                    author,
                    spot=spot,
                    turn=turn,
                    reader=reader if turn == 2 else "",
                )

    builders.enter(challenge, save)


def page(challenge: ClassChallenge) -> str:
    response = builders.teacher_client(challenge.classroom).get(
        f"/classes/{challenge.classroom.code}/measuring/"
    )
    assert response.status_code == 200
    words = re.sub(r"<[^>]+>", " ", response.content.decode())
    return " ".join(words.replace("\N{NO-BREAK SPACE}", " ").split())


def canopy(challenge: ClassChallenge) -> Any:
    return build_measuring(load_class(challenge)).closeness[0]


def test_nothing_is_said_before_anybody_measured(challenge: Any) -> None:
    words = page(challenge)
    assert words.count("No size of this kind was read by two children yet.") == 2


def test_one_round_alone_is_not_compared(challenge: Any, teams: list[Team]) -> None:
    measure(challenge, teams[0], 1, ["13", "14"], ["14", "14"])
    row = canopy(challenge)
    assert (row.rounds[0].pairs, row.rounds[0].agreeing, row.rounds[0].middle) == (2, 1, "1/2")
    assert "nothing to compare them with yet" in row.sentence


def test_two_rounds_are_compared_over_the_teams_that_have_both(challenge: Any, teams: list[Team]) -> None:
    measure(challenge, teams[0], 1, ["13", "14"], ["14", "14"])  # 1 and 0 apart
    measure(challenge, teams[0], 2, ["15", "15"], ["15 1/4", "15"])  # 1/4 and 0
    measure(challenge, teams[1], 2, ["10", "10"], ["20", "20"])  # round 2 alone: not compared
    row = canopy(challenge)
    assert [found.pairs for found in row.rounds] == [2, 4]
    assert row.sentence == (
        "1 team has pairs in rounds 1 and 2. The middle difference was 1/2 in, then 1/8 in. "
        "The pairs came closer."
    )


@pytest.mark.parametrize(
    ("then", "now", "says"),
    [("14", "15", "moved apart"), ("14", "14", "as close as they were"), ("15", "14", "came closer")],
)
def test_the_change_is_said_as_it_is(
    challenge: Any, teams: list[Team], then: str, now: str, says: str
) -> None:
    measure(challenge, teams[0], 1, ["14", "14"], [then, then])
    measure(challenge, teams[0], 2, ["14", "14"], [now, now])
    assert says in canopy(challenge).sentence


def test_teams_without_both_rounds_are_not_compared(challenge: Any, teams: list[Team]) -> None:
    measure(challenge, teams[0], 1, ["14", "14"], ["14", "14"])
    measure(challenge, teams[1], 2, ["14", "14"], ["14", "14"])
    assert "cannot be compared" in canopy(challenge).sentence


def test_readings_of_one_child_are_told_and_left_out(challenge: Any, teams: list[Team]) -> None:
    measure(challenge, teams[0], 1, ["14", "14"], ["14", "14"], reader="again")
    measure(challenge, teams[1], 1, ["14", "14"], ["15", "15"], reader="neighbour")
    found = canopy(challenge).rounds[0]
    assert (found.pairs, found.same_child, found.middle) == (2, 2, "1")
    assert "2 more in round 1 were read twice by one child and are left out." in page(challenge)


def test_readings_after_the_question_do_not_count(challenge: Any, teams: list[Team]) -> None:
    measure(challenge, teams[0], 1, ["13", "14"], ["14", "14"])
    measure(challenge, teams[0], 1, ["14", "14"], ["14", "14"])
    assert canopy(challenge).rounds[0].pairs == 2
    assert canopy(challenge).rounds[0].agreeing == 1


def test_a_spread_is_largest_minus_smallest_of_what_counts(challenge: Any, teams: list[Team]) -> None:
    measure(challenge, teams[0], 1, ["14", "14"], ["14", "13 1/4"], agreed=["14", "13 1/4"])
    record = builders.record_of(challenge, teams[0])
    assert spread(record, "canopy_diameter") == Fraction(3, 4)
    assert spread(record, "line_length") is None
    found = build_measuring(load_class(challenge))
    assert [cell.text for cell in found.spreads[0].cells] == ["3/4", ""]
    assert [cell.text for cell in found.spreads[1].cells] == ["", ""]
    assert [cell.text for cell in found.middle.cells] == ["3/4", ""]


def test_a_class_that_measures_once_sees_the_spreads_and_how_to_get_pairs() -> None:
    challenge = builders.make_challenge(builders.make_class(teams=2))
    for team, across in zip(challenge.classroom.teams.all(), (("14", "13"), ("14", "14")), strict=True):
        builders.play_round(challenge, team, across=across, lines=("13", "13", "12 3/4", "13"))
    words = page(challenge)
    assert "Set sizes to be measured twice" in words
    found = build_measuring(load_class(challenge))
    assert [cell.text for cell in found.middle.cells] == ["1/2", "1/4"]


def test_only_the_classs_own_teacher_sees_it(challenge: Any) -> None:
    stranger = builders.teacher_client(builders.make_class(teams=1))
    assert stranger.get(f"/classes/{challenge.classroom.code}/measuring/").status_code == 404


def test_it_is_live_and_nothing_new_touches_nothing(
    challenge: Any, teams: list[Team], django_assert_max_num_queries: Any
) -> None:
    client, url = (
        builders.teacher_client(challenge.classroom),
        f"/classes/{challenge.classroom.code}/measuring/",
    )
    htmx = {"headers": {"HX-Request": "true"}}
    token = find_challenge(challenge.classroom).revision.number
    with django_assert_max_num_queries(3):
        assert client.get(f"{url}?revision={token}", **htmx).status_code == 204
    measure(challenge, teams[0], 1, ["13", "14"], ["14", "14"])
    news = client.get(f"{url}?revision={token}", **htmx).content.decode()
    assert news.lstrip().startswith('<div class="stack" id="live"')
    assert "1 of 2" in news


def test_a_class_without_a_challenge_is_told_so() -> None:
    classroom = builders.make_class(teams=1)
    response = builders.teacher_client(classroom).get(f"/classes/{classroom.code}/measuring/")
    assert "No challenge is set up yet." in response.content.decode()


@pytest.mark.parametrize("count", [8, 40])
def test_it_takes_no_more_than_20_queries(count: int, django_assert_max_num_queries: Any) -> None:
    challenge = builders.make_challenge(builders.make_class(teams=count), values=TWICE)
    for team in challenge.classroom.teams.all()[:8]:
        measure(challenge, team, 1, ["14", "14"], ["14", "15"])
    client = builders.teacher_client(challenge.classroom)
    with django_assert_max_num_queries(20):
        client.get(f"/classes/{challenge.classroom.code}/measuring/")

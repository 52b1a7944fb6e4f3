"""Paper: what is printed, and a round typed in from it through the same doors as a tablet's."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from classroom.codes import in_groups
from classroom.models import Classroom, Team
from design_challenges.models import ClassChallenge, DesignIteration, Measurement
from design_challenges.services.progress import next_step
from design_challenges.steps import Step
from tests import builders

pytestmark = pytest.mark.django_db

PAPER = {
    "purpose": "It must fall slowly. It may not use over 375 points.",
    "idea_a_canopy_radius": "7",
    "idea_a_line_length": "13 1/2",
    "idea_b_canopy_radius": "6",
    "idea_b_line_length": "18",
    "chosen": "a",
    "why": "It catches more air.",
    "canopy_diameter_1": "14",
    "canopy_diameter_2": "14 1/4",
    "line_length_1": "13.5",
    "line_length_2": "13.5",
    "line_length_3": "13.5",
    "line_length_4": "13.25",
    "time_1": "4,12",
    "time_2": "3.98",
    "result_2": "tangled",
    "time_3": "4.05",
    "sum_area": "154",
    "sum_material": "316",
    "sum_rounded_1": "4.1",
    "sum_rounded_2": "3.9",
    "sum_mean": "4.1",
    "sum_speed": "3.7",
    "noticing": "Big ones were slow.",
}


@pytest.fixture
def challenge() -> ClassChallenge:
    return builders.make_challenge(builders.make_class(teams=2))


@pytest.fixture
def classroom(challenge: ClassChallenge) -> Classroom:
    return challenge.classroom


@pytest.fixture
def team(classroom: Classroom) -> Team:
    return classroom.teams.get(name="Gannet")


@pytest.fixture
def teacher(classroom: Classroom) -> Client:
    return builders.teacher_client(classroom)


def address(name: str, classroom: Classroom, *more: Any) -> str:
    return reverse(f"design_challenges:{name}", args=[classroom.code, *more])


def test_a_round_on_paper_becomes_a_round(
    challenge: Any, classroom: Any, team: Team, teacher: Client
) -> None:
    response = teacher.post(address("paper_type_in", classroom, 1, team.pk), PAPER)
    assert response.status_code == 302
    record = builders.record_of(challenge, team)
    assert record.figure == Decimal("3.7")
    assert [drop.mark for drop in record.counting] == ["", "tangled", ""]
    assert record.working(record.rounding_steps[2]).accepted is None
    assert record.working(record.result_steps[1]).accepted == Decimal("3.7")
    assert record.clearance is not None
    assert record.clearance.reason == "cleared on paper"
    assert next_step(record) is Step.RESULTS  # two roundings are still to come
    assert challenge.submissions.count() == 1


def test_typing_the_same_again_adds_nothing(
    challenge: Any, classroom: Any, team: Team, teacher: Client
) -> None:
    url = address("paper_type_in", classroom, 1, team.pk)
    teacher.post(url, PAPER)
    before = Measurement.objects.count()
    page = teacher.get(url).content.decode()
    assert 'value="13 1/2"' in page
    teacher.post(url, PAPER | {"time_1": "4.12"})
    assert Measurement.objects.count() == before
    assert challenge.submissions.count() == 1


def test_a_changed_time_keeps_the_old_one(
    challenge: Any, classroom: Any, team: Team, teacher: Client
) -> None:
    url = address("paper_type_in", classroom, 1, team.pk)
    teacher.post(url, PAPER)
    teacher.post(url, PAPER | {"time_1": "4.21", "result_3": "hit"})
    record = builders.record_of(challenge, team)
    assert [r.hundredths for r in record.trials[1].readings] == [412, 421]
    assert record.trials[1].reading is not None
    assert record.trials[1].reading.hundredths == 421
    assert not record.trials[3].counts
    assert record.trials[3].reading is not None


def test_half_a_sheet_is_saved_as_it_is(challenge: Any, classroom: Any, team: Team, teacher: Client) -> None:
    teacher.post(address("paper_type_in", classroom, 1, team.pk), {"purpose": "It must fall slowly."})
    assert next_step(builders.record_of(challenge, team)) is Step.PLAN


def test_an_empty_sheet_begins_nothing(classroom: Any, team: Team, teacher: Client) -> None:
    teacher.post(address("paper_type_in", classroom, 1, team.pk), {})
    assert not DesignIteration.objects.exists()


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("canopy_diameter_1", "1000 in", "1000"),
        ("canopy_diameter_1", "-3", "minus"),
        ("idea_a_line_length", "long", "long"),
        ("time_1", "4.123", "two digits"),
        ("time_1", "0", "That is 0"),
        ("time_2", "", "needs its time"),
    ],
)
def test_what_cannot_be_read_is_said_and_kept(
    classroom: Any, team: Team, teacher: Client, field: str, typed: str, said: str
) -> None:
    response = teacher.post(address("paper_type_in", classroom, 1, team.pk), PAPER | {field: typed})
    page = response.content.decode()
    assert response.status_code == 422
    assert said in page
    assert "It catches more air." in page
    assert not DesignIteration.objects.exists()


def test_a_second_round_on_paper_works_the_change(
    challenge: Any, classroom: Any, team: Team, teacher: Client
) -> None:
    builders.play_round(challenge, team)
    second = {
        "change": "Longer lines.",
        "change_why": "They let it open wider.",
        "planned_canopy_radius": "7",
        "planned_line_length": "16",
        "canopy_diameter_1": "14",
        "canopy_diameter_2": "14",
        **{f"line_length_{n}": "16" for n in range(1, 5)},
        "time_1": "4.5",
        "time_2": "4.5",
        "time_3": "4.5",
        "sum_mean": "4.5",
        "sum_speed": "3.3",
        "sum_change": "0.4",
    }
    teacher.post(address("paper_type_in", classroom, 2, team.pk), second)
    record = builders.record_of(challenge, team, 2)
    assert record.figure == Decimal("3.3")
    assert record.accepted["change"] == Decimal("0.4")


def test_every_sheet_prints_with_every_team_on_it(classroom: Any, teacher: Client) -> None:
    pages = [
        address("paper", classroom),
        address("paper_team_cards", classroom),
        address("paper_tags", classroom),
        *(address(name, classroom, n) for name in ("paper_tally", "paper_steps") for n in (1, 2)),
        address("paper_type_in_list", classroom, 1),
    ]
    for page in pages:
        response = teacher.get(page)
        assert response.status_code == 200, page
    for page in pages[1:]:
        text = teacher.get(page).content.decode()
        assert all(name in text for name in ("Gannet", "Heron")), page


def test_team_cards_carry_codes_and_a_qr_link(classroom: Any, team: Team, teacher: Client) -> None:
    page = teacher.get(address("paper_team_cards", classroom)).content.decode()
    assert in_groups(team.code) in page
    assert page.count("<svg") == 2
    assert "style=" not in page


def test_a_round_the_class_does_not_have_does_not_exist(classroom: Any, team: Team, teacher: Client) -> None:
    assert teacher.get(address("paper_tally", classroom, 3)).status_code == 404
    assert teacher.get(address("paper_type_in", classroom, 1, 0)).status_code == 404


def test_other_teachers_and_tablets_are_refused(classroom: Any, team: Team) -> None:
    stranger = builders.teacher_client(builders.make_class(teams=1))
    assert stranger.get(address("paper_team_cards", classroom)).status_code == 404
    assert stranger.post(address("paper_type_in", classroom, 1, team.pk), PAPER).status_code == 404


@pytest.mark.parametrize("name", ["paper", "paper_team_cards", "paper_tags"])
def test_paper_takes_as_many_queries_for_8_teams_as_for_40(
    django_assert_max_num_queries: Any, name: str
) -> None:
    for teams in (8, 40):
        challenge = builders.make_challenge(builders.make_class(teams=teams))
        client = builders.teacher_client(challenge.classroom)
        with django_assert_max_num_queries(20):
            assert client.get(address(name, challenge.classroom)).status_code == 200

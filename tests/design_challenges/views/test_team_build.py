"""The Build page: measuring the made thing, and what happens when it is over the limit."""

from __future__ import annotations

import re
import uuid
from fractions import Fraction
from typing import Any

import pytest
from django.test import Client

from classroom.models import Team
from design_challenges.models import ClassChallenge, Measurement, Submission
from design_challenges.services import saving
from design_challenges.services.progress import is_done
from design_challenges.steps import Step
from tests import builders

pytestmark = pytest.mark.django_db

URL = "/team/1/build/"
CANOPY = {"canopy_diameter_1": "14", "canopy_diameter_2": "13 1/2"}
LINES = {f"line_length_{number}": "13" for number in range(1, 5)}


@pytest.fixture
def challenge() -> ClassChallenge:
    return builders.make_challenge(builders.make_class(teams=2))


@pytest.fixture
def team(challenge: ClassChallenge) -> Team:
    return challenge.classroom.teams.first()


@pytest.fixture
def tablet(challenge: ClassChallenge, team: Team) -> Client:
    builders.plan_round(challenge, team)
    builders.clear_round(challenge, team)
    return builders.team_client(team)


def send(tablet: Client, fields: dict[str, Any], *, part: int = 1, **more: Any) -> Any:
    return tablet.post(URL, {"entry_id": str(uuid.uuid4()), "part": part, **fields, **more})


def text(response: Any) -> str:
    """The page's words, without tags and extra spaces."""
    words = re.sub(r"<[^>]+>", " ", response.content.decode())
    return " ".join(words.replace("\N{NO-BREAK SPACE}", " ").split())


def errors_of(response: Any) -> dict[str, str]:
    return {name: str(found[0]) for name, found in response.context["form"].errors.items()}


def test_it_asks_for_the_canopy_both_ways_and_hides_the_plan(tablet: Client) -> None:
    response = tablet.get(URL)
    assert response.status_code == 200
    words = text(response)
    assert "straight across" in words
    assert "across the other way" in words
    assert "Line 1" not in words
    assert "beside your plan" not in words


def test_each_part_leads_to_the_next_and_then_to_the_plan(tablet: Client, challenge: Any, team: Any) -> None:
    assert send(tablet, CANOPY).headers["Location"] == URL
    assert "Line 4" in text(tablet.get(URL))
    send(tablet, LINES, part=2)
    record = builders.record_of(challenge, team)
    assert record.build_complete
    assert record.variable("canopy_diameter") == Fraction(55, 4)
    words = text(tablet.get(URL))
    assert "beside your plan" in words
    assert "13 3/4" in words  # the mean of 14 and 13 1/2
    assert "1/4 in less" in words
    assert "On to the drops" in words


def test_the_made_things_material_is_worked_from_what_was_measured(tablet: Client) -> None:
    send(tablet, CANOPY)
    send(tablet, LINES, part=2)
    # π · 6.875² = 148.49 → 148; 148 + 3 · 52 = 304
    assert "304 of 375 points" in text(tablet.get(URL))


@pytest.mark.parametrize(
    ("typed", "part_of_message"),
    [
        ("", "Type a length here"),
        ("abc", "can’t read"),
        ("0", "from the 0 on the tape"),
        ("-14", "without plus or minus"),
        ("1000", "very big"),
        ("0.5", "very small"),
        ("13.3", "no mark on your tape"),
        ("131/2", "space before the fraction"),
    ],
)
def test_a_length_that_cannot_be_is_asked_about_and_stays_in_its_box(
    tablet: Client, typed: str, part_of_message: str
) -> None:
    response = send(tablet, {**CANOPY, "canopy_diameter_1": typed})
    assert response.status_code == 422
    assert part_of_message in errors_of(response)["canopy_diameter_1"]
    assert 'href="#id_canopy_diameter_1"' in response.content.decode()
    assert response.context["form"]["canopy_diameter_1"].value() == typed
    assert response.context["form"]["canopy_diameter_2"].value() == "13 1/2"
    assert not Measurement.objects.filter(stage="built").exists()


def test_a_decimal_comma_and_another_unit_are_read(tablet: Client, challenge: Any, team: Any) -> None:
    send(tablet, {"canopy_diameter_1": "13,5", "canopy_diameter_2": "35.56 cm"})
    built = builders.record_of(challenge, team).built
    assert built["canopy_diameter", 1].value == Fraction(27, 2)
    assert built["canopy_diameter", 2].value == 14


def test_who_measured_may_be_said_and_only_a_child_of_the_team_is_taken(
    tablet: Client, team: Any, challenge: Any
) -> None:
    child = team.members.first().student
    stranger = challenge.classroom.teams.last().members.first().student
    assert send(tablet, CANOPY, student=stranger.pk).status_code == 422
    send(tablet, CANOPY, student=child.pk)
    assert {row.student for row in Measurement.objects.filter(stage="built")} == {child}


def test_a_form_sent_twice_counts_once(tablet: Client) -> None:
    fields = {"entry_id": str(uuid.uuid4()), "part": 1, **CANOPY}
    assert tablet.post(URL, fields).headers["Location"] == tablet.post(URL, fields).headers["Location"]
    assert Measurement.objects.filter(stage="built").count() == 2


def test_the_later_of_two_tablets_is_shown_both_and_keeps_its_own(
    tablet: Client, challenge: Any, team: Any
) -> None:
    other = builders.team_client(team)
    send(other, CANOPY)
    response = send(tablet, {**CANOPY, "canopy_diameter_1": "12"}, seen_canopy_diameter_1=0)
    assert response.status_code == 422
    assert "Another tablet saved 14" in errors_of(response)["keep_canopy_diameter_1"]
    words = text(response)
    assert "Ours: 12" in words
    assert "The other tablet’s: 14" in words
    assert Submission.objects.filter(outcome="conflict").count() == 1
    assert builders.record_of(challenge, team).built["canopy_diameter", 1].typed == "14"
    seen = re.search(r'name="seen_canopy_diameter_1" value="(\d+)"', response.content.decode())
    again = {**CANOPY, "canopy_diameter_1": "12", "asked": "canopy_diameter_1"}
    assert send(tablet, again, seen_canopy_diameter_1=seen[1]).status_code == 422  # it must choose
    send(tablet, again, seen_canopy_diameter_1=seen[1], keep_canopy_diameter_1="ours")
    assert builders.record_of(challenge, team).built["canopy_diameter", 1].typed == "12"
    assert Measurement.objects.filter(stage="built", quantity="canopy_diameter", spot=1).count() == 2


def test_the_later_of_two_tablets_may_keep_the_others_value(
    tablet: Client, challenge: Any, team: Any
) -> None:
    send(builders.team_client(team), CANOPY)
    send(
        tablet,
        {**CANOPY, "canopy_diameter_1": "12", "asked": "canopy_diameter_1"},
        keep_canopy_diameter_1="theirs",
    )
    assert builders.record_of(challenge, team).built["canopy_diameter", 1].typed == "14"


def test_a_conflict_sent_twice_is_shown_twice(tablet: Client, team: Any) -> None:
    send(builders.team_client(team), CANOPY)
    fields = {"entry_id": str(uuid.uuid4()), **CANOPY, "canopy_diameter_1": "12"}
    for _time in range(2):
        response = send(tablet, fields, seen_canopy_diameter_1=0)
        assert response.status_code == 422
        assert "Another tablet saved 14" in errors_of(response)["keep_canopy_diameter_1"]


def test_a_sent_form_that_is_changed_and_sent_again_is_not_lost_in_silence(tablet: Client) -> None:
    fields = {"entry_id": str(uuid.uuid4()), **CANOPY}
    send(tablet, fields)
    standing = dict(
        re.findall(r'name="(seen_\w+)" value="(\d+)"', tablet.get(f"{URL}?part=1").content.decode())
    )
    response = send(tablet, {**fields, "canopy_diameter_1": "12", **standing})
    assert response.status_code == 422
    assert "This form was sent before" in text(response)
    assert response.context["form"]["canopy_diameter_1"].value() == "12"


def test_the_same_value_from_two_tablets_is_no_conflict(tablet: Client, team: Any) -> None:
    send(builders.team_client(team), CANOPY)
    assert send(tablet, CANOPY, seen_canopy_diameter_1=0, seen_canopy_diameter_2=0).status_code == 302


def measure_too_much(tablet: Client) -> None:
    send(tablet, {"canopy_diameter_1": "18", "canopy_diameter_2": "18"})  # 254 + 156 = 410: 9.3 % over
    send(tablet, LINES, part=2)


def test_a_made_thing_a_little_over_the_limit_may_go_on(tablet: Client, challenge: Any, team: Any) -> None:
    send(tablet, {"canopy_diameter_1": "17", "canopy_diameter_2": "17"})  # 227 + 156 = 383: 2.1 % over
    send(tablet, LINES, part=2)
    words = text(tablet.get(URL))
    assert "2.1 % over the limit" in words
    assert "On to the drops" in words
    assert tablet.get("/team/1/test/").status_code == 200
    assert is_done(builders.record_of(challenge, team), Step.BUILD)


def test_a_made_thing_far_over_the_limit_is_trimmed_and_measured_again(
    tablet: Client, challenge: Any, team: Any
) -> None:
    measure_too_much(tablet)
    words = text(tablet.get(URL))
    assert "9.3 % over the limit" in words
    assert "Trim it, then measure again" in words
    assert "On to the drops" not in words
    assert not is_done(builders.record_of(challenge, team), Step.BUILD)
    assert "Drop 1" not in text(tablet.get("/team/1/test/"))
    page = tablet.get(f"{URL}?part=1").content.decode()
    seen = dict(re.findall(r'name="(seen_\w+)" value="(\d+)"', page))
    send(tablet, {"canopy_diameter_1": "16", "canopy_diameter_2": "16", **seen})
    assert is_done(builders.record_of(challenge, team), Step.BUILD)
    assert "Drop 1" in text(tablet.get("/team/1/test/"))


def clear_by_hand(challenge: Any, team: Any) -> None:
    record = builders.record_of(challenge, team)
    builders.enter(
        challenge,
        lambda author: saving.clear_team(
            record, "teacher", author, figure=None, figure_from="", reason="Good enough."
        ),
    )


def test_a_teacher_who_clears_it_afterwards_lets_it_pass(tablet: Client, challenge: Any, team: Any) -> None:
    measure_too_much(tablet)
    clear_by_hand(challenge, team)
    assert "Your teacher lets it pass" in text(tablet.get(URL))
    assert "Drop 1" in text(tablet.get("/team/1/test/"))


def test_a_waiting_tablet_is_told_that_it_may_go_on(tablet: Client, challenge: Any, team: Any) -> None:
    measure_too_much(tablet)
    watched = tablet.get(URL).context["watched"]
    clear_by_hand(challenge, team)
    pulse = tablet.get("/team/pulse/", {"revision": 0, "was": watched})
    assert "Your teacher lets your build pass." in text(pulse)


def test_a_clearance_from_before_the_measuring_does_not(tablet: Client, challenge: Any, team: Any) -> None:
    clear_by_hand(challenge, team)
    measure_too_much(tablet)
    assert "Trim it" in text(tablet.get(URL))
    assert not is_done(builders.record_of(challenge, team), Step.BUILD)


def test_measuring_waits_for_the_clearance(challenge: Any, team: Any) -> None:
    builders.plan_round(challenge, team)
    tablet = builders.team_client(team)
    assert "straight across" not in text(tablet.get(URL))
    response = send(tablet, CANOPY)
    assert response.status_code == 422
    assert "13 1/2" in response.content.decode()
    assert not Measurement.objects.filter(stage="built").exists()


def test_what_was_typed_by_a_signed_out_tablet_comes_back(challenge: Any, team: Any, tablet: Client) -> None:
    device = team.devices.get()
    tablet.get(URL)
    device.revoked_at = device.made_at
    device.save()
    assert "/join/" in send(tablet, {**CANOPY, "canopy_diameter_1": "14 3/4"}).headers["Location"]
    device.revoked_at = None
    device.save()
    response = tablet.get(URL)
    assert response.context["form"]["canopy_diameter_1"].value() == "14 3/4"
    assert "We kept what you typed" in text(response)


@pytest.mark.parametrize("teams", [8, 40])
def test_it_takes_no_more_than_12_queries(teams: int, django_assert_max_num_queries: Any) -> None:
    challenge = builders.make_challenge(builders.make_class(teams=teams))
    team = challenge.classroom.teams.first()
    builders.plan_round(challenge, team)
    builders.clear_round(challenge, team)
    tablet = builders.team_client(team)
    with django_assert_max_num_queries(12):
        assert tablet.get(URL).status_code == 200
    builders.build_round(challenge, team)
    with django_assert_max_num_queries(12):
        assert "beside your plan" in text(tablet.get(URL))

"""The Results page: the sums of the drops that count, then slower or faster."""

from __future__ import annotations

import re
import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from classroom.models import Team
from design_challenges.models import ClassChallenge, Note
from design_challenges.services import saving
from design_challenges.services.progress import is_done
from design_challenges.steps import Step
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def challenge() -> ClassChallenge:
    return builders.make_challenge(builders.make_class(teams=2))


@pytest.fixture
def team(challenge: ClassChallenge) -> Team:
    return challenge.classroom.teams.first()


def open_round(challenge: ClassChallenge, number: int) -> None:
    for step in Step:
        challenge.gates.get_or_create(round=number, step=step, open=True)


def dropped(
    challenge: ClassChallenge, team: Team, number: int = 1, *, hundredths: Any = (412, 398, 405)
) -> Client:
    """Take a team to the point where its drops are in and rounded."""
    open_round(challenge, number)
    builders.plan_round(challenge, team, number)
    builders.clear_round(challenge, team, number)
    builders.build_round(challenge, team, number)
    builders.drop_round(challenge, team, number, hundredths=hundredths)
    record = builders.record_of(challenge, team, number)
    if record.sums_by_children:
        for step in record.rounding_steps.values():
            builders.answer_right(challenge, team, number, step)
    return builders.team_client(team)


def url(number: int = 1) -> str:
    return f"/team/{number}/results/"


def send(tablet: Client, number: int = 1, **fields: Any) -> Any:
    fields.setdefault("entry_id", str(uuid.uuid4()))
    return tablet.post(url(number), fields)


def answer(tablet: Client, challenge: Any, team: Any, slug: str, typed: str, number: int = 1) -> Any:
    record = builders.record_of(challenge, team, number)
    step = next(step for step in record.result_steps if step.slug == slug)
    work = record.working(step)
    return send(tablet, number, sum=slug, answer=typed, basis=record.basis(step), seen=work.row_id)


def text(response: Any) -> str:
    words = re.sub(r"<[^>]+>", " ", response.content.decode())
    return " ".join(words.replace("\N{NO-BREAK SPACE}", " ").split())


def page(tablet: Client, number: int = 1) -> str:
    return text(tablet.get(url(number)))


def asked(tablet: Client, number: int = 1) -> list[str]:
    """The sums that the page asks for at this moment."""
    return re.findall(r'name="sum" value="(\w+)"', tablet.get(url(number)).content.decode())


def test_one_sum_at_a_time_from_the_mean_to_the_speed(challenge: Any, team: Any) -> None:
    tablet = dropped(challenge, team)
    assert asked(tablet) == ["mean"]
    assert "3 drops count" in page(tablet)
    # 4.1, 4.0 and 4.1: 12.2 ÷ 3 = 4.066… → 4.1, then 15 ÷ 4.1 = 3.658… → 3.7
    answer(tablet, challenge, team, "mean", "4.1")
    assert asked(tablet) == ["speed"]
    answer(tablet, challenge, team, "speed", "3.7")
    assert asked(tablet) == []
    words = page(tablet)
    assert "Your results" in words
    assert "3.7 ft/s" in words
    assert "On to Compare" in words
    assert is_done(builders.record_of(challenge, team), Step.RESULTS)


def test_the_numbers_it_is_worked_from_are_on_the_page(challenge: Any, team: Any) -> None:
    words = page(dropped(challenge, team))
    for number in ("4.12", "3.98", "4.05", "4.1", "4.0"):
        assert number in words


def test_not_yet_comes_with_a_next_step_and_the_steps_after_three_tries(challenge: Any, team: Any) -> None:
    tablet = dropped(challenge, team)
    for tries, typed in enumerate(("12.2", "5.5", "9.9"), start=1):
        answer(tablet, challenge, team, "mean", typed)
        words = page(tablet)
        assert "not yet" in words
        assert "wrong" not in words.lower()
        assert ("Show us the steps" in words) is (tries == 3)
    record = builders.record_of(challenge, team)
    step = record.result_steps[0]
    send(tablet, sum="mean", show="yes", basis=record.basis(step))
    assert "4.1 + 4.0 + 4.1" in page(tablet)
    answer(tablet, challenge, team, "mean", "4.1")
    assert asked(tablet) == ["speed"]


@pytest.mark.parametrize("typed", ["", "abc", "-4.1"])
def test_what_cannot_be_read_is_asked_about_and_no_try(challenge: Any, team: Any, typed: str) -> None:
    tablet = dropped(challenge, team)
    response = answer(tablet, challenge, team, "mean", typed)
    assert response.status_code == 422
    assert "error-summary" in response.content.decode()
    record = builders.record_of(challenge, team)
    assert record.working(record.result_steps[0]).tries == 0


def test_the_sum_divides_by_the_drops_that_count(challenge: Any, team: Any) -> None:
    tablet = dropped(challenge, team, hundredths=(412, 398))
    record = builders.record_of(challenge, team)
    builders.enter(challenge, lambda author: saving.save_breakage(record, "no_more", author))
    words = page(tablet)
    assert "2 drops count" in words
    assert "could not be mended" in words
    answer(tablet, challenge, team, "mean", "4.1")  # (4.1 + 4.0) ÷ 2 = 4.05 → 4.1
    record = builders.record_of(challenge, team)
    assert record.accepted["mean"] == Decimal("4.1")


def test_times_left_for_later_are_rounded_first(challenge: Any, team: Any) -> None:
    builders.plan_round(challenge, team)
    builders.clear_round(challenge, team)
    builders.build_round(challenge, team)
    builders.drop_round(challenge, team)
    tablet = builders.team_client(team)
    assert asked(tablet) == ["rounded_1"]


def test_a_median_class_is_asked_for_the_middle_and_given_the_speed(team: Any, challenge: Any) -> None:
    classroom = builders.make_class(teams=1)
    younger = builders.make_challenge(
        classroom, average="median", values={"compare": "time", "area_method": "table"}
    )
    team = classroom.teams.get()
    tablet = dropped(younger, team, hundredths=(412, 398, 444))
    answer(tablet, younger, team, "mean", "4.1")
    assert asked(tablet) == []
    words = page(tablet)
    assert "4.1 s" in words
    assert "Fall speed, worked out for you" in words
    assert "15 ÷ 4.1" in words


def test_software_that_does_the_sums_shows_them_and_asks_nothing() -> None:
    classroom = builders.make_class(teams=1)
    challenge = builders.make_challenge(classroom, sums_by="software")
    team = classroom.teams.get()
    tablet = dropped(challenge, team)
    assert asked(tablet) == []
    words = page(tablet)
    assert "4.1 + 4.0 + 4.1 = 12.2" in words
    assert "3.7 ft/s" in words
    assert "On to Compare" in words


# --- the change ----------------------------------------------------------------------------------


def second_round(challenge: Any, team: Any, *, hundredths: Any = (512, 498, 505)) -> Client:
    builders.play_round(challenge, team)
    return dropped(challenge, team, 2, hundredths=hundredths)


def test_round_2_asks_for_the_change_and_then_slower_or_faster(challenge: Any, team: Any) -> None:
    tablet = second_round(challenge, team)
    answer(tablet, challenge, team, "mean", "5.1", 2)  # 5.1, 5.0, 5.1 → 5.1
    answer(tablet, challenge, team, "speed", "2.9", 2)  # 15 ÷ 5.1 = 2.94
    assert asked(tablet, 2) == ["change"]
    answer(tablet, challenge, team, "change", "0.8", 2)  # 3.7 − 2.9
    words = page(tablet, 2)
    assert "slower" in words
    assert "faster" in words
    assert "On to Compare" not in words
    assert "Beside round 1" not in words
    assert send(tablet, 2, do="direction", direction="slower").status_code == 302
    words = page(tablet, 2)
    assert "0.8 ft/s slower" in words
    assert "On to Compare" in words
    assert Note.objects.get(prompt="direction").text == "slower"


def all_summed(challenge: Any, team: Any, **more: Any) -> Client:
    tablet = second_round(challenge, team, **more)
    record = builders.record_of(challenge, team, 2)
    for step in record.result_steps:
        builders.answer_right(challenge, team, 2, step)
    return tablet


@pytest.mark.parametrize("chosen", ["faster", "same"])
def test_a_direction_that_does_not_fit_is_asked_about_again(challenge: Any, team: Any, chosen: str) -> None:
    tablet = all_summed(challenge, team)
    response = send(tablet, 2, do="direction", direction=chosen)
    assert response.status_code == 422
    words = text(response)
    assert "Look at the two numbers once more" in words
    assert "wrong" not in words.lower()
    assert not Note.objects.filter(prompt="direction").exists()


@pytest.mark.parametrize("chosen", ["", "sideways"])
def test_a_direction_must_be_one_of_the_answers(challenge: Any, team: Any, chosen: str) -> None:
    assert send(all_summed(challenge, team), 2, do="direction", direction=chosen).status_code == 422


def test_a_direction_tapped_by_a_signed_out_tablet_comes_back(challenge: Any, team: Any) -> None:
    tablet = all_summed(challenge, team)
    device = team.devices.get()
    device.revoked_at = device.made_at
    device.save()
    send(tablet, 2, do="direction", direction="slower")
    device.revoked_at = None
    device.save()
    response = tablet.get(url(2))
    assert "We kept what you typed" in text(response)
    assert response.context["direction_form"]["direction"].value() == "slower"


def test_a_round_in_other_units_is_not_subtracted(challenge: Any, team: Any) -> None:
    builders.play_round(challenge, team)
    challenge.settings_versions.create(version=2, unit_system="metric", drawing_required=False)
    tablet = dropped(challenge, team, 2)
    answer(tablet, challenge, team, "mean", "4.1", 2)
    answer(tablet, challenge, team, "speed", "1.10", 2)  # 4.5 ÷ 4.1 = 1.097…
    words = page(tablet, 2)
    assert "Your results" in words
    assert "1.10 m/s" in words
    assert "Beside round 1" not in words


def test_no_change_at_all_is_the_same(challenge: Any, team: Any) -> None:
    tablet = all_summed(challenge, team, hundredths=(412, 398, 405))
    send(tablet, 2, do="direction", direction="same")
    assert "the same" in page(tablet, 2)


def test_a_direction_goes_stale_when_the_figures_change(challenge: Any, team: Any) -> None:
    tablet = all_summed(challenge, team)
    send(tablet, 2, do="direction", direction="slower")
    drops = list(builders.record_of(challenge, team, 2).iteration.drops.all())
    for drop in drops:
        builders.enter(
            challenge, lambda author, drop=drop: saving.correct_reading(drop, 200, "misread", author)
        )
    record = builders.record_of(challenge, team, 2)
    for step in [*record.rounding_steps.values(), *record.result_steps]:
        builders.answer_right(challenge, team, 2, step)
    assert "which is true" in page(tablet, 2)
    assert send(tablet, 2, do="direction", direction="slower").status_code == 422
    send(tablet, 2, do="direction", direction="faster")
    assert "faster" in page(tablet, 2)


def test_where_times_are_compared_the_words_are_longer_and_shorter() -> None:
    classroom = builders.make_class(teams=1)
    challenge = builders.make_challenge(classroom, values={"compare": "time"})
    team = classroom.teams.get()
    tablet = all_summed(challenge, team)
    words = page(tablet, 2)
    assert "longer" in words
    assert "shorter" in words
    send(tablet, 2, do="direction", direction="slower")
    assert "1.0 s longer" in page(tablet, 2)


def test_results_wait_for_all_drops(challenge: Any, team: Any) -> None:
    tablet = dropped(challenge, team, hundredths=(412, 398))
    assert asked(tablet) == []
    assert "drops count" not in page(tablet)


@pytest.mark.parametrize("teams", [8, 40])
def test_it_takes_no_more_than_12_queries(teams: int, django_assert_max_num_queries: Any) -> None:
    challenge = builders.make_challenge(builders.make_class(teams=teams))
    team = challenge.classroom.teams.first()
    tablet = second_round(challenge, team)
    with django_assert_max_num_queries(12):
        assert "3 drops count" in page(tablet, 2)
    for step in builders.record_of(challenge, team, 2).result_steps:
        builders.answer_right(challenge, team, 2, step)
    with django_assert_max_num_queries(12):
        assert "which is true" in page(tablet, 2)

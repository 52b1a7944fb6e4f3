"""A round's record is made once of the same rows; a row, a setting or the round before makes it afresh."""

from __future__ import annotations

import pytest

from classroom.models import Team
from design_challenges.kinds.base import SettingsValues
from design_challenges.models import (
    ChallengeSettings,
    ClassChallenge,
    DesignIteration,
    Judgement,
    Measurement,
)
from design_challenges.services import saving
from design_challenges.services.kept import Kept
from design_challenges.services.records import load_class, settings_values
from tests.builders import enter, make_challenge, make_class, play_round, record_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def challenge() -> ClassChallenge:
    return make_challenge(make_class(teams=2))


@pytest.fixture
def team(challenge: ClassChallenge) -> Team:
    found = challenge.classroom.teams.order_by("place")[0]
    play_round(challenge, found, 1)
    return found


def test_what_was_worked_out_of_a_round_is_there_when_it_is_read_again(
    challenge: ClassChallenge, team: Team
) -> None:
    first = record_of(challenge, team)
    figures = first.results
    again = record_of(challenge, team)
    assert again is not first
    assert again.results is figures
    # The class reads the same rounds as the team's own page does.
    assert load_class(challenge).team(team.pk).rounds[1].results is figures


def test_a_new_row_makes_the_rounds_record_afresh_and_no_others(
    challenge: ClassChallenge, team: Team
) -> None:
    other = challenge.classroom.teams.order_by("place")[1]
    play_round(challenge, other, 1)
    before, kept = record_of(challenge, team).results, record_of(challenge, other).results
    assert before is not None
    drop = record_of(challenge, team).trials[1]
    enter(
        challenge,
        lambda author: saving.judge_drop(saving.find_drop(drop.row_id), False, "teacher", author),
    )
    after = record_of(challenge, team)
    assert [drop.trial for drop in after.counting] == [2, 3]
    assert after.results != before
    assert record_of(challenge, other).results is kept


def test_a_row_that_is_changed_past_every_rule_is_seen_too(challenge: ClassChallenge, team: Team) -> None:
    """Erasing a child takes its name out of rows that are never changed otherwise."""
    assert record_of(challenge, team).plan["canopy_radius"].typed == "7"
    rows = Measurement._base_manager.filter(iteration__team=team, stage="planned", quantity="canopy_radius")
    rows.update(typed="erased")
    assert record_of(challenge, team).plan["canopy_radius"].typed == "erased"
    Judgement._base_manager.all().delete()
    rows.delete()
    assert "canopy_radius" not in record_of(challenge, team).plan


def test_other_settings_make_it_afresh(challenge: ClassChallenge, team: Team) -> None:
    record = record_of(challenge, team)
    newer = ChallengeSettings.objects.create(
        class_challenge=challenge, version=2, unit_system="us", values={"places_speed": "2"}
    )
    DesignIteration.objects.filter(team=team).update(settings=newer)
    again = record_of(challenge, team)
    assert record.results is not None
    assert again.results is not None
    assert (record.results.fall_speed.as_tuple().exponent, again.results.fall_speed.as_tuple().exponent) == (
        -1,
        -2,
    )


def test_the_second_round_follows_the_first_one(challenge: ClassChallenge, team: Team) -> None:
    play_round(challenge, team, 2, radius="7 1/2", line="12", across=("15", "15"), hundredths=(455, 449, 461))
    second = load_class(challenge).team(team.pk).rounds[2]
    assert second.before_figure is not None
    drop = second.before and second.before.trials[1]
    assert drop is not None
    enter(
        challenge,
        lambda author: saving.correct_reading(saving.find_drop(drop.row_id), 999, "misread", author),
    )
    again = load_class(challenge).team(team.pk).rounds[2]
    assert again.before_figure is not None
    assert again.before_figure < second.before_figure


def test_what_one_reader_hangs_on_a_record_is_not_on_the_next_ones(
    challenge: ClassChallenge, team: Team
) -> None:
    first = record_of(challenge, team)
    first.iteration.job_turn = 77
    assert record_of(challenge, team).iteration.job_turn != 77


def test_no_more_is_kept_than_was_allowed_for() -> None:
    kept = Kept[str](most=2)
    for number in (1, 2):
        kept.keep(number, ("rows", number), f"record {number}")
    assert kept.find(1, ("rows", 1)) == "record 1"
    kept.keep(3, ("rows", 3), "record 3")
    # The one asked for longest ago has gone.
    assert [kept.find(number, ("rows", number)) for number in (1, 2, 3)] == ["record 1", None, "record 3"]
    assert kept.find(1, ("other rows", 1)) is None


def test_settings_are_read_once_for_the_same_version_and_declare_the_same_sums(
    challenge: ClassChallenge,
) -> None:
    klass = load_class(challenge)
    values = settings_values(klass.settings, klass.kind)
    assert isinstance(values, SettingsValues)
    assert settings_values(ChallengeSettings.objects.get(), klass.kind) is values
    assert klass.kind.plan_steps(values) is klass.kind.plan_steps(values)
    assert klass.kind.rounding_step(values, 1) is not klass.kind.rounding_step(values, 2)
    # From plain values, as a form has them before it is saved, everything is declared afresh.
    assert klass.kind.plan_steps(dict(values)) is not klass.kind.plan_steps(dict(values))
    newer = ChallengeSettings(unit_system="us", values={**klass.settings.values, "places_time": "2"})
    assert settings_values(newer, klass.kind)["places_time"] == 2

"""Round 1 beside round 2 in words: better by the figure's own direction, honest about what is missing."""

from __future__ import annotations

from decimal import Decimal

import pytest

from design_challenges.models import ChallengeSettings
from design_challenges.services import change_words
from design_challenges.services.records import load_class
from tests import builders

pytestmark = pytest.mark.django_db

# 15 ft in 3.66 s is 4.1 ft/s; in 4.2 s it is 3.6 ft/s; in 3 s 5.0 ft/s.
AT_4_1, AT_3_6, AT_5_0 = (366, 366, 366), (420, 420, 420), (300, 300, 300)


def play(challenge, team, first=None, second=None):
    if first:
        builders.play_round(challenge, team, 1, hundredths=first)
    if second:
        builders.play_round(challenge, team, 2, hundredths=second, line="12")


def words_of(challenge, order="team"):
    return [team.words for team in change_words.class_change(load_class(challenge), order).teams]


def test_slower_is_better_for_a_fall_speed():
    classroom = builders.make_class(teams=2)
    challenge = builders.make_challenge(classroom)
    gannet, heron = classroom.teams.all()
    play(challenge, gannet, AT_4_1, AT_3_6)
    play(challenge, heron, AT_3_6, AT_4_1)
    assert words_of(challenge) == [
        "Gannet: 4.1 → 3.6 ft/s, 0.5 slower: better",
        "Heron: 3.6 → 4.1 ft/s, 0.5 faster: not as good",
    ]


def test_longer_is_better_where_the_time_is_compared():
    classroom = builders.make_class(teams=1)
    challenge = builders.make_challenge(classroom, values={"compare": "time"}, average="median")
    play(challenge, classroom.teams.get(), (366, 371, 380), (420, 425, 431))
    assert words_of(challenge) == ["Gannet: 3.7 → 4.3 s, 0.6 longer: better"]


def test_an_equal_figure_is_no_change():
    classroom = builders.make_class(teams=1)
    challenge = builders.make_challenge(classroom)
    play(challenge, classroom.teams.get(), AT_4_1, AT_4_1)
    (change,) = change_words.class_change(load_class(challenge)).teams
    assert change.words == "Gannet: 4.1 → 4.1 ft/s, no change"
    assert (change.change, change.verdict) == (Decimal("0.0"), "same")


def test_a_round_that_is_missing_is_said_and_not_guessed():
    classroom = builders.make_class(teams=2)
    challenge = builders.make_challenge(classroom)
    play(challenge, classroom.teams.first(), AT_4_1)
    changes = change_words.class_change(load_class(challenge))
    assert [team.words for team in changes.teams] == [
        "Gannet: 4.1 ft/s in round 1, round 2 still to come",
        "Heron: no figure yet",
    ]
    assert changes.sentence == "No team has a figure of both rounds yet."
    assert (changes.first_median, changes.second_median) == (Decimal("4.1"), None)


def test_no_teams_and_no_figures_say_so():
    classroom = builders.make_class(teams=0)
    changes = change_words.class_change(load_class(builders.make_challenge(classroom)))
    assert changes.teams == ()
    assert not changes.any_figure
    assert changes.sentence == "No team has a figure yet."


def test_the_medians_are_of_the_class_figures_and_say_of_how_many():
    classroom = builders.make_class(teams=3)
    challenge = builders.make_challenge(classroom)
    gannet, heron, plover = classroom.teams.all()
    play(challenge, gannet, AT_4_1, AT_3_6)
    play(challenge, heron, AT_5_0)
    play(challenge, plover, AT_3_6)
    changes = change_words.class_change(load_class(challenge))
    assert (changes.first_median, changes.first_count) == (Decimal("4.1"), 3)
    assert (changes.second_median, changes.second_count) == (Decimal("3.6"), 1)
    chart = change_words.pair_chart(changes)
    assert chart.first_median_said == "median of round 1: 4.1 (3 teams)"
    assert chart.second_median_said == "median of round 2: 3.6 (1 team)"


@pytest.mark.parametrize(
    ("order", "names"),
    [
        ("change", ["Heron", "Gannet", "Plover", "Skua"]),
        ("first", ["Gannet", "Plover", "Heron", "Skua"]),
        ("team", ["Gannet", "Heron", "Plover", "Skua"]),
    ],
)
def test_the_order_is_the_one_asked_for_and_missing_figures_come_last(order, names):
    classroom = builders.make_class(teams=4)
    challenge = builders.make_challenge(classroom)
    gannet, heron, plover, _skua = classroom.teams.all()
    play(challenge, gannet, AT_3_6, AT_4_1)
    play(challenge, heron, AT_5_0, AT_3_6)
    play(challenge, plover, AT_4_1)
    changes = change_words.class_change(load_class(challenge), order)
    assert [team.team for team in changes.teams] == names


def test_the_sentence_counts_and_claims_no_more():
    classroom = builders.make_class(teams=3)
    challenge = builders.make_challenge(classroom)
    gannet, heron, plover = classroom.teams.all()
    play(challenge, gannet, AT_4_1, AT_3_6)
    play(challenge, heron, AT_3_6, AT_4_1)
    play(challenge, plover, AT_4_1, AT_4_1)
    assert change_words.class_change(load_class(challenge)).sentence == (
        "3 teams have both rounds: 1 better, 1 not as good, 1 the same. "
        "With a few drops each, a small change can be chance."
    )


def test_rounds_in_different_units_are_not_compared():
    classroom = builders.make_class(teams=1)
    challenge = builders.make_challenge(classroom)
    team = classroom.teams.get()
    play(challenge, team, AT_4_1)
    ChallengeSettings.objects.create(
        class_challenge=challenge, version=2, unit_system="metric", drawing_required=False
    )
    builders.play_round(
        challenge,
        team,
        2,
        radius="17",
        line="30",
        across=("34", "34"),
        lines=("30", "30", "30", "30"),
        hundredths=AT_3_6,
    )
    (change,) = change_words.class_change(load_class(challenge)).teams
    assert change.first is None
    assert change.change is None
    assert change.words == "Gannet: 1.07 m/s in round 2, no figure of round 1"


def test_the_exact_figure_stands_beside_a_class_figure_that_is_off_by_more_than_its_last_place():
    classroom = builders.make_class(teams=2)
    challenge = builders.make_challenge(classroom, values={"places_time": "0"})
    gannet, heron = classroom.teams.all()
    play(challenge, gannet, (245, 245, 245))
    play(challenge, heron, (300, 300, 300))
    first, second = (team.rounds[1] for team in load_class(challenge).teams)
    # 15 ft in 2 s (2.45 rounded to whole seconds) is 7.5 ft/s; in 2.45 s it is 6.12 ft/s.
    assert first.figure == Decimal("7.5")
    assert change_words.exact_beside(first) == "6.12"
    assert change_words.exact_beside(second) == ""
    assert change_words.exact_beside(None) == ""

"""The dashboard's words about each team and its counts of each step."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from classroom.models import Device
from design_challenges.models import Drop, HelpCall
from design_challenges.services import dashboard, saving, switches
from design_challenges.services.records import load_class
from design_challenges.steps import Step
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def classroom():
    return builders.make_class(teams=2)


@pytest.fixture
def challenge(classroom):
    return builders.make_challenge(classroom)


@pytest.fixture
def gannet(classroom):
    return classroom.teams.first()


def board_of(challenge: Any) -> dashboard.Dashboard:
    challenge.refresh_from_db()
    return dashboard.build_dashboard(load_class(challenge), timezone.now())


def card_of(challenge: Any) -> dashboard.TeamCard:
    return board_of(challenge).cards[0]


def counts(challenge: Any, number: int = 1) -> list[int]:
    (found,) = [counts for counts in board_of(challenge).rounds if counts.number == number]
    return [step.done for step in found.steps]


def test_a_team_that_has_not_begun_says_so(challenge):
    card = card_of(challenge)
    assert (card.number, card.step, card.ready, card.seen) == (0, None, "", "no tablet")
    assert counts(challenge) == [0, 0, 0, 0, 0, 0]


def test_a_begun_round_says_what_is_missing(challenge, gannet):
    saving.start_round(challenge, gannet, 1)
    assert card_of(challenge).ready == "Nothing planned yet"
    iteration = saving.start_round(challenge, gannet, 1)
    builders.enter(challenge, lambda author: saving.save_note(iteration, "purpose", "It must fall.", author))
    card = card_of(challenge)
    assert card.ready.startswith("Missing: two ideas, the choice and why, canopy area, material used")
    assert card.step is Step.PLAN


def test_over_the_limit_says_by_how_much(challenge, gannet):
    builders.plan_round(challenge, gannet, radius="10", line="20")
    assert card_of(challenge).ready == "Missing: 179 points too many (554 of 375)"


def test_cleared_says_on_which_figure(challenge, gannet):
    builders.plan_round(challenge, gannet)
    assert card_of(challenge).ready == "All ready, not cleared yet"
    builders.clear_round(challenge, gannet)
    assert card_of(challenge).ready == "Cleared: 310 of 375 points"
    assert card_of(challenge).step is Step.BUILD


def test_cleared_by_hand_says_why(challenge, gannet):
    builders.plan_round(challenge, gannet)
    record = builders.record_of(challenge, gannet)
    builders.enter(
        challenge,
        lambda author: saving.clear_team(
            record, "teacher", author, figure=None, figure_from="", reason="Sum seen on paper"
        ),
    )
    assert card_of(challenge).ready == "Cleared by hand: Sum seen on paper"


def test_drops_are_counted_with_those_that_do_not_count(challenge, gannet):
    iteration = builders.plan_round(challenge, gannet)
    builders.clear_round(challenge, gannet)
    builders.build_round(challenge, gannet)
    builders.drop_round(challenge, gannet, hundredths=(412, 398))
    builders.enter(challenge, lambda author: saving.void_drop(iteration, 3, "hit", author))
    card = card_of(challenge)
    assert card.drops == ("logged", "logged", "void", "")
    assert card.drops_said == "2 of 3 drops, 1 not counting"


def test_a_drop_that_did_not_open_is_said(challenge, gannet):
    builders.play_round(challenge, gannet)
    drop = Drop.objects.get(trial=1)
    builders.enter(challenge, lambda author: saving.judge_drop(drop, True, "tangled", author))
    assert card_of(challenge).drops_said == "3 of 3 drops, 1 did not open"


def test_two_tries_are_stuck_and_one_is_not(challenge, gannet):
    builders.plan_round(challenge, gannet)
    builders.clear_round(challenge, gannet)
    builders.build_round(challenge, gannet)
    builders.drop_round(challenge, gannet)
    record = builders.record_of(challenge, gannet)
    step = record.result_steps[0]

    def miss(typed: str) -> None:
        builders.enter(
            challenge,
            lambda author: saving.save_working(
                record.iteration, step.slug, record.basis(step), typed, "not_yet", author
            ),
        )

    miss("12.2")
    assert card_of(challenge).stuck == ()
    miss("4.0")
    assert card_of(challenge).stuck == ("Stuck at mean fall time: 2 tries, last “4.0”",)
    assert card_of(challenge).sums == "2 of 7 sums right"
    builders.work_results(challenge, gannet)
    assert (card_of(challenge).stuck, card_of(challenge).sums) == ((), "7 sums right")


def test_a_call_for_help_says_for_how_long_and_the_longest_is_first(challenge, classroom):
    gannet, heron = classroom.teams.all()
    now = timezone.now()
    for team, minutes in ((gannet, 1), (heron, 4)):
        call = HelpCall.objects.create(class_challenge=challenge, team=team)
        HelpCall.objects.filter(pk=call.pk).update(asked_at=now - timedelta(minutes=minutes, seconds=10))
    board = board_of(challenge)
    assert [(card.team.team.name, card.help_said) for card in board.helping] == [
        ("Heron", "for 4 minutes"),
        ("Gannet", "for 1 minute"),
    ]


@pytest.mark.parametrize(
    ("ago", "said"),
    [
        (timedelta(seconds=40), "seen just now"),
        (timedelta(minutes=3, seconds=5), "seen 3 min ago"),
        (timedelta(hours=2), "seen 2 hours ago"),
        (timedelta(days=2), "not seen today"),
    ],
)
def test_last_seen_is_the_tablets_own(challenge, gannet, ago, said):
    builders.team_client(gannet)
    Device.objects.update(last_seen_at=timezone.now() - ago)
    assert card_of(challenge).seen == said


def test_every_step_counts_the_teams_that_are_in(challenge, classroom):
    gannet, heron = classroom.teams.all()
    builders.play_round(challenge, gannet)
    assert counts(challenge) == [1, 1, 1, 1, 1, 1]
    builders.plan_round(challenge, heron)
    builders.clear_round(challenge, heron)
    assert counts(challenge) == [2, 2, 1, 1, 1, 1]
    here = [step.here for step in board_of(challenge).rounds[0].steps]
    assert here == [0, 0, 1, 0, 0, 0]


def test_the_rounds_shown_are_those_that_teams_are_in_or_may_begin(challenge, classroom):
    gannet, heron = classroom.teams.all()
    builders.play_round(challenge, gannet)
    board = board_of(challenge)
    assert ([counts.number for counts in board.rounds], board.next_round) == ([1], 2)
    switches.set_gates(challenge, 2, list(Step), True)
    board = board_of(challenge)
    assert ([counts.number for counts in board.rounds], board.next_round) == ([1, 2], None)
    for team in (gannet, heron):
        builders.plan_round(challenge, team, 2 if team == gannet else 1, line="12")
    builders.plan_round(challenge, heron, 2, line="11")
    assert [counts.number for counts in board_of(challenge).rounds] == [2]


def test_a_closed_step_makes_the_team_wait(challenge, gannet):
    builders.plan_round(challenge, gannet)
    builders.clear_round(challenge, gannet)
    switches.set_gates(challenge, 1, [Step.BUILD], False)
    card = card_of(challenge)
    assert (card.step, card.waits) == (Step.BUILD, True)
    switches.set_gates(challenge, 1, [Step.BUILD], True, team=gannet)
    assert not card_of(challenge).waits


def test_a_team_that_gets_what_the_class_has_follows_the_class_again(challenge, gannet):
    switches.set_gates(challenge, 1, [Step.TEST], False, team=gannet)
    assert [step.exceptions for step in board_of(challenge).rounds[0].steps] == [0, 0, 0, 1, 0, 0]
    switches.set_gates(challenge, 1, [Step.TEST], True, team=gannet)
    assert [step.exceptions for step in board_of(challenge).rounds[0].steps] == [0, 0, 0, 0, 0, 0]


def test_a_second_time_from_another_tablet_waits_to_be_settled(challenge, gannet):
    iteration = builders.plan_round(challenge, gannet)
    builders.clear_round(challenge, gannet)
    builders.build_round(challenge, gannet)
    for time in (412, 421):
        builders.enter(challenge, lambda author, t=time: saving.save_reading(iteration, 1, t, author, seen=0))
    assert card_of(challenge).aside == 1


def test_what_changed_is_said_for_a_screen_reader(challenge, gannet):
    HelpCall.objects.create(class_challenge=challenge, team=gannet)
    assert dashboard.latest_event(board_of(challenge).cards) == "Gannet asks for help"


def test_a_class_without_teams_has_a_dashboard():
    challenge = builders.make_challenge(builders.make_class(teams=0))
    board = board_of(challenge)
    assert board.cards == ()
    assert [step.total for step in board.rounds[0].steps] == [0] * 6

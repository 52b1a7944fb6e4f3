"""The rules that suggest a level: what each goes by, and what none of them goes by."""

from __future__ import annotations

from decimal import Decimal

import pytest

from classroom.models import Classroom, Team
from design_challenges.models import ClassChallenge
from design_challenges.services import saving
from design_challenges.services.marking.gathered import team_pieces
from design_challenges.services.marking.page import team_rounds
from design_challenges.services.marking.rules import RULES, suggest
from design_challenges.services.marking.usual import usual_rubric
from design_challenges.services.records import load_team
from tests.builders import (
    answer_right,
    build_round,
    clear_round,
    drop_round,
    enter,
    make_challenge,
    make_class,
    plan_round,
    play_round,
    record_of,
)
from tests.support.marked_classes import WORDS, play_well, write


@pytest.fixture
def classroom(db: None) -> Classroom:
    return make_class(1)


@pytest.fixture
def challenge(classroom: Classroom) -> ClassChallenge:
    return make_challenge(classroom)


@pytest.fixture
def team(classroom: Classroom) -> Team:
    return classroom.teams.get()


def suggested(challenge: ClassChallenge, team: Team, evidence: str) -> int | None:
    return suggest(evidence, team_rounds(load_team(challenge, team).teams[0]))


def all_suggested(challenge: ClassChallenge, team: Team) -> dict[str, int | None]:
    return {slug: suggested(challenge, team, slug) for slug in RULES}


def test_nothing_is_suggested_before_a_round_begins(challenge, team) -> None:
    assert set(all_suggested(challenge, team).values()) == {None}


def test_a_team_that_leaves_nothing_out_is_suggested_the_highest_level_everywhere(challenge, team) -> None:
    play_well(challenge, team)
    assert all_suggested(challenge, team) == dict.fromkeys(RULES, 4)


@pytest.mark.parametrize(
    ("text", "level"),
    [
        ("It must come down slowly.", 2),
        ("It must fall slowly and stay under the limit.", 3),
        ("It must take 4 seconds.", 3),
        ("Fall slowly, at most 375 points.", 4),
    ],
)
def test_limits_in_own_words(challenge, team, text, level) -> None:
    iteration = saving.start_round(challenge, team, 1)
    assert suggested(challenge, team, "limits") == 1
    write(challenge, iteration, {"purpose": text})
    assert suggested(challenge, team, "limits") == level


def test_two_ideas_compared_and_chosen_for_a_reason(challenge, team) -> None:
    saving.start_round(challenge, team, 1)
    assert suggested(challenge, team, "ideas") == 1
    iteration = plan_round(challenge, team)
    assert suggested(challenge, team, "ideas") == 2
    write(challenge, iteration, {"meets_limit": "both", "why": ""})
    assert suggested(challenge, team, "ideas") == 3
    write(challenge, iteration, WORDS)
    assert suggested(challenge, team, "ideas") == 4


def test_a_fair_test_changes_one_thing_or_says_why_two_had_to_change(challenge, team) -> None:
    iteration = plan_round(challenge, team)
    assert suggested(challenge, team, "fair_test") == 1
    drop_round(challenge, team)
    assert suggested(challenge, team, "fair_test") == 2
    play_round(challenge, team, 2, radius="8", line="12")
    second = record_of(challenge, team, 2).iteration
    assert suggested(challenge, team, "fair_test") == 4
    write(challenge, second, {"change_two": ""})
    assert suggested(challenge, team, "fair_test") == 2
    write(challenge, second, {"change_two": "The limit pushed both.", "change_why": ""})
    assert suggested(challenge, team, "fair_test") == 3
    assert iteration.number == 1


def test_measuring_goes_by_every_size_and_the_marks_of_the_tape(challenge, team) -> None:
    plan_round(challenge, team)
    clear_round(challenge, team)
    assert suggested(challenge, team, "measuring") == 1
    build_round(challenge, team, lines=("13", "13"))
    assert suggested(challenge, team, "measuring") == 2
    build_round(challenge, team, lines=("13", "13 1/8", "13", "13"))
    assert suggested(challenge, team, "measuring") == 3
    build_round(challenge, team, lines=("13", "13 1/4", "13", "13"))
    assert suggested(challenge, team, "measuring") == 4


def test_sizes_typed_in_another_unit_are_evidence_and_no_level_is_suggested_for_them(challenge, team) -> None:
    plan_round(challenge, team)
    clear_round(challenge, team)
    build_round(challenge, team, across=("1 ft 2 in", "14"), lines=("13", "13 in", "330,2 mm", "13"))
    record = record_of(challenge, team)
    told = [piece.text for piece in team_pieces("measuring", [record]) if "typed as" in piece.text]
    assert told == [
        "Canopy, straight across: typed as “1 ft 2 in”, taken as 14\N{NO-BREAK SPACE}in",
        "Line 3: typed as “330,2 mm”, taken as 13\N{NO-BREAK SPACE}in",
    ]
    # All are on marks of the tape: the level is that of sizes typed in the class's own unit.
    assert suggested(challenge, team, "measuring") == 4
    measuring = next(draft for draft in usual_rubric(5) if draft.key == "measuring")
    assert RULES["measuring"].left_of(measuring.codes) == ["4.MD.A.1", "5.MD.A.1"]


def test_before_conversion_is_taught_nothing_is_said_of_it() -> None:
    measuring = next(draft for draft in usual_rubric(3) if draft.key == "measuring")
    assert RULES["measuring"].left_of(measuring.codes) == []


def test_sums_go_by_the_final_answer_however_many_tries_and_hints_it_took(challenge, team) -> None:
    plan_round(challenge, team)
    drop_round(challenge, team)
    record = record_of(challenge, team)
    steps = list(record.rounding_steps.values())
    assert suggested(challenge, team, "decimals") == 1

    def slip(author, step) -> None:
        basis = record.basis(step)
        for _ in range(4):
            saving.save_working(
                record.iteration, step.slug, basis, "99", "not_yet", author, value=Decimal(99)
            )
        saving.save_working(record.iteration, step.slug, basis, "", "shown", author)

    enter(challenge, lambda author: slip(author, steps[0]))
    for step in steps:
        answer_right(challenge, team, 1, step)
    assert suggested(challenge, team, "decimals") == 4


def test_a_circle_a_mean_and_a_rate_count_nowhere_among_the_decimals(challenge, team) -> None:
    play_round(challenge, team)
    rounds = team_rounds(load_team(challenge, team).teams[0])
    told = " ".join(piece.text for piece in team_pieces("decimals", rounds))
    assert "Canopy area" not in told
    assert "Mean" not in told
    assert "speed" not in told.lower()
    assert len(team_pieces("area", rounds)) == 1


def test_where_the_software_works_the_sums_no_level_is_suggested_for_them(classroom, team) -> None:
    challenge = make_challenge(classroom, sums_by="software")
    play_round(challenge, team)
    assert suggested(challenge, team, "decimals") is None
    assert suggested(challenge, team, "measuring") == 4


def test_explaining_wants_a_noticing_and_a_reason_that_compare_or_count(challenge, team) -> None:
    iteration = saving.start_round(challenge, team, 1)
    assert suggested(challenge, team, "explaining") == 1
    write(challenge, iteration, {"noticing": "It wobbled."})
    assert suggested(challenge, team, "explaining") == 2
    write(challenge, iteration, {"why": "Air gets out."})
    assert suggested(challenge, team, "explaining") == 3
    write(challenge, iteration, {"noticing": "It took 3 seconds."})
    assert suggested(challenge, team, "explaining") == 4


# Slow and fast, better and worse: what is suggested must not know the difference.
TIMES = [(412, 398, 405), (250, 255, 260), (449, 450, 451), (60, 61, 62)]


def test_no_rule_depends_on_how_slowly_anything_fell_or_on_improvement(db) -> None:
    found = []
    classroom = make_class(len(TIMES) ** 2)
    challenge = make_challenge(classroom)
    pairs = [(first, second) for first in TIMES for second in TIMES]
    for team, (first, second) in zip(classroom.teams.order_by("place"), pairs, strict=True):
        play_round(challenge, team, 1, hundredths=first)
        write(challenge, record_of(challenge, team).iteration, WORDS)
        play_round(challenge, team, 2, radius="7 1/2", across=("15", "15"), hundredths=second)
        found.append(all_suggested(challenge, team))
    figures = {record_of(challenge, team, 2).figure for team in classroom.teams.all()}
    assert len(figures) > 2, "the teams must differ for this to show anything"
    assert all(one == found[0] for one in found)


@pytest.mark.parametrize("grade", [3, 4, 5, 6])
def test_no_usual_criterion_is_about_fall_speed_or_improvement(grade) -> None:
    for draft in usual_rubric(grade):
        if draft.weight:
            words = " ".join(map(str, (draft.title, draft.short, *draft.levels))).lower()
            for word in ("speed", "slower", "faster", "improve", "better", "best", "rank"):
                assert word not in words, draft.key


def test_every_rule_is_one_line_a_teacher_can_read() -> None:
    for rule in RULES.values():
        assert len(str(rule.words)) <= 140, rule.slug
        assert "\n" not in str(rule.words)

"""Hints as children read them: short, easy, in both measuring systems."""

from __future__ import annotations

import re
from typing import Any

import pytest
import textstat

from design_challenges.kinds.soft_landing import sums
from design_challenges.services.working import CLOSE, CLOSE_EXACT, RIGHT, SHOW_HOW, Step

EASY_TOGETHER, EASY_ALONE = 4, 5
"""Flesch-Kincaid grades: of all hints together, and of a single one."""
MOST_WORDS = 20

COMMON: dict[str, Any] = {
    "line_count": 4,
    "places_time": 1,
    "places_area": 0,
    "trials_per_round": 3,
    "sums_asked": "every",
}
SYSTEMS: dict[str, dict[str, Any]] = {
    "inches": {**COMMON, "unit_system": "us", "places_speed": 1},
    "metric": {**COMMON, "unit_system": "metric", "places_speed": 2},
}
CLASSES = [
    {"average": average, "area_method": method, "compare": compare}
    for average in ("mean", "median")
    for method in ("formula", "table", "squares")
    for compare in ("speed", "time")
]


def steps_of(system: str) -> list[Step]:
    found = []
    for own in CLASSES:
        values = {**SYSTEMS[system], **own}
        found += [
            *sums.plan_steps(values),
            sums.rounding_step(1, values),
            *sums.result_steps(values, 2),
            *sums.worked_steps(values),
        ]
    return found


def hints_of(system: str) -> list[str]:
    """Every hint a child may read, each once, in order."""
    found: dict[str, None] = {}
    for step in steps_of(system):
        for words in (step.hints.think, step.hints.set_up, *step.hints.worked):
            found[str(words)] = None
        for slip in step.slips:
            found[str(slip.hint)] = None
    for words in (SHOW_HOW, CLOSE, CLOSE_EXACT, RIGHT):
        found[str(words)] = None
    return list(found)


def ways_of(system: str) -> list[str]:
    """Every way of working that a child may be asked to pick."""
    return sorted({str(slip.how) for step in steps_of(system) for slip in step.slips})


@pytest.mark.parametrize("system", SYSTEMS)
def test_all_hints_together_are_easy_to_read(system: str) -> None:
    hints = hints_of(system)
    grade = textstat.flesch_kincaid_grade(" ".join(hints))
    print(f"\n{system}: {len(hints)} hints, Flesch-Kincaid grade {grade}")
    assert len(hints) > 60
    assert grade <= EASY_TOGETHER


@pytest.mark.parametrize("system", SYSTEMS)
def test_each_hint_is_short_and_easy(system: str) -> None:
    for hint in [*hints_of(system), *ways_of(system)]:
        assert len(re.findall(r"[^\W\d_][\w’-]*|\d+(?:\.\d+)?", hint)) <= MOST_WORDS, hint
        assert textstat.flesch_kincaid_grade(hint) <= EASY_ALONE, hint
        assert "wrong" not in hint.lower()


def test_the_measure_tells_a_hard_sentence_from_an_easy_one() -> None:
    hard = "Approximate the reciprocal proportionality before transcribing intermediate calculations."
    assert textstat.flesch_kincaid_grade(hard) > EASY_ALONE
    assert textstat.flesch_kincaid_grade("Look at the next digit.") <= EASY_TOGETHER


@pytest.mark.parametrize("system", SYSTEMS)
def test_the_ways_of_one_step_can_be_told_apart(system: str) -> None:
    for step in steps_of(system):
        ways = {slip.mistake: str(slip.how) for slip in step.slips}
        assert len(set(ways.values())) == len(ways), step.slug

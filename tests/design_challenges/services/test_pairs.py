"""Two readings of one length: what their difference points to, and what both children are asked."""

from __future__ import annotations

import itertools
from fractions import Fraction

import pytest
import textstat
from hypothesis import given
from hypothesis import strategies as st

from design_challenges.kinds.soft_landing.wording import RADIUS_OR_DIAMETER
from design_challenges.services.pairs import (
    AGREEING,
    FURTHEST_MARKS,
    QUESTIONS,
    Pattern,
    find_pattern,
    first_pair,
    marks_between,
    read_pair,
)
from design_challenges.services.record_types import SizeRecord, TurnRecord
from design_challenges.services.turns import CLOSE_QUESTION
from design_challenges.services.units import CENTIMETRE, INCH, Unit

QUARTER, HALF = Fraction(1, 4), Fraction(1, 2)
CANOPY_IN, LINE_IN = HALF, QUARTER


def pattern(first: str, second: str, *, tolerance: Fraction = LINE_IN, halves: bool = False) -> Pattern:
    return find_pattern(Fraction(first), Fraction(second), INCH, QUARTER, tolerance, halves=halves)


@pytest.mark.parametrize(
    ("first", "second", "points_to"),
    [
        ("13", "13", Pattern.SAME),
        ("13", "13.25", Pattern.CLOSE),
        ("13", "14", Pattern.WHOLE_UNIT),
        ("13.75", "12.75", Pattern.WHOLE_UNIT),
        ("13", "13.5", Pattern.BARE_END),
        ("13", "13.75", Pattern.FRACTION),
        ("13", "33", Pattern.MIXED_UNITS),
        ("34.25", "13.5", Pattern.MIXED_UNITS),
        ("13", "15.5", Pattern.OTHER),
        ("13", "26", Pattern.OTHER),
        ("2", "1", Pattern.WHOLE_UNIT),
    ],
)
def test_the_difference_of_two_line_readings_points_to(first: str, second: str, points_to: Pattern) -> None:
    assert pattern(first, second) is points_to


@pytest.mark.parametrize(
    ("first", "second", "points_to"),
    [
        ("14", "14.5", Pattern.CLOSE),
        ("14", "14.75", Pattern.FRACTION),
        ("14", "15", Pattern.WHOLE_UNIT),
        ("14", "7", Pattern.HALF),
        ("13.75", "7", Pattern.HALF),
        ("14", "35.5", Pattern.MIXED_UNITS),
        ("14", "17", Pattern.OTHER),
    ],
)
def test_the_difference_of_two_canopy_readings_points_to(first: str, second: str, points_to: Pattern) -> None:
    assert pattern(first, second, tolerance=CANOPY_IN, halves=True) is points_to


@pytest.mark.parametrize(
    ("first", "second", "division", "tolerance", "points_to"),
    [
        ("34.5", "35", HALF, HALF, Pattern.CLOSE),
        ("34.5", "35.5", HALF, HALF, Pattern.WHOLE_UNIT),
        ("34.3", "35", Fraction(1, 10), HALF, Pattern.BARE_END),
        ("34.5", "13.5", HALF, HALF, Pattern.MIXED_UNITS),
        ("34.5", "36", HALF, HALF, Pattern.OTHER),
    ],
)
def test_centimetres_have_the_same_patterns(
    first: str, second: str, division: Fraction, tolerance: Fraction, points_to: Pattern
) -> None:
    found = find_pattern(Fraction(first), Fraction(second), CENTIMETRE, division, tolerance, halves=False)
    assert found is points_to


def test_a_length_that_is_not_positive_is_refused() -> None:
    with pytest.raises(ValueError, match="positive"):
        pattern("0", "13")


def marks(unit: Unit) -> st.SearchStrategy[Fraction]:
    division = QUARTER if unit is INCH else HALF
    return st.integers(4, 400).map(lambda count: count * division)


@given(st.sampled_from([INCH, CENTIMETRE]).flatmap(lambda u: st.tuples(st.just(u), marks(u), marks(u))))
def test_every_two_readings_point_to_one_thing_and_the_order_does_not_matter(
    case: tuple[Unit, Fraction, Fraction],
) -> None:
    unit, first, second = case
    division = QUARTER if unit is INCH else HALF
    found = find_pattern(first, second, unit, division, HALF, halves=True)
    assert found is find_pattern(second, first, unit, division, HALF, halves=True)
    assert (found in AGREEING) == (abs(first - second) <= HALF)
    assert found in AGREEING or found is Pattern.HALF or QUESTIONS[found]


@given(marks(INCH), st.sampled_from([1, 2, -1]), st.sampled_from([QUARTER, HALF]))
def test_a_tape_that_began_at_the_1_is_always_told_as_one_unit(
    true: Fraction, units: int, tolerance: Fraction
) -> None:
    other = true + units
    if other <= 0:
        return
    found = find_pattern(true, other, INCH, QUARTER, tolerance, halves=True)
    assert (found is Pattern.WHOLE_UNIT) == (abs(units) == 1)


@given(marks(INCH), st.integers(0, 7))
def test_the_marks_to_choose_from_go_from_one_reading_to_the_other(low: Fraction, apart: int) -> None:
    high = low + apart * QUARTER
    found = marks_between(high, low, QUARTER)
    assert (found[0], found[-1]) == (low, high)
    assert [b - a for a, b in itertools.pairwise(found)] == [QUARTER] * apart


def test_too_many_marks_are_no_choice_and_a_reading_off_the_tape_has_marks_round_it() -> None:
    assert marks_between(Fraction(13), 13 + FURTHEST_MARKS * QUARTER, QUARTER) == []
    assert marks_between(Fraction("13.3"), Fraction("13.3"), QUARTER) == [Fraction("13.25"), Fraction("13.5")]


# --- what stands -----------------------------------------------------------------------------------


def row(turn: int, value: int, row_id: int) -> TurnRecord:
    return TurnRecord(SizeRecord(str(value), Fraction(value), row_id, None), turn, None, "")  # type: ignore[arg-type]


def test_a_pair_waits_for_the_second_then_for_both_then_is_done() -> None:
    rows = [row(1, 13, 1), row(2, 14, 2), row(0, 13, 3)]
    assert read_pair([]).first is None
    assert not read_pair([]).done
    assert read_pair(rows[:1]).waits_for_second
    assert read_pair(rows[:2]).waits_for_both
    assert read_pair(rows).done
    assert read_pair(rows).newest_row == 3


def test_a_new_first_reading_begins_a_new_pair_and_the_agreed_length_stands_meanwhile() -> None:
    rows = [row(1, 13, 1), row(2, 14, 2), row(0, 13, 3), row(1, 12, 4)]
    pair = read_pair(rows)
    assert pair.waits_for_second
    assert not pair.done
    assert pair.agreed is not None
    assert pair.agreed.size.value == 13
    assert not read_pair([row(1, 13, 1), row(2, 14, 2), row(1, 13, 3)]).waits_for_both


def test_a_teachers_choice_ends_the_pair_wherever_it_was() -> None:
    assert read_pair([row(1, 13, 1), row(0, 13, 2)]).done
    assert first_pair([row(1, 13, 1), row(0, 13, 2), row(2, 14, 3)]) is None


def test_the_first_pair_is_the_one_before_anybody_was_asked() -> None:
    found = first_pair([row(1, 13, 1), row(2, 14, 2), row(1, 13, 3), row(2, 13, 4), row(0, 13, 5)])
    assert found is not None
    assert [reading.size.value for reading in found] == [13, 14]


# --- what is asked ---------------------------------------------------------------------------------


def test_every_question_is_short_easy_and_accuses_nobody() -> None:
    questions = [str(words) for words in [*QUESTIONS.values(), RADIUS_OR_DIAMETER, CLOSE_QUESTION]]
    assert set(QUESTIONS) | {Pattern.HALF} | set(AGREEING) == set(Pattern)
    for words in questions:
        assert len(words.split()) <= 20, words
        assert textstat.flesch_kincaid_grade(words) <= 5, (words, textstat.flesch_kincaid_grade(words))
        assert not {"wrong", "mistake", "error", "bad"} & set(words.lower().split()), words
    assert textstat.flesch_kincaid_grade(" ".join(questions)) <= 4

"""The drawn tape: it begins at zero, its marks are the class's, and what it says reads back equal."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from design_challenges.services.lengths import parse_length
from design_challenges.services.tape import EDGE, WIDEST, ZERO_ASIDE, Tape, draw
from design_challenges.services.units import CENTIMETRE, INCH, Unit

DIVISIONS = {
    INCH: [Fraction(1), Fraction(1, 2), Fraction(1, 4), Fraction(1, 8)],
    CENTIMETRE: [Fraction(1), Fraction(1, 2), Fraction(1, 10)],
}


def drawn(value: str, unit: Unit = INCH, division: str = "1/4") -> Tape:
    tape = draw([Fraction(value)], unit, Fraction(division))
    assert tape is not None
    return tape


def mark_places(tape: Tape) -> list[float]:
    return [float(x) for x in re.findall(r"M([\d.]+) \d+v", tape.marks)]


def test_a_short_length_stands_on_a_whole_tape_from_zero() -> None:
    tape = drawn("3.5")
    assert tape.is_whole
    assert [number.text for number in tape.numerals] == [str(number) for number in range(16)]
    marks = mark_places(tape)
    assert marks[0] == EDGE
    assert len(marks) == 15 * 4 + 1
    assert marks.index(tape.places[0].x) == 14


@pytest.mark.parametrize("unit", DIVISIONS)
def test_a_tape_is_there_before_a_length_is_and_grows_and_shrinks_with_none(unit: Unit) -> None:
    for division in DIVISIONS[unit]:
        blank = draw([], unit, division)
        assert blank is not None
        assert blank.places == []
        assert str(blank.sentence).startswith("A tape from 0 with a mark every ")
        for value in ("0.5", "2", "4.5"):
            tape = drawn(value, unit, str(division))
            assert (tape.body, tape.marks, tape.height) == (blank.body, blank.marks, blank.height)


def test_a_long_tape_leaves_its_middle_out_and_still_begins_at_zero() -> None:
    tape = drawn("31.5")
    assert not tape.is_whole
    assert tape.numerals[0].text == "0"
    assert "32" in [number.text for number in tape.numerals]
    assert tape.body.count("z") == 2


@pytest.mark.parametrize(
    ("value", "division", "says"),
    [
        ("13.5", "1/4", "13 1/2 in is 2 marks past the 13."),
        ("13.25", "1/4", "13 1/4 in is 1 mark past the 13."),
        ("13", "1/4", "13 in is at the number 13."),
        ("13.3", "1/4", "13.3 in lies between two marks, past the 13."),
        ("0.75", "1/4", "3/4 in is 3 marks past the 0."),
    ],
)
def test_its_sentence_says_where_the_length_lies(value: str, division: str, says: str) -> None:
    sentence = str(drawn(value, division=division).sentence).replace("\N{NO-BREAK SPACE}", " ")
    assert sentence == f"A tape from 0 with a mark every 1/4 in. {says}"


def test_two_lengths_stand_on_one_tape_with_their_words_on_either_side() -> None:
    tape = draw([Fraction(14), Fraction(13)], INCH, Fraction(1, 4))
    assert tape is not None
    low, high = tape.places
    assert (low.anchor, high.anchor) == ("end", "start")
    assert high.x - low.x == 24
    assert low.label_x < high.label_x


@pytest.mark.parametrize(
    ("values", "division"),
    [
        ([], "2"),
        (["1", "2", "3"], "1/4"),
        (["0"], "1/4"),
        (["2000"], "1/4"),
        (["5"], "2"),
        (["5"], "1/100"),
        (["3", "40"], "1/4"),
    ],
)
def test_what_cannot_be_drawn_is_not(values: list[str], division: str) -> None:
    assert draw([Fraction(value) for value in values], INCH, Fraction(division)) is None


@given(st.data())
def test_every_mark_is_drawn_in_its_place_and_what_is_printed_reads_back(data: st.DataObject) -> None:
    unit = data.draw(st.sampled_from([INCH, CENTIMETRE]))
    division = data.draw(st.sampled_from(DIVISIONS[unit]))
    count = data.draw(st.integers(1, int(200 / division)))
    value = count * division
    tape = draw([value], unit, division)
    assert tape is not None
    place = tape.places[0]
    marks = mark_places(tape)
    assert min(abs(mark - place.x) for mark in marks) < 0.01
    assert marks == sorted(marks)
    assert tape.width <= WIDEST + EDGE
    assert EDGE <= place.x <= tape.width
    assert parse_length(place.text, unit).value == value
    assert tape.numerals[0].x == EDGE + ZERO_ASIDE
    # Numbers stand at their own marks, and the length between the numbers that it lies between.
    for number in tape.numerals[1:]:
        assert number.x <= place.x + 0.01 if int(number.text) <= value else number.x > place.x

"""Reading a stopwatch's time: what is read, what is asked about, and that nothing is guessed."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from design_challenges.kinds import get_kind
from design_challenges.services.numbers import InputError
from design_challenges.services.trials_input import (
    check_rounds_to_something,
    parse_stopwatch,
    question_about,
    seconds_of,
)

KIND = get_kind("soft-landing")


def values(unit_system: str = "us", **stored: str) -> dict[str, object]:
    return {
        "unit_system": unit_system,
        "trials_per_round": 3,
        "sums_by": "children",
        "average": "mean",
        **KIND.read_values(stored, unit_system),
    }


@pytest.mark.parametrize(
    ("typed", "hundredths"),
    [
        ("4.62", 462),
        ("4.6", 460),
        ("4", 400),
        ("1,5", 150),
        ("1.5", 150),
        (" 4.62 ", 462),
        ("4.62 s", 462),
        ("4.62s", 462),
        ("4.62 sec.", 462),
        ("0.01", 1),
        (".5", 50),
        ("59.99", 5999),
        ("61", 6100),
        ("600", 60000),
    ],
)
def test_a_time_is_read_in_hundredths(typed: str, hundredths: int) -> None:
    assert parse_stopwatch(typed) == hundredths


@pytest.mark.parametrize(
    ("typed", "code", "words"),
    [
        ("", "empty", "Type the time"),
        ("   ", "empty", "Type the time"),
        ("s", "empty", "Type the time"),
        ("four", "unreadable", "No letters"),
        ("4.6x", "unreadable", "No letters"),
        ("4,62O", "unreadable", "No letters"),
        ("0", "zero", "That is 0"),
        ("0.00", "zero", "That is 0"),
        ("-4.62", "sign", "no minus"),
        ("−4.62", "sign", "no minus"),
        ("+4.62", "sign", "without plus"),
        ("4.625", "places", "two digits"),
        ("4,625", "places", "two digits"),
        ("4.6.2", "separators", "just one"),
        ("4.", "unfinished", "stops after the point"),
        ("4e2", "exponent", "without an e"),
        ("0:04", "clock", "0.04 seconds, or 4 seconds"),
        ("4:62", "clock", "4.62 seconds"),
        ("1:04", "clock", "1.04 seconds, or 64 seconds"),
        ("1:04.62", "clock", "64.62 seconds"),
        ("0:04.62", "clock", "4.62 seconds"),
        ("00:04:62", "clock", "4.62 seconds"),
        ("601", "too_large", "6.01"),
        ("4620", "too_large", "4.62"),
    ],
)
def test_what_is_no_time_is_asked_about(typed: str, code: str, words: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_stopwatch(typed)
    assert caught.value.code == code
    assert words in str(caught.value.message)


@given(
    st.integers(min_value=1, max_value=60_000), st.sampled_from([".", ","]), st.sampled_from(["", " s", "s"])
)
def test_every_time_a_stopwatch_can_show_reads_back(hundredths: int, point: str, unit: str) -> None:
    typed = f"{seconds_of(hundredths):f}".replace(".", point) + unit
    assert parse_stopwatch(typed) == hundredths


@given(st.text(max_size=60))
def test_whatever_is_typed_is_read_whole_or_answered_in_words(text: str) -> None:
    try:
        hundredths = parse_stopwatch(text)
    except InputError as error:
        said = str(error.message)
        hundredths = 0
    if not hundredths:
        assert said
        return
    assert hundredths <= 60_000
    typed = text.strip().rstrip("secondSECOND. \t\n").replace(",", ".")
    assert Decimal(typed or "0") == seconds_of(hundredths)


@given(st.decimals(min_value=Decimal("0.001"), max_value=600, places=3))
def test_a_third_digit_is_never_rounded_away_in_silence(value: Decimal) -> None:
    if value == value.quantize(Decimal("0.01")):
        value += Decimal("0.001")
    with pytest.raises(InputError):
        parse_stopwatch(f"{value:f}")


def test_a_time_that_the_class_would_round_to_0_is_refused() -> None:
    for places, seconds in (("0", "0.49"), ("1", "0.04")):
        with pytest.raises(InputError, match="round that to 0"):
            check_rounds_to_something(KIND, values(places_time=places), Decimal(seconds))
    check_rounds_to_something(KIND, values(places_time="0"), Decimal("0.50"))
    check_rounds_to_something(KIND, values(places_time="1"), Decimal("0.05"))
    check_rounds_to_something(KIND, values(places_time="2"), Decimal("0.01"))


def test_a_time_under_free_fall_is_asked_about() -> None:
    # √(2 · 4.572 m / 9.80665 m/s²) = 0.9656 s from 15 ft
    assert "about 1.0 s" in str(question_about(KIND, values(), Decimal("0.96")))
    assert question_about(KIND, values(), Decimal("0.97")) == ""
    # √(2 · 4.5 / 9.80665) = 0.9580 s
    assert "did it open" in str(question_about(KIND, values("metric"), Decimal("0.95"))).lower()
    assert question_about(KIND, values("metric"), Decimal("0.96")) == ""


def test_a_time_over_a_minute_is_asked_about() -> None:
    assert question_about(KIND, values(), Decimal("60.00")) == ""
    assert "4.62" in str(question_about(KIND, values(), Decimal(462)))


OTHERS = (Decimal("4.12"), Decimal("3.98"))  # half way between them: 4.05 s


@pytest.mark.parametrize(
    ("typed", "asked"),
    [
        ("4.30", ""),
        ("8.10", ""),
        ("2.03", ""),
        ("8.11", "more than twice your other times. Did it open?"),
        ("2.02", "less than half of your other times. Did it open?"),
        ("41.2", "Your other times are about 4.1 s. Is the point in its place, as in 4.12?"),
        ("0.97", "less than half"),
        ("60.00", "more than twice"),
    ],
)
def test_a_time_unlike_the_teams_others_is_asked_about(typed: str, asked: str) -> None:
    said = str(question_about(KIND, values(), Decimal(typed), OTHERS))
    assert asked in said
    assert bool(said) == bool(asked)

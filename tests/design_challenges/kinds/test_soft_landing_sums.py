"""The soft landing's sums: right by any road, slips told, answers never given away."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from design_challenges.kinds.soft_landing import sums
from design_challenges.kinds.soft_landing.plan_sums import table_area
from design_challenges.services.geometry import PI_CHOICES
from design_challenges.services.rounding import format_figure, round_half_up
from design_challenges.services.working import (
    CLOSE,
    CLOSE_EXACT,
    SHOW_HOW,
    Right,
    Step,
    SumContext,
    check,
    leads_to,
    worked_lines,
)

US: dict[str, Any] = {
    "unit_system": "us",
    "line_count": 4,
    "price_area": Decimal(1),
    "price_line": Decimal(3),
    "limit": Decimal(375),
    "drop_height": Decimal(15),
    "places_time": 1,
    "places_speed": 1,
    "places_area": 0,
    "average": "mean",
    "area_method": "formula",
    "squares_tolerance": Decimal(8),
    "tape_division": "1/4",
    "trials_per_round": 3,
    "compare": "speed",
}
METRIC: dict[str, Any] = {
    **US,
    "unit_system": "metric",
    "price_line": Decimal(8),
    "limit": Decimal(2400),
    "drop_height": Decimal("4.5"),
    "places_speed": 2,
    "tape_division": "1/2",
}
YOUNGER: dict[str, Any] = {**US, "average": "median", "area_method": "table", "compare": "time"}
SQUARES: dict[str, Any] = {**METRIC, "area_method": "squares"}

TEAM = SumContext(
    settings=US,
    sizes={"canopy_radius": Fraction(7), "line_length": Fraction(18)},
    readings=(Decimal("4.62"), Decimal("4.75"), Decimal("4.31")),
    before={"performance": Decimal("3.9")},
    now={"performance": Decimal("3.3")},
)


def every_step(values: dict[str, Any], drops: int = 3) -> list[Step]:
    return [
        *sums.plan_steps(values),
        *(sums.rounding_step(trial, values) for trial in range(1, drops + 1)),
        *sums.result_steps(values, 2),
    ]


def step(slug: str, values: dict[str, Any] = US) -> Step:
    return next(step for step in every_step(values) if step.slug == slug)


def told(slug: str, typed: str, values: dict[str, Any] = US) -> str | None:
    verdict = check(step(slug, values), replace(TEAM, settings=values), typed, 0)
    return "right" if verdict.outcome == "right" else verdict.slip


# --- one team by hand: r = 7, L = 18, 4 lines, 4.62 4.75 4.31 s --------------------------------


@pytest.mark.parametrize(
    ("slug", "typed", "expected"),
    [
        ("area", "154", "right"),
        ("area", "616", "diameter_squared"),
        ("area", "44", "two_pi_r"),
        ("area", "22", "pi_r"),
        ("area", "49", "radius_squared"),
        ("area", "484", "pi_r_all_squared"),
        ("area", "196", "square_round_it"),
        ("area", "153", "cut"),
        ("area", "153.86", "not_rounded"),
        ("area", "153.93", "not_rounded"),
        ("area", "150", "wrong_place"),
        ("area", "145", "digits_swapped"),
        ("material", "370", "right"),
        ("material", "154", "no_lines"),
        ("material", "208", "one_line"),
        ("material", "216", "lines_only"),
        ("material", "226", "lines_unpriced"),
        ("material", "534", "prices_swapped"),
        ("material", "369.94", "area_not_rounded"),
        ("material", "307", "digits_swapped"),
        ("rounded_1", "4.6", "right"),
        ("rounded_1", "4.7", "always_up"),
        ("rounded_1", "46", "point_lost"),
        ("rounded_1", "6.4", "digits_swapped"),
        ("rounded_1", "5", "wrong_place"),
        ("rounded_1", "4.62", "not_rounded"),
        ("rounded_2", "4.8", "right"),
        ("rounded_2", "4.7", "five_down"),
        ("mean", "4.6", "right"),
        ("mean", "13.7", "not_divided"),
        ("mean", "6.85", "wrong_count"),
        ("mean", "6.9", "wrong_count"),
        ("mean", "4.5", None),  # cut, or the first and the last reading alone
        ("mean", "46", "point_lost"),
        ("speed", "3.3", "right"),
        ("speed", "0.3", "upside_down"),
        ("speed", "0.307", "upside_down"),
        ("speed", "69", "multiplied"),
        ("speed", "1.1", "by_the_sum"),
        ("speed", "3.2", None),  # cut, or divided by the first reading
        ("speed", "39.1", "wrong_height_unit"),
        ("speed", "1.0", "wrong_height_unit"),
        ("speed", "3.5", "by_one_reading"),
        ("mean", "6.1", "one_left_out"),
        ("material", "832", "across_for_radius"),
        ("change", "0.6", "right"),
        ("change", "7.2", "added"),
        ("change", "3.9", "one_alone"),
        ("change", "6", "point_lost"),
    ],
)
def test_one_team_worked_by_hand(slug: str, typed: str, expected: str | None) -> None:
    assert told(slug, typed) == expected


@pytest.mark.parametrize(
    ("slug", "typed", "expected"),
    [
        ("area", "154", "right"),
        ("area", "143", "row_beside"),
        ("area", "165", "row_beside"),
        ("area", "616", "row_of_diameter"),
        ("mean", "4.6", "right"),
        ("mean", "4.3", "end_for_middle"),
        ("mean", "46", "point_lost"),
    ],
)
def test_the_younger_class_reads_a_table_and_takes_the_middle_one(
    slug: str, typed: str, expected: str
) -> None:
    assert told(slug, typed, YOUNGER) == expected


def test_the_younger_class_works_no_speed() -> None:
    assert [step.slug for step in sums.result_steps(YOUNGER, 2)] == ["mean", "change"]
    assert str(sums.result_steps(YOUNGER, 2)[-1].unit) == "s"


def test_the_change_is_asked_from_round_two_on() -> None:
    assert [step.slug for step in sums.result_steps(US, 1)] == ["mean", "speed"]


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("154", "right"),
        ("142", "right"),
        ("166", "right"),
        ("141", None),
        ("167", None),
        ("196", "square_round_it"),
        ("39", "quarter_only"),
    ],
)
def test_squares_counted_within_eight_per_cent_are_right(typed: str, expected: str | None) -> None:
    assert told("area", typed, SQUARES) == expected


def test_two_slips_that_fit_name_neither() -> None:
    # 4.5 + 4.9 + 4.6 is 14.0: 4.6 is the middle one, the mean cut, and the mean of 4.5 and 4.6.
    context = replace(TEAM, readings=(Decimal("4.5"), Decimal("4.9"), Decimal("4.6")))
    verdict = check(step("mean"), context, "4.6", 0)
    assert set(verdict.slips) == {"middle_for_mean", "cut", "one_left_out"}
    assert verdict.slip is None
    assert verdict.message == SHOW_HOW
    assert [slug for slug, _how in verdict.picks] == ["middle_for_mean", "one_left_out", "cut"]


def test_what_a_child_picks_is_answered_with_that_slips_hint() -> None:
    context = replace(TEAM, readings=(Decimal("4.5"), Decimal("4.9"), Decimal("4.6")))
    mean = step("mean")
    picked = check(mean, context, "4.6", 0, picked="cut")
    assert (picked.slip, picked.picks) == (None, ())
    cut = mean.slip("cut")
    assert cut is not None
    assert picked.message == cut.hint
    assert check(mean, context, "4.6", 0, picked="otherwise").message == mean.hints.think
    # What does not explain the answer is not believed.
    assert check(mean, context, "4.6", 0, picked="not_divided").message == SHOW_HOW


def test_another_road_to_a_right_answer_is_no_slip() -> None:
    # The middle one is the mean here.
    context = replace(TEAM, readings=(Decimal("4.5"), Decimal("4.8"), Decimal("4.5")))
    assert check(step("mean"), context, "4.6", 0).outcome == "right"


EVERY = {**US, "sums_asked": "every"}


@pytest.mark.parametrize(
    ("slug", "typed", "expected"),
    [
        ("diameter", "14", "right"),
        ("diameter", "14 in", "right"),
        ("diameter", "7", "not_doubled"),
        ("diameter", "3 1/2", "halved"),
        ("diameter", "49", "squared"),
        ("diameter", "44", "around"),
        ("diameter", "43.98", "around"),
        ("total_line", "72", "right"),
        ("total_line", "6 ft", "right"),
        ("total_line", "18", "one_line"),
        ("total_line", "22", "added"),
        ("total_line", "90", "miscounted"),
        ("total_line", "216", "priced_too_soon"),
        ("time_sum", "13.7", "right"),
        ("time_sum", "13.68", "raw_times"),
        ("time_sum", "9.4", "one_left_out"),
        ("time_sum", "4.6", "already_divided"),
        ("time_sum", "12.7", "not_carried"),
        ("time_sum", "137", "point_lost"),
    ],
)
def test_every_step_on_its_own(slug: str, typed: str, expected: str | None) -> None:
    assert told(slug, typed, EVERY) == expected


def test_the_setting_says_which_steps_are_asked() -> None:
    assert [one.slug for one in sums.plan_steps(US)] == ["area", "material"]
    assert [one.slug for one in sums.plan_steps(EVERY)] == ["diameter", "area", "total_line", "material"]
    assert [one.slug for one in sums.result_steps(EVERY, 2)] == ["time_sum", "mean", "speed", "change"]
    middle = {**EVERY, "average": "median"}
    assert [one.slug for one in sums.result_steps(middle, 1)] == ["mean", "speed"]


def test_a_way_across_in_a_fraction_of_an_inch_is_read_as_children_write_it() -> None:
    context = replace(
        TEAM, settings=EVERY, sizes={"canopy_radius": Fraction(27, 4), "line_length": Fraction(9)}
    )
    for typed in ("13.5", "13 1/2", "13 1/2 in", "1 ft 1 1/2 in"):
        verdict = check(step("diameter", EVERY), context, typed, 0)
        assert (verdict.outcome, verdict.value) == ("right", Decimal("13.5"))
    assert check(step("diameter", EVERY), context, "13 1/2 in or so", 0).outcome == "unreadable"


def test_the_sums_go_on_from_the_teams_own_accepted_area() -> None:
    context = replace(
        TEAM,
        sizes={"canopy_radius": Fraction(14), "line_length": Fraction(10)},
        accepted={"area": Decimal(615)},
    )
    assert check(step("material"), context, "735", 0).outcome == "right"
    other = replace(context, accepted={"area": Decimal(616)})
    assert check(step("material"), other, "735", 0).message == CLOSE_EXACT
    assert step("material").basis(context) != step("material").basis(other)


def test_every_sum_divides_by_the_drops_that_count() -> None:
    two = replace(TEAM, readings=(Decimal("4.62"), Decimal("4.75")))
    assert check(step("mean"), two, "4.7", 0).outcome == "right"
    assert check(step("mean"), two, "3.1", 0).slip == "wrong_count"
    one = replace(TEAM, readings=(Decimal("4.62"),))
    assert check(step("mean"), one, "4.6", 0).outcome == "right"


def test_a_time_that_rounds_to_nothing_still_gives_a_speed() -> None:
    values = {**US, "places_time": 0}
    context = replace(TEAM, settings=values, readings=(Decimal("0.31"),))
    assert check(step("mean", values), context, "0", 0).outcome == "right"
    assert step("speed", values).right(context).lowest == Decimal("48.4")


def test_material_with_odd_prices_is_exact_to_the_hundredth() -> None:
    values = {**US, "price_line": Decimal("0.35")}
    context = replace(
        TEAM, settings=values, sizes={"canopy_radius": Fraction(7), "line_length": Fraction("18.125")}
    )
    # 154 + 0.35 × 4 × 18.125 = 179.375: to hundredths 179.38, and the exact number is right too.
    for typed in ("179.38", "179.375"):
        assert check(step("material", values), context, typed, 0).outcome == "right"
    assert check(step("material", values), context, "179.3", 0).outcome == "not_yet"


def test_the_steps_are_shown_with_the_teams_own_numbers() -> None:
    assert worked_lines(step("mean"), TEAM) == [
        "4.6 + 4.8 + 4.3 = 13.7",
        "13.7 ÷ 3 = 4.566…",
        "Rounded: 4.6 s",
    ]
    assert worked_lines(step("speed"), TEAM)[1:] == ["15 ÷ 4.6 = 3.260…", "Rounded: 3.3 ft/s"]
    assert worked_lines(step("material"), TEAM)[-1] == "Together: 154 + 216 = 370 points"


def test_the_steps_end_in_a_right_answer() -> None:
    for values in (US, METRIC, YOUNGER, SQUARES):
        context = replace(TEAM, settings=values)
        for one in every_step(values):
            last = re.findall(r"\d+(?:\.\d+)?", worked_lines(one, context)[-1])[-1]
            assert check(one, context, last, 0).outcome == "right", (one.slug, last)


# --- every team ------------------------------------------------------------------------------

quarters = st.integers(min_value=16, max_value=48).map(lambda n: Fraction(n, 4))
lines = st.integers(min_value=20, max_value=160).map(lambda n: Fraction(n, 4))
places = st.integers(min_value=0, max_value=2)


@st.composite
def teams(draw: st.DrawFn) -> SumContext:
    base = draw(st.sampled_from([US, METRIC, YOUNGER, SQUARES]))
    values = {
        **base,
        "places_time": draw(places),
        "places_speed": draw(places),
        "places_area": draw(places),
        "sums_asked": draw(st.sampled_from(["fewer", "every"])),
        "line_count": draw(st.integers(min_value=2, max_value=8)),
        "price_area": draw(st.sampled_from([Decimal(1), Decimal("0.5"), Decimal(2)])),
        "price_line": draw(st.sampled_from([Decimal(1), Decimal(3), Decimal(8), Decimal("2.5")])),
    }
    middle = draw(st.integers(min_value=230, max_value=520))
    spread = st.integers(min_value=-middle * 15 // 200, max_value=middle * 15 // 200)
    readings = draw(
        st.lists(spread.map(lambda off: Decimal(middle + off).scaleb(-2)), min_size=1, max_size=5)
    )
    context = SumContext(
        settings=values,
        sizes={"canopy_radius": draw(quarters), "line_length": draw(lines)},
        readings=tuple(readings),
    )
    figure = "places_speed" if values["compare"] == "speed" else "places_time"
    speeds = st.decimals(min_value=1, max_value=9, places=values[figure])
    return replace(context, before={"performance": draw(speeds)}, now={"performance": draw(speeds)})


def steps_of(context: SumContext) -> list[Step]:
    return every_step(dict(context.settings), len(context.readings))


def right_answers(one: Step, context: SumContext) -> set[Decimal]:
    right = one.right(context)
    answers = {right.lowest, right.highest}
    if one.slug == "area" and context.settings["area_method"] == "formula":
        radius = context.sizes["canopy_radius"]
        answers |= {round_half_up(pi * radius * radius, right.places or 0) for pi in PI_CHOICES}
    return answers


@settings(max_examples=150)
@given(teams())
def test_a_right_answer_is_always_accepted(context: SumContext) -> None:
    for one in steps_of(context):
        for answer in right_answers(one, context):
            for typed in (f"{answer:f}", f"{answer:f} {one.unit}"):
                verdict = check(one, context, typed, 0)
                assert verdict.outcome == "right", (one.slug, typed)
                assert verdict.value == answer


def as_typed(answer: object, right: Right) -> Decimal | None:
    """What a child with this slip writes down: rounded as asked, or to hundredths where nothing is asked."""
    if isinstance(answer, Right):
        return answer.lowest
    assert isinstance(answer, (Decimal, Fraction, int))
    typed = round_half_up(answer, 2 if right.places is None else right.places)
    return typed if typed > 0 else None


@settings(max_examples=100)
@given(teams())
def test_every_slips_answer_is_told_or_is_shared(context: SumContext) -> None:
    for one in steps_of(context):
        right = one.right(context)
        for slip in one.slips:
            for answer in slip.wrong(context):
                typed = as_typed(answer, right)
                if typed is None:
                    continue
                verdict = check(one, context, f"{typed:f}", 0)
                if right.accepts(typed):
                    assert verdict.outcome == "right"
                elif slip.slug == "not_rounded" and right.places is not None:
                    raise AssertionError("rounding the exact answer is always right")
                else:
                    assert slip.slug in verdict.slips, (one.slug, slip.slug, typed)
                    assert_named_only_alone(one, context, typed, verdict.slip, slip.mistake)


def assert_named_only_alone(
    one: Step, context: SumContext, typed: Decimal, named: str | None, mistake: str
) -> None:
    right = one.right(context)
    others = {
        slip.mistake
        for slip in one.slips
        if any(leads_to(answer, typed, right.places) for answer in slip.wrong(context))
    }
    if named is None:
        assert len(others) > 1, (one.slug, typed, mistake)
    else:
        assert others == {mistake}, (one.slug, typed, mistake)


@settings(max_examples=40)
@given(teams(), st.decimals(min_value=0, max_value=3000, places=2))
def test_no_hint_gives_the_answer_away(context: SumContext, typed: Decimal) -> None:
    for one in steps_of(context):
        right = one.right(context)
        wrong_answers: Sequence[Decimal] = [
            answer
            for slip in one.slips
            for found in slip.wrong(context)
            if (answer := as_typed(found, right)) is not None
        ]
        for answer in [typed, *wrong_answers]:
            for tries in range(3):
                verdict = check(one, context, f"{answer:f}", tries)
                if verdict.outcome == "right":
                    continue
                for hint in (verdict.message, verdict.next_step):
                    numbers = re.findall(r"\d+(?:\.\d+)?", str(hint))
                    assert not any(right.accepts(Decimal(number)) for number in numbers), (one.slug, hint)


def hints_of(values: dict[str, Any]) -> list[str]:
    found = [str(words) for words in (CLOSE, CLOSE_EXACT, SHOW_HOW)]
    for one in every_step(values):
        found += [str(slip.hint) for slip in one.slips]
        found += [str(words) for words in (one.hints.think, one.hints.set_up, *one.hints.worked)]
    return found


@pytest.mark.parametrize("values", [US, METRIC, YOUNGER, SQUARES])
def test_no_hint_is_longer_than_twenty_words(values: dict[str, Any]) -> None:
    for hint in hints_of(values):
        assert len(re.findall(r"[^\W\d_][\w’]*|\d+(?:\.\d+)?", hint)) <= 20, hint
        assert "wrong" not in hint.lower()


@settings(max_examples=100)
@given(teams())
def test_a_basis_fits_its_column_and_steps_can_always_be_shown(context: SumContext) -> None:
    for one in steps_of(context):
        assert len(one.basis(context)) <= 200
        assert all(worked_lines(one, context))


def test_the_table_agrees_with_the_formula_in_whole_squares() -> None:
    for quarter in range(4, 161):
        radius = Fraction(quarter, 4)
        assert format_figure(table_area(radius), 0) == format_figure(PI_CHOICES[2] * radius * radius, 0)

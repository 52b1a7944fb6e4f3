"""The engine that checks sums, on a small sum of its own: area of a table, length times width."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from django.utils.translation import gettext_lazy as _
from hypothesis import given
from hypothesis import strategies as st

from design_challenges.services.common_slips import rounded_answers, rounding_slips, writing_slips
from design_challenges.services.working import (
    CLOSE,
    SHOW_HOW,
    Hints,
    Marking,
    Right,
    Slip,
    Step,
    SumContext,
    check,
    worked_lines,
)


def exact(context: SumContext) -> list[Fraction]:
    return [context.sizes["long"] * context.sizes["wide"]]


TABLE = Step(
    slug="table",
    label=_("Table"),
    ask=_("How big is it?"),
    unit="m²",
    right=lambda context: rounded_answers(exact(context), 1),
    slips=(
        Slip(
            "added",
            lambda context: [context.sizes["long"] + context.sizes["wide"]],
            _("You added."),
            _("long + wide"),
            _("added"),
        ),
        Slip(
            "doubled",
            lambda context: [2 * context.sizes["long"] * context.sizes["wide"]],
            _("Halve it."),
            _("twice"),
            _("doubled"),
        ),
        Slip(
            "round",
            lambda context: [2 * sum(context.sizes.values())],
            _("That is the edge."),
            _("around"),
            _("round"),
            "edge",
        ),
        Slip(
            "round_too",
            lambda context: [2 * sum(context.sizes.values())],
            _("That is the edge."),
            _("around"),
            _("round_too"),
            "edge",
        ),
        *rounding_slips(exact, 1),
        *writing_slips(exact, 1),
    ),
    hints=Hints(_("Think."), _("Set up."), (_("With 2 and 3: 6."), _("With 4 and 5: 20."))),
    worked=lambda context: [f"{exact(context)[0]}"],
    uses=lambda context: context.sizes.values(),
)


def sized(long: str, wide: str) -> SumContext:
    return SumContext(settings={}, sizes={"long": Fraction(long), "wide": Fraction(wide)})


@pytest.mark.parametrize("typed", ["6.8", "6,8", " 6.80 ", "6.8 m²", "6.8m²"])
def test_a_right_answer_is_right_however_it_is_written(typed: str) -> None:
    verdict = check(TABLE, sized("2.5", "2.7"), typed, 0)
    assert (verdict.outcome, verdict.value, verdict.slip) == ("right", Decimal("6.8"), None)


@pytest.mark.parametrize(
    ("typed", "slip"),
    [
        ("5.2", "added"),
        ("13.5", "doubled"),
        ("10.4", "round"),
        ("6.75", "not_rounded"),
        ("6.7", "five_down"),
        ("7", "wrong_place"),
        ("68", "point_lost"),
        ("8.6", "digits_swapped"),
    ],
)
def test_a_slip_that_alone_explains_the_answer_is_named(typed: str, slip: str) -> None:
    verdict = check(TABLE, sized("2.5", "2.7"), typed, 0)
    assert (verdict.outcome, verdict.slip) == ("not_yet", slip)


def test_an_answer_that_two_slips_explain_names_neither_and_asks() -> None:
    # 2 + 6 = 8, and 2.0 × 6.0 = 12 doubled is 24; with 4 and 4 adding gives 8 and cutting cannot.
    verdict = check(TABLE, sized("1", "0.5"), "1", 0)
    assert verdict.slips == ("doubled", "wrong_place")
    assert verdict.slip is None
    assert verdict.message == SHOW_HOW


def test_two_slips_of_one_family_are_one_mistake_and_named() -> None:
    verdict = check(TABLE, sized("2.5", "2.7"), "10.4", 0)
    assert verdict.slips == ("round", "round_too")
    assert verdict.message == "That is the edge."


def test_a_slip_that_gives_the_right_answer_is_never_called_a_slip() -> None:
    assert check(TABLE, sized("2", "2"), "4", 0).outcome == "right"


def test_one_unit_off_in_the_last_place_is_close() -> None:
    assert check(TABLE, sized("2.5", "2.7"), "6.9", 0).message == CLOSE
    assert check(TABLE, sized("2.5", "2.7"), "7.1", 0).message == "Think."


@pytest.mark.parametrize("typed", ["", "six", "-6.8", "6.8.1", "1e3", "NaN", "6.123456789"])
def test_what_cannot_be_read_is_said_and_is_no_try(typed: str) -> None:
    verdict = check(TABLE, sized("2.5", "2.7"), typed, 0)
    assert (verdict.outcome, verdict.value, verdict.offer_steps) == ("unreadable", None, False)
    assert str(verdict.message)


def test_help_comes_in_three_stages_and_then_the_steps_are_offered() -> None:
    tries = [check(TABLE, sized("9", "3.3"), "1000", tries) for tries in range(4)]
    assert [str(verdict.message) for verdict in tries] == ["Think."] * 4
    assert [str(verdict.next_step) for verdict in tries] == [
        "",
        "Set up.",
        "With 2 and 3: 6.",
        "With 2 and 3: 6.",
    ]
    assert [verdict.offer_steps for verdict in tries] == [False, False, True, True]


def test_an_example_that_happens_to_contain_the_answer_is_passed_over() -> None:
    assert check(TABLE, sized("1", "3"), "1000", 2).next_step == "With 4 and 5: 20."


def test_no_example_is_left_when_all_contain_the_answer() -> None:
    step = Step(
        **{
            **{name: getattr(TABLE, name) for name in TABLE.__dataclass_fields__},
            "hints": Hints("Think.", "Set up.", ("With 3.",)),
        }
    )
    assert check(step, sized("1", "3"), "1000", 2).next_step == "Set up."


def test_the_steps_are_worked_with_the_teams_own_numbers() -> None:
    assert worked_lines(TABLE, sized("3", "4")) == ["12"]


def test_the_basis_changes_with_the_numbers_and_only_with_them() -> None:
    assert TABLE.basis(sized("3", "4")) == TABLE.basis(sized("6/2", "4.0"))
    assert TABLE.basis(sized("3", "4")) != TABLE.basis(sized("3", "4.5"))


def test_a_range_of_right_answers_takes_what_lies_between() -> None:
    right = Right(Decimal(615), Decimal(617), 0)
    assert [right.accepts(Decimal(n)) for n in (614, 615, 616, 617, 618)] == [False, True, True, True, False]
    assert not right.accepts(Decimal("615.5"))


def test_an_exact_answer_has_its_own_last_place() -> None:
    right = Right(Decimal("12.5"), Decimal("12.5"), None)
    assert right.is_close(Decimal("12.6"))
    assert not right.is_close(Decimal("12.7"))
    assert Right(Decimal(370), Decimal(370), None).last_place == 1


steps = st.integers(min_value=1, max_value=4000)


@given(steps, steps, st.integers(min_value=0, max_value=3))
def test_cut_five_down_and_always_up_never_overlap(long: int, wide: int, places: int) -> None:
    value = Fraction(long, 7 if wide % 2 else 8) * Fraction(wide, 100)
    context = SumContext(settings={})
    found = {
        slip.slug: list(slip.wrong(context))
        for slip in rounding_slips(lambda _context: [value], places)
        if slip.slug in ("five_down", "cut", "always_up")
    }
    assert sum(1 for answers in found.values() if answers) <= 1
    right = rounded_answers([value], places)
    assert not any(right.accepts(Decimal(answer)) for answers in found.values() for answer in answers)


@given(st.text(max_size=30), st.integers(min_value=0, max_value=5))
def test_nothing_typed_crashes_it(typed: str, tries: int) -> None:
    verdict = check(TABLE, sized("2.5", "2.7"), typed, tries)
    assert verdict.outcome in ("right", "not_yet", "unreadable")


@given(st.decimals(min_value=0, max_value=100, places=2))
def test_a_named_slip_is_the_only_one_that_fits(value: Decimal) -> None:
    context = sized("2.5", "2.7")
    verdict = check(TABLE, context, f"{value:f}", 0)
    if verdict.slip is not None:
        assert len({slip.mistake for slip in Marking.of(TABLE, context).fitting(value)}) == 1

"""How well slips are told apart: every step over many random worked examples, with the figures printed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from random import Random
from typing import Any

import pytest

from design_challenges.kinds.soft_landing import sums
from design_challenges.services.geometry import PI_CHOICES
from design_challenges.services.rounding import round_half_up
from design_challenges.services.working import (
    Marking,
    Right,
    Step,
    SumContext,
    Verdict,
    contains_number,
    mistakes_of,
)

SHORT, LONG = 300, 10_000
"""Worked examples of each step and measuring system: in every run, and with --long (20,000 a step)."""

COMMON: dict[str, Any] = {
    "line_count": 4,
    "price_area": Decimal(1),
    "places_time": 1,
    "places_area": 0,
    "average": "mean",
    "area_method": "formula",
    "squares_tolerance": Decimal(8),
    "trials_per_round": 3,
    "compare": "speed",
    "sums_asked": "every",
}
INCHES: dict[str, Any] = {
    **COMMON,
    "unit_system": "us",
    "price_line": Decimal(3),
    "drop_height": Decimal(15),
    "places_speed": 1,
    "tape_division": "1/4",
}
CENTIMETRES: dict[str, Any] = {
    **COMMON,
    "unit_system": "metric",
    "price_line": Decimal(8),
    "drop_height": Decimal("4.5"),
    "places_speed": 2,
    "tape_division": "1/2",
}
# A step's name here, its slug, and what the class's settings say beside the usual.
STEPS: dict[str, tuple[str, dict[str, Any]]] = {
    "diameter": ("diameter", {}),
    "area by formula": ("area", {}),
    "area from a table": ("area", {"area_method": "table"}),
    "area by squares": ("area", {"area_method": "squares"}),
    "total line": ("total_line", {}),
    "material": ("material", {}),
    "rounding": ("rounded_1", {}),
    "times together": ("time_sum", {}),
    "mean": ("mean", {}),
    "middle one": ("mean", {"average": "median"}),
    "speed": ("speed", {}),
    "change": ("change", {}),
}


def draw_team(random: Random, values: dict[str, Any]) -> SumContext:
    """A realistic team: 8 to 24 in across in quarters (or as much in cm), times of 2 to 6 s within 15 %."""
    inches = values["unit_system"] == "us"
    radius = Fraction(random.randint(32, 96), 8) if inches else Fraction(random.randint(40, 120), 4)
    line = Fraction(random.randint(20, 96), 4) if inches else Fraction(random.randint(26, 120), 2)
    shortest = random.randint(200, 521)
    times = [random.randint(shortest, shortest * 115 // 100) for _drop in range(values["trials_per_round"])]
    figure = values["places_speed"]
    speeds = [round_half_up(Fraction(values["drop_height"]) * 100 / time, figure) for time in times[:2]]
    return SumContext(
        settings=values,
        sizes={"canopy_radius": radius, "line_length": line},
        readings=tuple(Decimal(time).scaleb(-2) for time in times),
        before={"performance": speeds[0]},
        now={"performance": speeds[1]},
    )


def find_step(slug: str, values: dict[str, Any]) -> Step:
    steps = [*sums.plan_steps(values), sums.rounding_step(1, values), *sums.result_steps(values, 2)]
    return next(step for step in steps if step.slug == slug)


def right_answers(step: Step, context: SumContext) -> set[Decimal]:
    right = step.right(context)
    answers = {right.lowest, right.highest}
    if step.slug == "area" and context.settings["area_method"] == "formula":
        radius = context.sizes["canopy_radius"]
        answers |= {round_half_up(pi * radius * radius, right.places or 0) for pi in PI_CHOICES}
    return answers


def as_typed(answer: object, places: int | None) -> Decimal:
    """What a child with this slip writes down: rounded as the class rounds, else to hundredths."""
    if isinstance(answer, Right):
        return answer.lowest
    assert isinstance(answer, (Decimal, Fraction, int))
    return round_half_up(answer, 2 if places is None else places)


def slip_answers(marking: Marking) -> Iterator[tuple[str, str, Decimal]]:
    """Yield (slip, mistake, what is typed) once for each different answer of a slip that is not right."""
    for slip, answers in marking.answers:
        # Who forgot to round types what the calculator shows.
        places = None if slip.slug == "not_rounded" else marking.right.places
        for value in {as_typed(answer, places) for answer in answers}:
            if value > 0 and not marking.right.accepts(value):
                yield slip.slug, slip.mistake, value


class Tally:
    """Counts of one step: each slip's answers, those uniquely told, asked about, and named as another."""

    def __init__(self) -> None:
        self.examples = 0
        self.answers: Counter[str] = Counter()
        self.told: Counter[str] = Counter()
        self.without_families: Counter[str] = Counter()
        self.wrongly: Counter[str] = Counter()

    @property
    def unique(self) -> float:
        return self.told.total() / self.answers.total()

    def lines(self, name: str) -> Iterator[str]:
        yield f"{name}: {self.examples} examples, unique {self.unique:.3f}"
        for slug, count in self.answers.items():
            share, wrongly = self.told[slug] / count, self.wrongly[slug] / count
            yield f"    {slug:20} uniquely told {share:.3f}  named wrongly {wrongly:.3f}  of {count}"


def examine(step: Step, context: SumContext, tally: Tally) -> None:
    """Hold one worked example of a step to every promise, and count what was told."""
    marking = Marking.of(step, context)
    for answer in right_answers(step, context):
        verdict = marking.judge(f"{answer:f}", 0)
        assert (verdict.outcome, verdict.value, verdict.slips) == ("right", answer, ()), (context, answer)
    tally.examples += 1
    for tries, (slug, mistake, typed) in enumerate(slip_answers(marking)):
        verdict = marking.judge(f"{typed:f}", tries % 3)
        assert verdict.outcome == "not_yet"
        assert slug in verdict.slips, (context, slug, typed)
        mistakes = mistakes_of(slip for slip in step.slips if slip.slug in verdict.slips)
        if len(mistakes) == 1:
            assert verdict.slip == mistakes[0].slug
            assert verdict.message == mistakes[0].hint
        else:
            # Provably the same number as another slip's: both lead to it.
            assert verdict.slip is None
            assert [pick for pick, _how in verdict.picks] == [slip.slug for slip in mistakes]
        _count(tally, step, slug, mistake, verdict)
        said = [verdict.message, verdict.next_step, *(how for _slug, how in verdict.picks)]
        assert not any(contains_number(words, marking.right) for words in said), (context, typed, said)


def _count(tally: Tally, step: Step, slug: str, mistake: str, verdict: Verdict) -> None:
    tally.answers[slug] += 1
    if len(verdict.slips) == 1:
        tally.without_families[slug] += 1
    if verdict.slip is None:
        return
    named = step.slip(verdict.slip)
    assert named is not None
    if named.mistake == mistake:
        tally.told[slug] += 1
    else:
        tally.wrongly[slug] += 1


def run(values: dict[str, Any], examples: int, seed: int) -> dict[str, Tally]:
    """Examine so many worked examples of each step of a class with these settings."""
    tallies: dict[str, Tally] = {}
    for name, (slug, more) in STEPS.items():
        random, own = Random(f"{seed} {name}"), {**values, **more}
        step, tallies[name] = find_step(slug, own), Tally()
        for _example in range(examples):
            examine(step, draw_team(random, own), tallies[name])
    return tallies


def tell(title: str, tallies: dict[str, Tally]) -> None:
    """Print what was told, and hold it to what was promised."""
    print(f"\n{title}")
    for name, tally in tallies.items():
        print("\n".join(tally.lines(name)))
    answers = sum(tally.answers.total() for tally in tallies.values())
    told = sum(tally.told.total() for tally in tallies.values())
    alone = sum(tally.without_families.total() for tally in tallies.values())
    wrongly = sum(tally.wrongly.total() for tally in tallies.values())
    print(f"named wrongly {wrongly} of {answers}; without families {alone / answers:.2f}")
    print(f"unique {told / answers:.2f}")
    assert wrongly == 0
    assert told / answers > 0.85


@pytest.mark.parametrize(("title", "values"), [("inches", INCHES), ("centimetres", CENTIMETRES)])
def test_slips_are_told_apart_and_right_answers_are_right(title: str, values: dict[str, Any]) -> None:
    tell(title, run(values, SHORT, seed=1))


@pytest.mark.long
@pytest.mark.parametrize(("title", "values"), [("inches", INCHES), ("centimetres", CENTIMETRES)])
def test_slips_are_told_apart_over_many_worked_examples(title: str, values: dict[str, Any]) -> None:
    tallies = run(values, LONG, seed=2)
    assert all(tally.examples >= LONG for tally in tallies.values())
    tell(title, tallies)

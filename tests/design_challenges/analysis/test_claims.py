"""Every claim: one set of data for which it is said, and one just beyond, for which it is not."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from design_challenges.kinds import get_kind
from design_challenges.services.analysis.analyse import analyse, make_speech
from design_challenges.services.analysis.claims import CLAIMS, sentences
from design_challenges.services.analysis.drift import Reference
from design_challenges.services.analysis.drops_needed import margin_of_mean
from design_challenges.services.analysis.experiment import Experiment, Share
from design_challenges.services.analysis.gather import gather
from design_challenges.services.analysis.intervals import Estimate
from design_challenges.services.analysis.labels import LABELS, NAMES
from design_challenges.services.analysis.speech import Speech
from design_challenges.services.analysis.teacher import Apart, Effect, Offer, scatter
from tests.support.class_records import Made, class_record, class_values

Said = set[str]
LOW, TOUCHING, HIGH = (400, 402, 404), (404, 412, 414), (405, 412, 414)


def made(times: Any, across: Any = 14, line: Any = 13) -> Made:
    return across, line, times


def team(first: Any = None, second: Any = None) -> dict[int, Made]:
    """One team of one design, by its times in each round."""
    return {number: made(times) for number, times in ((1, first), (2, second)) if times is not None}


def said_of(
    *teams: Mapping[int, Made],
    margin: float | None = None,
    reference: Mapping[str, Any] | None = None,
    largest: Any = None,
    **more: Any,
) -> Said:
    """The claims made of a class."""
    days = Reference(readings=reference or {})
    found = analyse(class_record(teams, **more), margin, reference=days, largest=largest)
    return {sentence.slug for sentence in [*found.for_children, *found.for_teacher]}


def said_of_fact(fact: object) -> Said:
    return {sentence.slug for sentence in sentences([fact], a_speech())}


def a_speech() -> Speech:
    return make_speech(gather(class_record([team(LOW)])))


def edge(make: Callable[[int], Said], slug: str, inside: int, outside: int) -> tuple[Said, Said]:
    """Walk from a number for which a claim is made to where it is not: the two neighbours at the edge."""
    step = 1 if outside > inside else -1
    assert slug in make(inside), f"{slug} is not said at {inside}"
    last = make(inside)
    for number in range(inside + step, outside + step, step):
        now = make(number)
        if slug not in now:
            return last, now
        last = now
    raise AssertionError(f"{slug} is still said at {outside}")


def apart_by(hundredths: int) -> tuple[int, int, int]:
    return tuple(time + hundredths for time in LOW)  # type: ignore[return-value]


def one_team_apart(hundredths: int) -> Said:
    return said_of(team(LOW, apart_by(hundredths)))


def two_teams_apart(hundredths: int) -> Said:
    return said_of(*(team(LOW, apart_by(hundredths)) for _ in range(2)))


def on_two_days(reference: tuple[int, ...]) -> Said:
    """One team whose second round was timed on Tuesday, with the reference's drops of that day."""
    day_of = {1: "Monday", 2: "Monday", 3: "Monday", 4: "Tuesday", 5: "Tuesday", 6: "Tuesday"}
    days = Reference({"Monday": LOW, "Tuesday": reference}, day_of)
    found = analyse(class_record([team(LOW, HIGH)]), reference=days)
    return {sentence.slug for sentence in found.for_teacher}


def class_apart(hundredths: int) -> Said:
    """Three teams whose times grow by one less, just so much, and one more."""
    return said_of(*(team(LOW, apart_by(hundredths + extra)) for extra in (-1, 0, 1)))


def teams_apart(hundredths: int) -> Said:
    return said_of(team(LOW), team(apart_by(hundredths)))


def scattered(hundredths: int) -> Said:
    """Eight teams of three drops, so far below, at and above 4 s."""
    return said_of(*(team((400 - hundredths, 400, 400 + hundredths)) for _ in range(8)))


def ranks(*changes: int) -> Said:
    return said_of(*(team(LOW, apart_by(change)) for change in changes))


def needed(factor: float) -> Said:
    teams = [team((390, 400, 412)), team((430, 425, 421))]
    table = scatter(gather(class_record(teams)), 1, None).table
    assert table.within_sd is not None
    return said_of(*teams, margin=factor * margin_of_mean(table.within_sd, table.within_df, 3))


def line_up(last: int) -> Said:
    """Five canopies, each slower than the one before, but for the last."""
    return said_of(
        *(
            {1: made((time, time + 2), across)}
            for across, time in zip(range(10, 15), (360, 370, 380, 390, last), strict=True)
        )
    )


def spread_lines(quarters: int) -> Said:
    """Ten canopies, their lines at first shorter and shorter, more and more disturbed by so many quarters."""
    return said_of(*_ten(quarters))


def _ten(quarters: int, count: int = 10) -> list[dict[int, Made]]:
    teams = []
    for place in range(count):
        line = f"{4 * (20 - place) + (quarters if place % 2 else -quarters)}/4"
        teams.append({1: made((380 + 3 * place, 384 + 3 * place), 10 + place, line)})
    return teams


def a_grid(teams: int) -> Said:
    """Designs that are not tied: canopies and lines in their own orders."""
    lines = (12, 20, 14, 22, 10, 18, 13, 21, 11, 19)
    return said_of(*({1: made((380 + 4 * n, 386 + 4 * n), 10 + n, lines[n])} for n in range(teams)))


def days(*second: int) -> Said:
    return said_of(team(LOW), reference={"Monday": LOW, "Tuesday": second})


def same_design(across: str = "14", times: tuple[int, ...] = (440, 442, 444)) -> Said:
    return said_of(team(LOW), {1: made(times, across)})


def other_times(hundredths: int) -> Said:
    return same_design(times=apart_by(hundredths))


def near_the_limit(largest: int | None = None) -> Said:
    """Teams along the limit: bigger canopies on shorter lines."""
    teams = []
    for across, line, times in (
        (11, 22, (370, 378, 374)),
        (12, 21, (381, 390, 386)),
        (13, 19, (395, 402, 391)),
        (14, 17, (402, 411, 406)),
        (15, 16, (412, 404, 409)),
        (16, 13, (414, 409, 418)),
        (13, 20, (390, 399, 396)),
        (15, 15, (405, 413, 411)),
    ):
        teams.append({1: made(times, across, line)})
    return said_of(*teams, largest=largest)


def with_mate(line: str) -> Said:
    return said_of(team(LOW), {1: made(LOW, 16, line)})


def an_effect(high: float) -> Effect:
    return Effect("canopy area", Estimate(-0.3, -0.6, high), -0.34, "with thin film")


def an_offer(*keeps: str) -> Offer:
    sizes = {"canopy_diameter": (Fraction(12), Fraction(15)), "line_length": (Fraction(8), Fraction(14))}
    share = Share(1, "Gannet", {slug: pair[0] for slug, pair in sizes.items()}, keeps)
    return Offer(Experiment(sizes, (share,), 1.6, 1.2))


def an_apart(**changes: Any) -> Apart:
    model = get_kind("soft-landing").effects(class_values())
    assert model is not None
    return replace(Apart(model, 12, 10.5, -0.2, -0.3, (-0.34, -0.05), ()), **changes)


CASES: dict[str, Callable[[], tuple[Said, Said]]] = {
    # Children: two builds. Touching is not separate; two against three says nothing whatever is seen.
    "all-above": lambda: (said_of(team(LOW, HIGH)), said_of(team(LOW, TOUCHING))),
    "all-below": lambda: (said_of(team(HIGH, LOW)), said_of(team(HIGH, LOW[:2]))),
    "overlap": lambda: (said_of(team(LOW, TOUCHING)), said_of(team(LOW, HIGH))),
    "another-drop": lambda: (
        said_of(team(LOW, HIGH), round_values={2: {"drop_height": "15.1"}}),
        said_of(team(LOW, HIGH), round_values={2: {"drop_height": "15.0"}}),
    ),
    # Children: half an inch apart is within measuring, a hundredth more is not.
    "twins": lambda: (same_design("29/2"), same_design("1451/100")),
    "twins-alike": lambda: edge(other_times, "twins-alike", 0, 20),
    "day-longer": lambda: (days(*HIGH), days(*TOUCHING)),
    "day-shorter": lambda: (days(390, 391, 399), days(390, 391, 400)),
    "day-alike": lambda: (days(*TOUCHING), days(*HIGH)),
    "how-sure": lambda: (said_of(team((400, 400, 401))), said_of(team((400, 400, 400)))),
    "how-sure-alike": lambda: (said_of(team((400, 400, 400))), said_of(team((400, 400, 401)))),
    "how-sure-unknown": lambda: (said_of(team((400,))), said_of(team((400, 401)))),
    # Teacher: the data as a whole.
    "no-drops": lambda: (said_of({}), said_of(team((400,)))),
    "one-team": lambda: (said_of(team(LOW), {}), said_of(team(LOW), team((400,)))),
    "left-out": lambda: (
        said_of(team(LOW, HIGH), round_values={1: {"compare": "time"}}),
        said_of(team(LOW, HIGH), round_values={1: {"compare": "speed"}}),
    ),
    "middle-times": lambda: (said_of(team(LOW), average="median"), said_of(team(LOW), average="mean")),
    "drops-missing": lambda: (said_of(team(LOW[:2])), said_of(team(LOW))),
    "not-open": lambda: (
        said_of(team(LOW), marks={(1, 1, 2): "tangled"}),
        said_of(team(LOW), marks={(1, 1, 2): "opened"}),
    ),
    # Teacher: within and between teams.
    "no-repeats": lambda: (said_of(team((400,)), team((410,))), said_of(team((400,)), team((410, 410)))),
    "no-scatter": lambda: (said_of(team((400, 400))), said_of(team((400, 401)))),
    "within": lambda: (said_of(team((400, 401))), said_of(team((400, 400)))),
    "between-differ": lambda: edge(teams_apart, "between-differ", 9, 0),
    "between-cannot-tell": lambda: edge(teams_apart, "between-cannot-tell", 0, 9),
    "repeatability": lambda: (said_of(team(LOW), team((400,))), said_of(team((400,)), team((400,)))),
    "repeatability-unknown": lambda: (said_of(team(LOW)), said_of(team(LOW), team((400,)))),
    "drops-needed": lambda: (needed(0.999), needed(1.001)),
    "drops-enough": lambda: (needed(1.001), needed(0.999)),
    "more-than-timing": lambda: edge(scattered, "more-than-timing", 20, 8),
    "no-more-than-timing": lambda: edge(scattered, "no-more-than-timing", 8, 20),
    # Teacher: one team.
    "no-second-round": lambda: (said_of(team(LOW)), said_of(team(LOW, (400,)))),
    "no-first-round": lambda: (said_of(team(None, LOW)), said_of(team((400,), LOW))),
    "other-conditions": lambda: (
        said_of(team(LOW, HIGH), round_values={2: {"load_mass": "6.1"}}),
        said_of(team(LOW, HIGH), round_values={2: {"load_mass": "6.0"}}),
    ),
    "change-better": lambda: edge(one_team_apart, "change-better", 9, 0),
    "change-worse": lambda: edge(one_team_apart, "change-worse", -9, 0),
    "change-cannot-tell": lambda: edge(one_team_apart, "change-cannot-tell", 0, 9),
    "change-no-interval": lambda: (said_of(team(LOW, (410,))), said_of(team(LOW, (410, 411)))),
    "exact-cannot-tell": lambda: (said_of(team(LOW, HIGH)), said_of(team((*LOW, 403), (*HIGH, 413)))),
    "exact-small": lambda: (
        said_of(team((400, 401, 402, 404), (405, 410, 411, 412))),
        said_of(team((400, 401, 402, 405), (404, 410, 411, 412))),
    ),
    "exact-not-small": lambda: (
        said_of(team((400, 401, 402, 405), (404, 410, 411, 412))),
        said_of(team((400, 401, 402, 404), (405, 410, 411, 412))),
    ),
    # Teacher: the class.
    "rebuilt": lambda: (said_of(team(LOW, HIGH)), said_of(team(LOW, TOUCHING))),
    "gain-none": lambda: (said_of(team(LOW), team(None, LOW)), said_of(team(LOW, LOW))),
    "gain-one-team": lambda: (said_of(team(LOW, HIGH), team(LOW)), said_of(team(LOW, HIGH), team(LOW, LOW))),
    "gain-all-equal": lambda: (
        said_of(team(LOW, HIGH), team(LOW, HIGH)),
        said_of(team(LOW, HIGH), team(LOW, (405, 412, 415))),
    ),
    "gain-better": lambda: edge(class_apart, "gain-better", 9, 0),
    "gain-worse": lambda: edge(class_apart, "gain-worse", -9, 0),
    "gain-cannot-tell": lambda: edge(class_apart, "gain-cannot-tell", 0, 9),
    "signs": lambda: (said_of(team(LOW, LOW), team(LOW, HIGH)), said_of(team(LOW), team(LOW, HIGH))),
    "ranks-cannot-tell": lambda: (ranks(1, 2, 3, 4, 5), ranks(1, 2, 3, 4, 5, 6)),
    "ranks-small": lambda: (ranks(1, 2, 3, 4, 5, 6), ranks(-1, 2, 3, 4, 5, 6)),
    "ranks-not-small": lambda: (ranks(-1, 2, 3, 4, 5, 6), ranks(1, 2, 3, 4, 5, 6)),
    "many-intervals": lambda: edge(two_teams_apart, "many-intervals", 9, 0),
    "shift-taken-out": lambda: (on_two_days((404,)), on_two_days(())),
    "pulled-to-the-mean": lambda: (
        said_of(*(team(apart_by(n), HIGH) for n in range(4))),
        said_of(*(team(apart_by(n), HIGH) for n in range(3))),
    ),
    "pulled-unknown": lambda: (
        said_of(*(team(apart_by(n), HIGH) for n in range(3))),
        said_of(*(team(apart_by(n), HIGH) for n in range(4))),
    ),
    # Teacher: what goes with what.
    "goes-with": lambda: edge(line_up, "goes-with", 400, 340),
    "goes-with-cannot-tell": lambda: edge(line_up, "goes-with-cannot-tell", 340, 400),
    "goes-with-unknown": lambda: (
        said_of(*({1: made(LOW, across, across)} for across in (10, 11, 12))),
        said_of(*({1: made(apart_by(across), across, across)} for across in (10, 11, 12, 13))),
    ),
    "tied": lambda: edge(spread_lines, "tied", 0, 40),
    "not-tied": lambda: edge(spread_lines, "not-tied", 40, 0),
    "one-size-constant": lambda: (
        said_of(*({1: made(LOW, across)} for across in (10, 11, 12))),
        said_of(*({1: made(LOW, across, line)} for across, line in ((10, 13), (11, 14), (12, 13)))),
    ),
    "few-designs": lambda: (a_grid(9), a_grid(10)),
    "no-fit": lambda: (said_of_fact(an_apart()), said_of_fact(an_apart(effects=(an_effect(-0.1),)))),
    "effect": lambda: (said_of_fact(an_effect(-0.001)), said_of_fact(an_effect(0.001))),
    "effect-cannot-tell": lambda: (said_of_fact(an_effect(0.001)), said_of_fact(an_effect(-0.001))),
    # Teacher: what would tell.
    "experiment": lambda: edge(near_the_limit, "experiment", 16, 11),
    "no-experiment": lambda: edge(near_the_limit, "no-experiment", 11, 16),
    "experiment-keeps-first": lambda: edge(near_the_limit, "experiment-keeps-first", 16, 11),
    "experiment-keeps-second": lambda: (
        said_of_fact(an_offer("line_length")),
        said_of_fact(an_offer("line_length", "canopy_diameter")),
    ),
    "experiment-keeps-both": lambda: (
        said_of_fact(an_offer("canopy_diameter", "line_length")),
        said_of_fact(an_offer("canopy_diameter")),
    ),
    "experiment-keeps-neither": lambda: (said_of_fact(an_offer()), said_of_fact(an_offer("line_length"))),
    "fair-mates": lambda: (with_mate("53/4"), with_mate("1326/100")),
    "no-fair-mates": lambda: (with_mate("1326/100"), with_mate("53/4")),
}


def test_every_claim_is_in_this_list_once() -> None:
    slugs = [claim.slug for claim in CLAIMS]
    assert len(slugs) == len(set(slugs))
    assert set(CASES) == set(slugs)


@pytest.mark.parametrize("slug", [claim.slug for claim in CLAIMS])
def test_it_is_said_where_it_holds_and_not_just_beyond(slug: str) -> None:
    said, beyond = CASES[slug]()
    assert slug in said
    assert slug not in beyond


def test_every_number_that_is_cited_has_a_name_of_its_own() -> None:
    seen: set[str] = set()
    for slug in CASES:
        claim = next(claim for claim in CLAIMS if claim.slug == slug)
        if isinstance(claim.words, str) or not callable(claim.words):
            seen |= set(re.findall(r"{(\w+)}", str(claim.words)))
    assert seen <= set(LABELS) | NAMES
    assert not set(LABELS) & NAMES


def test_a_sentence_lists_the_numbers_it_rests_on() -> None:
    found = analyse(class_record([team(LOW, apart_by(20))]))
    better = next(sentence for sentence in found.for_teacher if sentence.slug == "change-better")
    listed = {str(label): text for label, text in better.cited}
    assert listed["drops in round 1"] == "3"
    assert all(listed[label] in better.text for label in ("interval, lower end", "interval, upper end"))


JARGON = re.compile(
    r"\bp [=<]|probab|interval|signific|varian|deviation|regress|correl|statist|%|hypoth", re.IGNORECASE
)


def test_no_jargon_stands_on_children_s_pages() -> None:
    words = [
        str(claim.words) for claim in CLAIMS if claim.audience == "children" and not callable(claim.words)
    ]
    speech = a_speech()
    words += [str(speech.readings.all_above), str(speech.readings.all_below)]
    assert len(words) > 9
    assert [text for text in words if JARGON.search(text)] == []


def test_better_is_never_said_to_children() -> None:
    for claim in CLAIMS:
        if claim.audience == "children" and not callable(claim.words):
            assert not re.search(r"better|worse|best", str(claim.words))


@pytest.mark.parametrize("unit_system", ["us", "metric"])
@pytest.mark.parametrize("compare", ["speed", "time"])
def test_a_slower_fall_is_better_in_every_unit_and_either_way_of_counting(
    unit_system: str, compare: str
) -> None:
    teams = [team(LOW, apart_by(20 + n)) for n in range(6)]
    found = analyse(class_record(teams, unit_system=unit_system, values={"compare": compare}))
    slugs = {sentence.slug for sentence in found.for_teacher}
    assert {"gain-better", "change-better", "ranks-small"} <= slugs
    assert not {"gain-worse", "change-worse"} & slugs
    unit = {"speed": {"us": "ft/s", "metric": "m/s"}[unit_system], "time": "s"}[compare]
    gain = next(sentence for sentence in found.for_teacher if sentence.slug == "gain-better")
    assert gain.numbers["mean"].endswith(f"\N{NO-BREAK SPACE}{unit}")
    assert gain.numbers["mean"].startswith("\N{MINUS SIGN}" if compare == "speed" else "+")
    assert all(
        number in gain.text for number in (gain.numbers["mean"], gain.numbers["low"], gain.numbers["high"])
    )


def test_the_sentences_on_the_board_are_those_agreed() -> None:
    found = analyse(class_record([team(LOW, HIGH), team(HIGH, LOW), team(LOW, TOUCHING)]))
    assert [sentence.text for sentence in found.for_children[:3]] == [
        "All 3 drops of build 2 took longer than all 3 of build 1.",
        "All 3 drops of build 2 fell faster than all 3 of build 1. What does that tell you?",
        "The drops overlap. That is normal with 3.",
    ]


def test_five_of_two_drops_say_what_chance_allows() -> None:
    # 1/C(5, 2) is one in ten, 1/C(6, 3) one in twenty, 1/C(6, 2) one in fifteen, 1/C(7, 2) one in 21.
    assert "all-above" not in said_of(team(LOW[:2], HIGH))
    assert "all-above" in said_of(team(LOW, HIGH))
    assert "all-above" not in said_of(team(LOW[:2], (*HIGH, 415)))
    assert "all-above" in said_of(team(LOW[:2], (*HIGH, 415, 416)))

"""Several stopwatches on one drop: what counts, and how far apart a class's thumbs are."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from design_challenges.services.record_types import DropRecord, ReadingRecord
from design_challenges.services.watches import find_thumbs, time_that_counts


@pytest.mark.parametrize(
    ("times", "counts"),
    [([412], 412), ([412, 415], 414), ([412, 414], 413), ([399, 412, 450], 412), ([450, 399, 412], 412)],
)
def test_the_middle_of_three_and_the_mean_of_two_half_up_counts(times: list[int], counts: int) -> None:
    assert time_that_counts(times) == counts


def test_no_stopwatch_is_no_time() -> None:
    with pytest.raises(ValueError, match="no values"):
        time_that_counts([])


def drop(*readings: ReadingRecord) -> DropRecord:
    return DropRecord(1, 1, 1, readings, True, "", "", "")


def reading(pk: int, time: int, watch: int = 0, aside: str = "") -> ReadingRecord:
    return ReadingRecord(pk, time, "station", aside, watch)


def test_stopwatches_stand_together_and_a_time_alone_replaces_what_was() -> None:
    together = drop(reading(1, 400, 1), reading(2, 411, 2))
    assert (together.reading and together.reading.hundredths, len(together.watches)) == (406, 2)
    beside_a_typed_one = drop(reading(1, 400), reading(2, 410, 2))
    assert beside_a_typed_one.reading
    assert beside_a_typed_one.reading.hundredths == 405
    corrected = drop(reading(1, 400, 1, "corrected"), reading(2, 410, 2, "corrected"), reading(3, 390))
    assert corrected.reading
    assert corrected.reading.hundredths == 390
    one_slipped = drop(reading(1, 400, 1), reading(2, 700, 2, "timing"), reading(3, 404, 3))
    assert one_slipped.reading
    assert one_slipped.reading.hundredths == 402


def test_the_spread_between_thumbs_leaves_out_how_the_drops_differ() -> None:
    # Two drops, each timed twice 0.06 s apart: 2 × (3² + 3²) / 2 = 18, its root 4.24 hundredths.
    thumbs = find_thumbs([[400, 406], [500, 506], [300]])
    assert thumbs is not None
    assert (thumbs.drops, thumbs.repeats, thumbs.widest_s) == (2, 2, 0.06)
    assert thumbs.sd_s == pytest.approx(math.sqrt(18) / 100)
    assert not thumbs.enough


def test_a_delay_that_every_thumb_has_at_both_ends_is_no_uncertainty() -> None:
    late = find_thumbs([[400, 400], [380, 380, 380]])
    assert late is not None
    assert late.sd_s == 0.0


def test_nothing_timed_twice_says_nothing() -> None:
    assert find_thumbs([[400], [300], []]) is None


@given(
    st.lists(st.lists(st.integers(1, 9999), min_size=2, max_size=3), min_size=1, max_size=9),
    st.integers(0, 500),
)
def test_a_shift_of_every_time_of_a_drop_changes_no_spread(drops: list[list[int]], shift: int) -> None:
    before, after = find_thumbs(drops), find_thumbs([[time + shift for time in times] for times in drops])
    assert before == after

"""A class challenge read back: figures, steps, what counts, and a fixed number of queries."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from classroom.models import AppendOnlyError
from design_challenges.models import Judgement, Note, Reading
from design_challenges.services import saving
from design_challenges.services.progress import is_done, next_step
from design_challenges.services.readiness import check_readiness, judge_material
from design_challenges.services.records import find_challenge, load_class, load_team
from design_challenges.steps import Step
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def challenge() -> Any:
    return builders.make_challenge(builders.make_class(teams=2))


@pytest.fixture
def team(challenge: Any) -> Any:
    return challenge.classroom.teams.first()


def test_a_whole_round_gives_the_childrens_own_chain(challenge: Any, team: Any) -> None:
    record = builders.play_round(challenge, team, hundredths=(412, 398, 405))
    # 4.1, 4.0, 4.1 (half-up from 4.05): 12.2 / 3 = 4.066… → 4.1; 15 / 4.1 = 3.658… → 3.7
    assert record.results is not None
    assert record.results.rounded_s == (Decimal("4.1"), Decimal("4.0"), Decimal("4.1"))
    assert record.results.average_time_s == Decimal("4.1")
    assert record.figure == Decimal("3.7")
    assert record.exact_figure == pytest.approx(15 / ((4.12 + 3.98 + 4.05) / 3))
    assert next_step(record) is None


def test_the_plan_is_judged_by_the_teams_own_figure(challenge: Any, team: Any) -> None:
    builders.plan_round(challenge, team, radius="7", line="13")
    record = builders.record_of(challenge, team)
    judgement = judge_material(record)
    assert judgement is not None
    # 154 + 3 × 4 × 13 = 310
    assert (judgement.figure, judgement.figure_from, judgement.within) == (Decimal(310), "team", True)
    assert all(item.passed for item in check_readiness(record))


def test_a_plan_over_the_limit_is_not_ready(challenge: Any, team: Any) -> None:
    builders.plan_round(challenge, team, radius="9", line="13")
    failed = [item for item in check_readiness(builders.record_of(challenge, team)) if not item.passed]
    assert [item.slug for item in failed] == ["limit"]
    assert "36" in str(failed[0].detail)  # 254 or 255 + 156 is 35 or 36 too many


def test_a_new_plan_makes_the_clearance_stale(challenge: Any, team: Any) -> None:
    builders.plan_round(challenge, team)
    builders.clear_round(challenge, team)
    assert is_done(builders.record_of(challenge, team), Step.READY)
    builders.plan_round(challenge, team, radius="6")
    assert not is_done(builders.record_of(challenge, team), Step.READY)


def test_a_void_drop_keeps_its_reason_and_its_place_is_dropped_again(challenge: Any, team: Any) -> None:
    iteration = builders.plan_round(challenge, team)
    builders.drop_round(challenge, team, hundredths=(412,))
    builders.enter(challenge, lambda author: saving.void_drop(iteration, 2, "hit", author))
    record = builders.record_of(challenge, team)
    assert (record.next_trial, record.voids, len(record.counting)) == (2, 1, 1)
    builders.enter(challenge, lambda author: saving.save_reading(iteration, 2, 398, author))
    record = builders.record_of(challenge, team)
    assert [(drop.trial, drop.attempt, drop.counts) for drop in record.drops] == [
        (1, 1, True),
        (2, 1, False),
        (2, 2, True),
    ]


def test_a_gap_leaves_the_rounding_of_later_trials_accepted(challenge: Any, team: Any) -> None:
    iteration = builders.plan_round(challenge, team)
    builders.drop_round(challenge, team, hundredths=(412, 398, 405))
    step = builders.record_of(challenge, team).rounding_steps[3]
    builders.answer_right(challenge, team, 1, step)
    drop = iteration.drops.get(trial=2)
    builders.enter(challenge, lambda author: saving.judge_drop(drop, False, "teacher", author, note="fan"))
    record = builders.record_of(challenge, team)
    assert list(record.rounding_steps) == [1, 3]
    assert record.working(record.rounding_steps[3]).accepted == Decimal("4.1")


def test_not_opening_counts_and_is_marked(challenge: Any, team: Any) -> None:
    iteration = builders.plan_round(challenge, team)
    builders.enter(challenge, lambda author: saving.save_reading(iteration, 1, 150, author, mark="not_open"))
    record = builders.record_of(challenge, team)
    assert len(record.counting) == 1
    assert record.opened_count == 0


def test_a_drop_that_counts_again_still_did_not_open(challenge: Any, team: Any) -> None:
    iteration = builders.plan_round(challenge, team)
    builders.enter(challenge, lambda author: saving.save_reading(iteration, 1, 150, author, mark="not_open"))
    drop = iteration.drops.get(trial=1)
    builders.enter(challenge, lambda author: saving.judge_drop(drop, False, "teacher", author, note="fan"))
    builders.enter(challenge, lambda author: saving.count_again(drop, "no fan after all", author))
    record = builders.record_of(challenge, team)
    assert (len(record.counting), record.opened_count) == (1, 0)


def test_a_second_tablets_reading_is_kept_and_set_aside(challenge: Any, team: Any) -> None:
    iteration = builders.plan_round(challenge, team)
    for hundredths in (412, 421):
        builders.enter(
            challenge,
            lambda author, h=hundredths: saving.save_reading(iteration, 1, h, author, seen=0),
        )
    drop = builders.record_of(challenge, team).trials[1]
    assert drop.reading is not None
    assert drop.reading.hundredths == 412
    assert [(r.hundredths, r.set_aside) for r in drop.readings] == [(412, ""), (421, "second")]
    late = Reading.objects.get(hundredths=421)
    builders.enter(challenge, lambda author: saving.settle_reading(late, author))
    drop = builders.record_of(challenge, team).trials[1]
    assert drop.reading is not None
    assert drop.reading.hundredths == 421


def test_a_correction_keeps_the_old_reading(challenge: Any, team: Any) -> None:
    iteration = builders.plan_round(challenge, team)
    builders.drop_round(challenge, team, hundredths=(412,))
    drop = iteration.drops.get(trial=1)
    builders.enter(challenge, lambda author: saving.correct_reading(drop, 142, "misread", author))
    record = builders.record_of(challenge, team).trials[1]
    assert record.reading is not None
    assert record.reading.hundredths == 142
    assert record.readings[0].set_aside == "corrected"


def test_new_sizes_after_a_break_start_the_drops_again(challenge: Any, team: Any) -> None:
    builders.plan_round(challenge, team)
    builders.clear_round(challenge, team)
    builders.build_round(challenge, team)
    builders.drop_round(challenge, team, hundredths=(412, 398))
    record = builders.record_of(challenge, team)
    builders.enter(challenge, lambda author: saving.save_breakage(record, "new", author))
    record = builders.record_of(challenge, team)
    assert (record.counting, record.next_trial, record.build_complete) == ([], 1, False)
    assert len(record.drops) == 2


def test_what_cannot_be_mended_uses_the_drops_there_are(challenge: Any, team: Any) -> None:
    builders.plan_round(challenge, team)
    builders.drop_round(challenge, team, hundredths=(412, 398))
    record = builders.record_of(challenge, team)
    builders.enter(challenge, lambda author: saving.save_breakage(record, "no_more", author))
    record = builders.record_of(challenge, team)
    assert record.trials_complete
    # (4.1 + 4.0) / 2 = 4.05 → 4.1
    assert record.results is not None
    assert record.results.average_time_s == Decimal("4.1")


def test_younger_compares_the_middle_time(team: Any) -> None:
    classroom = builders.make_class(teams=1)
    challenge = builders.make_challenge(
        classroom, average="median", values={"area_method": "table", "compare": "time"}
    )
    record = builders.play_round(challenge, classroom.teams.get(), hundredths=(412, 300, 405))
    assert record.figure == Decimal("4.1")
    assert not record.performance.lower_is_better
    assert record.results is not None
    assert record.results.fall_speed == Decimal("3.7")


def test_rows_are_written_once(challenge: Any, team: Any) -> None:
    builders.play_round(challenge, team)
    note = Note.objects.first()
    assert note is not None
    note.text = "something else"
    for change in (
        note.save,
        note.delete,
        lambda: Note.objects.update(text="x"),
        lambda: Judgement.objects.all().delete(),
    ):
        with pytest.raises(AppendOnlyError):
            change()


def test_reading_a_class_takes_as_many_queries_for_8_teams_as_for_40(
    django_assert_max_num_queries: Any,
) -> None:
    for teams in (8, 40):
        challenge = builders.make_challenge(builders.make_class(teams=teams))
        for team in challenge.classroom.teams.all():
            builders.drop_round(challenge, builders.plan_round(challenge, team).team, hundredths=(412,))
        team = challenge.classroom.teams.first()
        with django_assert_max_num_queries(11):
            load_class(find_challenge(challenge.classroom))
        with django_assert_max_num_queries(10):
            load_team(find_challenge(challenge.classroom), team)

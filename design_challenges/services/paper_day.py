"""Saves a round that was done on paper, through the same doors as a tablet's entries."""

from __future__ import annotations

from typing import TYPE_CHECKING

from classroom.models import Team
from design_challenges.models import ClassChallenge, Clearance, Drop, Reading
from design_challenges.services import saving
from design_challenges.services.entries import Author
from design_challenges.services.record_types import RoundRecord
from design_challenges.services.records import load_team
from design_challenges.services.working import Step, check

if TYPE_CHECKING:
    from design_challenges.forms.paper import PaperEntries

CLEARED_ON_PAPER = "cleared on paper"


def save_paper_round(
    challenge: ClassChallenge,
    team: Team,
    number: int,
    entries: PaperEntries,
    steps: list[Step],
    author: Author,
) -> None:
    """Add what was typed in from paper; call it inside `entries.save_entry`.

    A build that was measured without a clearance on record was cleared by the teacher
    in the room: that is noted as such. Sums are judged in order, each from the
    answers accepted before it.
    """
    iteration = saving.start_round(challenge, team, number)
    for prompt, text in entries.notes.items():
        saving.save_note(iteration, prompt, text, author)
    for stage, sizes in entries.sizes.items():
        for quantity, length in sizes.items():
            saving.save_size(iteration, stage, quantity, length, author)
    record = _read(challenge, team, number)
    if entries.chosen:
        saving.choose_idea(record, entries.chosen, author)
        record = saving.reload_round(record)
    for (quantity, spot), length in entries.built.items():
        saving.save_size(iteration, "built", quantity, length, author, spot=spot)
    if entries.built and record.clearance is None and record.plan_figures is not None:
        saving.clear_team(
            record,
            Clearance.By.TEACHER,
            author,
            figure=record.plan_figures.material_class,
            figure_from="class",
            reason=CLEARED_ON_PAPER,
        )
    for trial, (hundredths, result) in entries.drops.items():
        _save_drop(record, trial, hundredths, result, author)
    for step in steps:
        if step.slug in entries.sums:
            record = saving.reload_round(record)
            _save_sum(record, step, entries.sums[step.slug], author)


def _read(challenge: ClassChallenge, team: Team, number: int) -> RoundRecord:
    return load_team(challenge, team).teams[0].rounds[number]


def _save_drop(record: RoundRecord, trial: int, hundredths: int, result: str, author: Author) -> None:
    standing = record.trials.get(trial)
    if result in ("timing", "hit", "release"):
        drop = saving.void_drop(record.iteration, trial, result, author)
        if hundredths:
            _add_reading(record, drop, hundredths, author)
        return
    if standing is not None and standing.counted:
        drop = Drop.objects.get(pk=standing.row_id)
        if standing.reading is not None and standing.reading.hundredths != hundredths:
            saving.correct_reading(drop, hundredths, "", author)
        if (standing.mark or "counts") != result:
            saving.judge_drop(drop, True, "opened" if result == "counts" else result, author)
        return
    saving.save_reading(
        record.iteration,
        trial,
        hundredths,
        author,
        source=Reading.Source.PAPER,
        confirmed=True,
        mark="" if result == "counts" else result,
    )


def _add_reading(record: RoundRecord, drop: Drop, hundredths: int, author: Author) -> None:
    Reading.objects.create(
        class_challenge=record.iteration.class_challenge,
        team=record.iteration.team,
        drop=drop,
        hundredths=hundredths,
        source=Reading.Source.PAPER,
        confirmed=True,
        **author.fields(),
    )


def _save_sum(record: RoundRecord, step: Step, typed: str, author: Author) -> None:
    if not _can_judge(record, step):
        return
    verdict = check(step, record.context(), typed, record.working(step).tries)
    if verdict.outcome == "unreadable":
        return
    saving.save_working(
        record.iteration,
        step.slug,
        record.basis(step),
        typed,
        verdict.outcome,
        author,
        value=verdict.value,
        slips=list(verdict.slips),
    )


def _can_judge(record: RoundRecord, step: Step) -> bool:
    """Return whether everything a sum is worked from is there."""
    plan = {s.slug for s in record.kind.plan_steps(record.values)} if record.plan_complete else set()
    rounding = {s.slug for s in record.rounding_steps.values()}
    results = {s.slug for s in record.result_steps} if record.trials_complete else set()
    return step.slug in plan | rounding | results

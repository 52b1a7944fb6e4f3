"""Whose turn it is on the Test page: the call of a drop, its time, its rounding, or none of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from django.utils.translation import gettext_lazy as _

from design_challenges.services.record_types import DropRecord, ReadingRecord, RoundRecord
from design_challenges.words import Words

VOIDS_A_ROUND = 2
"""So many drops of a round a team may call void without its teacher."""

VOID_REASONS: Sequence[tuple[str, Words]] = (
    ("timing", _("The timing slipped")),
    ("hit", _("It hit a wall or a person")),
    ("release", _("It was let go wrongly")),
)
MARKS: Sequence[tuple[str, Words]] = (("not_open", _("It did not open")), ("tangled", _("It tangled")))


@dataclass(frozen=True)
class Turn:
    """What comes next: to `call` a drop, to type its `time`, to `round` it; `done` when all are in."""

    screen: Literal["call", "time", "round", "done"]
    trial: int = 0
    attempt: int = 0
    drop: DropRecord | None = None


@dataclass(frozen=True)
class DropLine:
    """One drop of the round in the list of all: its raw time, its rounded time, and what became of it."""

    trial: int
    attempt: int
    raw: Decimal | None
    rounded: Decimal | None
    counts: bool
    waiting: bool
    remark: Words
    others: Sequence[ReadingRecord]


def find_turn(record: RoundRecord, *, drop_first: bool = False) -> Turn:
    """Return what the team does next; with `drop_first` a rounding waits while there are drops to do."""
    waiting = unrounded(record)
    trial = record.next_trial
    if waiting is not None and not (drop_first and trial is not None):
        return Turn("round", waiting.trial, waiting.attempt, waiting)
    if trial is None:
        return Turn("done")
    newest = record.trials.get(trial)
    if newest is not None and newest.counts:
        return Turn("time", trial, newest.attempt, newest)
    return Turn("call", trial, newest.attempt + 1 if newest is not None else 1)


def unrounded(record: RoundRecord) -> DropRecord | None:
    """Return the first drop that counts whose time the team has not rounded yet."""
    if not record.sums_by_children:
        return None
    steps = record.rounding_steps
    return next(
        (drop for drop in record.counting if record.working(steps[drop.trial]).accepted is None), None
    )


def find_drop(record: RoundRecord, row_id: int) -> DropRecord | None:
    """Return a drop of the round by its row, or None."""
    return next((drop for drop in record.drops if drop.row_id == row_id), None)


def find_second(record: RoundRecord, reading_id: int) -> DropRecord | None:
    """Return the drop on which this reading waits, set aside because another tablet saved first."""
    for drop in record.drops:
        for reading in drop.readings:
            if reading.row_id == reading_id and reading.set_aside == "second" and drop.reading is not None:
                return drop
    return None


def list_drops(record: RoundRecord) -> list[DropLine]:
    """Return every drop of the round in order, void ones with their reasons."""
    return [_line(record, drop) for drop in record.drops]


def _line(record: RoundRecord, drop: DropRecord) -> DropLine:
    step = record.rounding_steps.get(drop.trial) if drop in record.counting else None
    rounded = None
    if step is not None:
        rounded = record.working(step).accepted if record.sums_by_children else _class_rounded(record, drop)
    standing = drop.reading
    return DropLine(
        trial=drop.trial,
        attempt=drop.attempt,
        raw=standing.seconds if standing else None,
        rounded=rounded,
        counts=drop.counted,
        waiting=drop.counts and standing is None,
        remark=drop.note if drop.mark == "teacher" and drop.note else drop.mark_label,
        others=[reading for reading in drop.readings if reading.set_aside == "second"],
    )


def _class_rounded(record: RoundRecord, drop: DropRecord) -> Decimal | None:
    return record.results.rounded_s[record.counting.index(drop)] if record.results else None


def voids_left(record: RoundRecord) -> int:
    """Return how many drops the team may still call void by itself."""
    return max(0, VOIDS_A_ROUND - record.voids)

"""Which way a team's figure went from one round to the next, in the words of its performance."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from django.utils.translation import gettext_lazy as _

from design_challenges.services.record_types import RoundRecord
from design_challenges.services.rounding import round_half_up
from design_challenges.words import Words

SLOWER, FASTER, SAME = "slower", "faster", "same"
"""Slower is what a team hopes for, whichever way its figure counts."""


def choices(record: RoundRecord) -> Sequence[tuple[str, Words]]:
    """Return the ways a figure can have gone, as slug and word: less, more, the same."""
    performance = record.performance
    less, more = (SLOWER, FASTER) if performance.lower_is_better else (FASTER, SLOWER)
    return [(less, performance.less), (more, performance.more), (SAME, _("the same"))]


def true_direction(record: RoundRecord) -> str:
    """Return the slug of the way the class figure went, or "" where one of the two is missing."""
    now, before = record.figure, record.before_figure
    if now is None or before is None:
        return ""
    if now == before:
        return SAME
    return SLOWER if (now < before) == record.performance.lower_is_better else FASTER


def size_of_change(record: RoundRecord) -> Decimal | None:
    """Return the bigger class figure minus the smaller, or None where one of the two is missing."""
    now, before = record.figure, record.before_figure
    if now is None or before is None:
        return None
    return round_half_up(abs(now - before), record.performance.places)


def is_asked(record: RoundRecord) -> bool:
    """Return whether the team still has to say which way its figure went."""
    if not record.sums_by_children or not true_direction(record):
        return False
    said = record.notes.get("direction")
    return said is None or said.text != true_direction(record)


def word(record: RoundRecord) -> Words:
    """Return the word for the way the figure went, or ""."""
    return dict(choices(record)).get(true_direction(record), "")

"""Two readings of one length: do they agree, and if not, what their difference points to; pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from typing import TYPE_CHECKING

from django.utils.translation import gettext_lazy as _

from design_challenges.services.units import MILLIMETRE, Unit, convert
from design_challenges.words import Words

if TYPE_CHECKING:
    from design_challenges.services.record_types import TurnRecord

BARE_END_MM = (Fraction(3), Fraction(13))
"""What a ruler has before its zero line, in mm: an eighth to half an inch (common practice)."""
INCH_IN_CM = Fraction("2.54")
RATIO_WITHIN = Fraction(3, 100)
"""How far a ratio may be from 2.54 or from 2: two honest readings of a canopy differ by about that."""
FURTHEST_MARKS = 8


class Pattern(StrEnum):
    """What the difference of two readings points to."""

    SAME = "same"
    CLOSE = "close"
    WHOLE_UNIT = "whole_unit"
    BARE_END = "bare_end"
    MIXED_UNITS = "mixed_units"
    HALF = "half"
    FRACTION = "fraction"
    OTHER = "other"


AGREEING = (Pattern.SAME, Pattern.CLOSE)

QUESTIONS: dict[Pattern, Words] = {
    Pattern.WHOLE_UNIT: _("Did both tapes start at 0? Did you both read the same number below the mark?"),
    Pattern.BARE_END: _("Where is the zero line? Put that on the edge, not the end of the ruler."),
    Pattern.MIXED_UNITS: _("Did one of you read inches and one centimetres? Look at the side you used."),
    Pattern.FRACTION: _("Look at the small marks between the numbers. Count them with care."),
    Pattern.OTHER: _("Pull it flat and straight. Hold the end tight. Then measure it again."),
}
"""What both children are asked; half of a size is asked about in the kind's own words (`Spot.half`)."""

POINTS_TO: dict[Pattern, Words] = {
    Pattern.WHOLE_UNIT: _("one whole unit apart"),
    Pattern.BARE_END: _("apart by about a ruler’s bare end"),
    Pattern.MIXED_UNITS: _("as far apart as inches and centimetres"),
    Pattern.HALF: _("one is half of the other"),
    Pattern.FRACTION: _("less than one unit apart"),
    Pattern.OTHER: _("far apart"),
}
"""The same for a teacher, as the end of a sentence that gives both readings."""


def find_pattern(
    first: Fraction, second: Fraction, unit: Unit, division: Fraction, tolerance: Fraction, *, halves: bool
) -> Pattern:
    """Return what two readings of one size point to.

    first, second   the readings, positive, in `unit`
    division        the class's tape: a mark every so many units
    tolerance       readings no further apart than this agree
    halves          whether half of this size is a size, too (a radius and a diameter)

    A whole unit apart means exactly one, to within half a mark, so that two readings off the same
    tape are never one unit apart by halves. Raises ValueError for a length that is not positive.
    """
    if first <= 0 or second <= 0:
        raise ValueError(f"A length is positive: {first}, {second}")
    apart, ratio = abs(first - second), max(first, second) / min(first, second)
    if apart == 0:
        return Pattern.SAME
    if apart <= tolerance:
        return Pattern.CLOSE
    if abs(apart - 1) < division / 2:
        return Pattern.WHOLE_UNIT
    if apart < 1:
        shortest, longest = BARE_END_MM
        bare = shortest <= convert(apart, unit, MILLIMETRE) <= longest
        return Pattern.BARE_END if bare else Pattern.FRACTION
    if _is_about(ratio, INCH_IN_CM):
        return Pattern.MIXED_UNITS
    if halves and _is_about(ratio, Fraction(2)):
        return Pattern.HALF
    return Pattern.OTHER


def _is_about(ratio: Fraction, wanted: Fraction) -> bool:
    return abs(ratio - wanted) <= wanted * RATIO_WITHIN


def marks_between(first: Fraction, second: Fraction, division: Fraction) -> list[Fraction]:
    """Return the marks of the tape from the lesser reading to the greater, both where they are marks.

    Readings off the tape (taken in another unit) get the mark below and the mark above as ends. Empty where
    there would be more than `FURTHEST_MARKS` of them: that is no choice any more.
    """
    low, high = sorted((first, second))
    below, above = low // division, -(-high // division)
    if above - below >= FURTHEST_MARKS:
        return []
    return [count * division for count in range(below, above + 1) if count > 0]


# --- where a size stands -----------------------------------------------------------------------------


@dataclass(frozen=True)
class Pair:
    """Where one spot stands that is measured twice.

    `first` and `second` are the readings that wait for a length to be agreed on, None where they are
    still to come; `agreed` is the length that stands, from them or from earlier ones.
    """

    first: TurnRecord | None
    second: TurnRecord | None
    agreed: TurnRecord | None
    newest_row: int

    @property
    def done(self) -> bool:
        """Return whether the length is agreed on and nobody has begun to measure again."""
        return self.agreed is not None and self.first is None

    @property
    def waits_for_second(self) -> bool:
        return self.first is not None and self.second is None

    @property
    def waits_for_both(self) -> bool:
        """Return whether both have measured, and the pair has to agree on one mark."""
        return self.first is not None and self.second is not None


def read_pair(rows: Sequence[TurnRecord]) -> Pair:
    """Return where a spot stands from its rows in order: a new first reading begins a new pair."""
    first = second = agreed = None
    for row in rows:
        if row.turn == 1:
            first, second = row, None
        elif row.turn == 2 and first is not None:
            second = row
        elif row.turn == 0:
            first, second, agreed = None, None, row
    return Pair(first, second, agreed, rows[-1].size.row_id if rows else 0)


def times_measured(rows: Sequence[TurnRecord]) -> int:
    """Return how often two readings of a spot have been taken since it was last agreed on."""
    times = 0
    for row in rows:
        times = 0 if row.turn == 0 else times + (row.turn == 2)
    return times


def first_pair(rows: Sequence[TurnRecord]) -> tuple[TurnRecord, TurnRecord] | None:
    """Return the earliest two readings of a spot taken apart, before anybody was asked about them."""
    first = None
    for row in rows:
        if row.turn == 1:
            first = row
        elif row.turn == 2 and first is not None:
            return first, row
        elif row.turn == 0:
            first = None
    return None

"""Whose turn it is where sizes are measured twice: first child, second child, then the pair agrees."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum
from fractions import Fraction

from django.utils.translation import gettext_lazy as _

from design_challenges.kinds.base import Spot
from design_challenges.services import pairs, tape
from design_challenges.services.made import Part, parts
from design_challenges.services.record_types import RoundRecord
from design_challenges.services.units import Unit
from design_challenges.words import Words

CLOSE_QUESTION = _("Nearly the same! Look at the tape together. Which mark is it?")


class Turn(IntEnum):
    """What a screen asks: the first reading, the second one, or the mark that both agree on."""

    FIRST = 1
    SECOND = 2
    AGREE = 3


@dataclass(frozen=True)
class PartTurn:
    """What is asked now about a part that is measured twice, and for which of its spots."""

    turn: Turn
    spots: Sequence[Spot]


@dataclass(frozen=True)
class Meeting:
    """Two readings of a spot that wait for one length: what both read, and what they are asked.

    `marks` holds the marks to choose from where the readings agree, and is empty where they do not.
    """

    spot: Spot
    readings: tuple[str, str]
    pattern: pairs.Pattern
    question: Words
    marks: Sequence[Fraction]
    tape: tape.Tape | None


def pair_of(record: RoundRecord, spot: Spot) -> pairs.Pair:
    """Return where a spot stands."""
    return pairs.read_pair(record.turns.get((spot.quantity, spot.spot), ()))


def next_part(record: RoundRecord) -> Part | None:
    """Return the part to measure next, or None when all is measured.

    The first child measures everything, then the second one does, so that the tablet changes hands once.
    """
    waiting = [part for part in parts(record) if not part.done]
    return min(waiting, key=lambda part: (_rank(record, part), part.number), default=None)


def _rank(record: RoundRecord, part: Part) -> int:
    return part_turn(record, part).turn if part.twice else Turn.FIRST


def part_turn(record: RoundRecord, part: Part, *, again: bool = False) -> PartTurn:
    """Return what to ask about a part; `again` begins anew where both have measured and do not agree."""
    standing = [(spot, pair_of(record, spot)) for spot in part.spots]
    second = [spot for spot, pair in standing if pair.waits_for_second]
    both = [spot for spot, pair in standing if pair.waits_for_both]
    first = [spot for spot, pair in standing if pair.first is None and pair.agreed is None]
    if first:
        return PartTurn(Turn.FIRST, first)
    if second:
        return PartTurn(Turn.SECOND, second)
    if both and not again:
        # One thing a screen: the next one is asked when this one is agreed on.
        return PartTurn(Turn.AGREE, both[:1])
    return PartTurn(Turn.FIRST, both or part.spots)


@dataclass(frozen=True)
class Disagreement:
    """Two readings of a spot further apart than the class allows, still without a mark that both agree on.

    `times` is how often both have measured it by now; a pair that measured again and still differs is stuck.
    """

    spot: Spot
    readings: tuple[str, str]
    points_to: Words
    times: int

    @property
    def stuck(self) -> bool:
        return self.times > 1


def disagreements(record: RoundRecord) -> list[Disagreement]:
    """Return the spots of a round at which two readings wait for a mark and do not agree."""
    spots = [spot for part in parts(record) if part.twice for spot in part.spots]
    return [
        Disagreement(
            spot=found.spot,
            readings=found.readings,
            points_to=pairs.POINTS_TO[found.pattern],
            times=pairs.times_measured(record.turns[found.spot.quantity, found.spot.spot]),
        )
        for found in meetings(record, spots)
        if found.pattern not in pairs.AGREEING
    ]


def find_pattern(record: RoundRecord, spot: Spot, first: Fraction, second: Fraction) -> pairs.Pattern:
    """Return what two readings of a spot point to under the round's settings."""
    return pairs.find_pattern(
        first,
        second,
        record.kind.length_unit(record.values),
        Fraction(record.values["tape_division"]),
        record.kind.alike_within(record.values, spot.quantity),
        halves=bool(spot.half),
    )


def meetings(record: RoundRecord, spots: Sequence[Spot]) -> list[Meeting]:
    """Return the spots that two children have to agree on, each with what they are asked."""
    return [found for spot in spots if (found := _meeting(record, spot)) is not None]


def _meeting(record: RoundRecord, spot: Spot) -> Meeting | None:
    pair = pair_of(record, spot)
    if pair.first is None or pair.second is None:
        return None
    first, second = pair.first.size, pair.second.size
    unit, division = record.kind.length_unit(record.values), Fraction(record.values["tape_division"])
    pattern = find_pattern(record, spot, first.value, second.value)
    agreeing = pattern in pairs.AGREEING
    marks = pairs.marks_between(first.value, second.value, division) if agreeing else []
    return Meeting(
        spot=spot,
        readings=(with_unit(first.typed, unit), with_unit(second.typed, unit)),
        pattern=pattern,
        question=_question(pattern, spot),
        marks=marks,
        tape=tape.draw([first.value, second.value], unit, division),
    )


def _question(pattern: pairs.Pattern, spot: Spot) -> Words:
    if pattern in pairs.AGREEING:
        return CLOSE_QUESTION
    return spot.half if pattern is pairs.Pattern.HALF else pairs.QUESTIONS[pattern]


def with_unit(typed: str, unit: Unit) -> str:
    """Return a length as it was typed, with the class's unit where none was typed."""
    named = any(character.isalpha() or character in "\"'″′”’“‘" for character in typed)
    return typed if named else f"{typed}\N{NO-BREAK SPACE}{unit.symbol}"

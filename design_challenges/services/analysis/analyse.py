"""The one entry to the analysis of a class: facts for both audiences, and every sentence about them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from design_challenges.services.record_types import ClassRecord

from .children import ForChildren, for_children
from .claim import Sentence
from .claims import sentences
from .drift import Reference
from .gather import ClassData, gather
from .speech import Speech
from .teacher import ForTeacher, for_teacher


@dataclass(frozen=True)
class Analysis:
    """What a class's numbers say: the data, the facts for each audience, and how they are put into words.

    `of(fact)` gives the sentences about any one fact of it, for the page to put beside the fact's numbers.
    """

    data: ClassData
    children: ForChildren
    teacher: ForTeacher
    speech: Speech

    def of(self, *facts: object) -> list[Sentence]:
        """Return what is claimed of some facts, in order."""
        return sentences(facts, self.speech)

    @cached_property
    def for_children(self) -> list[Sentence]:
        """Every sentence that may stand on the board."""
        return self.of(
            *_all(self.children.changes, self.children.twins, self.children.day_shifts),
            self.children.how_sure,
        )

    @cached_property
    def for_teacher(self) -> list[Sentence]:
        """Every sentence for the teacher's page."""
        facts = self.teacher
        effects = facts.apart.effects if facts.apart else ()
        return self.of(
            facts.whole,
            *_all(facts.shares, facts.scatters, facts.changes),
            facts.many,
            facts.all_longer,
            facts.gain,
            facts.worst,
            *facts.goes_with,
            *([facts.apart] if facts.apart else []),
            *effects,
            facts.offer,
            *facts.fair,
        )


def _all(*groups: Iterable[object]) -> list[object]:
    return [fact for group in groups for fact in group]


def analyse(
    klass: ClassRecord,
    margin: float | None = None,
    *,
    reference: Reference | None = None,
    largest: Fraction | None = None,
    letters: bool = False,
) -> Analysis:
    """Analyse a class as it stands; nothing is kept, so the caller asks again only when something changed.

    `margin` is how near the teacher wants a mean to the true one, in the figure's unit; `reference` the
    reference device's drops by day; `largest` the largest size of the first variable (a canopy across, in
    the class's length unit) that the materials on hand allow in an experiment; `letters` says A, B, C … for
    the teams' names.
    """
    data = gather(klass, reference, letters=letters)
    return Analysis(data, for_children(data), for_teacher(data, margin, largest), make_speech(data))


def make_speech(data: ClassData) -> Speech:
    """Return how this class's numbers are written."""
    return Speech(
        performance=data.performance,
        system=data.kind.system(data.values),
        readings=data.kind.reading_words,
        variables={variable.slug: variable for variable in data.kind.variables(data.values)},
    )

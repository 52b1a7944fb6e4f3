"""The engine that checks a child's sums: what is right, which slip explains an answer, what to try next."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import Any, Literal

from django.utils.translation import gettext_lazy as _

from design_challenges.words import Words

from .numbers import InputError, decimal_places, parse_decimal
from .rounding import cut, round_half_up, rounds_to

Number = Decimal | Fraction | int

TRIES_BEFORE_STEPS = 3
"""After so many tries that were not right the steps may be shown."""

_MOST_PLACES = 8
_FINEST_EXACT = 2
_NUMBER = re.compile(r"\d+(?:\.\d+)?")

SHOW_HOW = _("Show how you got it. Which buttons did you press?")
OTHERWISE = "otherwise"
"""What is picked where none of the ways that are asked about is the child's own."""
CLOSE = _("Close! Look at the rounding again.")
CLOSE_EXACT = _("Close! Check each sum once more.")
RIGHT = _("Right.")


@dataclass(frozen=True)
class SumContext:
    """The numbers a team's sums are worked from.

    `settings` are the class challenge's settings as values, `sizes` the plan's exact lengths in the
    class's length unit, `readings` the raw readings in s that count, `trials` the trial each is of (1, 2 …
    where left out), `accepted` the team's own accepted answers by step; `before` and `now` hold the
    performance figure of the last round and of this one.
    """

    settings: Mapping[str, Any]
    sizes: Mapping[str, Fraction] = field(default_factory=dict)
    readings: tuple[Decimal, ...] = ()
    trials: tuple[int, ...] = ()
    accepted: Mapping[str, Decimal] = field(default_factory=dict)
    before: Mapping[str, Decimal] = field(default_factory=dict)
    now: Mapping[str, Decimal] = field(default_factory=dict)

    def reading(self, trial: int) -> Decimal:
        """The reading of one trial; ValueError where that trial does not count."""
        trials = self.trials or tuple(range(1, len(self.readings) + 1))
        return self.readings[trials.index(trial)]


@dataclass(frozen=True)
class Right:
    """Every answer from `lowest` to `highest` is right.

    With `places` it must also be rounded to that many digits after the point; None asks for no rounding.
    """

    lowest: Decimal
    highest: Decimal
    places: int | None

    def accepts(self, value: Decimal) -> bool:
        """Whether the answer is right."""
        rounded = self.places is None or round_half_up(value, self.places) == value
        return rounded and self.lowest <= value <= self.highest

    @property
    def last_place(self) -> Decimal:
        """One unit in the last place of the answer."""
        if self.places is not None:
            return Decimal(1).scaleb(-self.places)
        return Decimal(1).scaleb(-decimal_places(self.lowest.normalize()))

    def is_close(self, value: Decimal) -> bool:
        """Whether the answer is within one unit of the last place of a right one."""
        return self.lowest - self.last_place <= value <= self.highest + self.last_place


Wrong = Callable[[SumContext], Iterable[Number | Right]]
"""What a slip leads to: exact numbers before any rounding, or ranges where a count is only about right."""


@dataclass(frozen=True)
class Slip:
    """A known slip: `wrong` gives the answers it leads to.

    `hint` is the next step, in at most 20 words a nine-year-old reads, without the answer; `how` is the
    slip as a child would say what it did, with no number of the team in it, and `doing` as a teacher reads
    it ("dividing the other way round"). Slips of one `family` are one mistake: where several of them fit,
    the first one's words must serve for all.
    """

    slug: str
    wrong: Wrong
    hint: Words
    how: Words
    doing: Words
    family: str = ""

    @property
    def mistake(self) -> str:
        """What the slip counts as when slips are told apart."""
        return self.family or self.slug


@dataclass(frozen=True)
class Hints:
    """A step's own help in three stages: think, set up, worked with other numbers.

    `worked` holds several examples, so that one can be shown that does not happen to contain the answer.
    """

    think: Words
    set_up: Words
    worked: Sequence[Words]


@dataclass(frozen=True)
class Step:
    """One sum that a kind asks for.

    `ask` is the question, `unit` stands behind the field, `right` and `slips` judge the answer, `hints`
    help, `worked` shows the steps with the team's own numbers and `uses` names the numbers they come from.
    `read` reads what is no plain decimal (a length with a fraction, say); it raises InputError.
    """

    slug: str
    label: Words
    ask: Words
    unit: Words
    right: Callable[[SumContext], Right]
    slips: Sequence[Slip]
    hints: Hints
    worked: Callable[[SumContext], list[str]]
    uses: Callable[[SumContext], Iterable[Number]]
    read: Callable[[str], Decimal] | None = None

    def slip(self, slug: str) -> Slip | None:
        """The known slip of that name, or None."""
        return next((slip for slip in self.slips if slip.slug == slug), None)

    def basis(self, context: SumContext) -> str:
        """The numbers the step is worked from, as text: an accepted answer holds only while they stand."""
        return " ".join(_plain(number) for number in self.uses(context))


@dataclass(frozen=True)
class Verdict:
    """What the check says of an answer.

    `value` is the number read, None where nothing could be read. `slip` is the slip that alone explains
    the answer, `slips` are all that would. `message` answers the try, `next_step` is the further help
    that belongs to the number of tries ("" at the first), `offer_steps` says that the steps may be shown.
    `picks` are the ways to ask about, (slip, its `how`), where more than one mistake explains the answer.
    """

    outcome: Literal["right", "not_yet", "unreadable"]
    value: Decimal | None
    slip: str | None
    slips: tuple[str, ...]
    message: Words
    next_step: Words = ""
    offer_steps: bool = False
    picks: tuple[tuple[str, Words], ...] = ()


def _plain(number: Number) -> str:
    return f"{number.normalize():f}" if isinstance(number, Decimal) else str(number)


def _read(step: Step, typed: str) -> Decimal:
    """The number typed; its unit behind it is welcome."""
    if step.read is not None:
        return step.read(typed)
    text, unit = typed.strip(), str(step.unit).strip()
    if unit and text.endswith(unit):
        text = text.removesuffix(unit)
    return parse_decimal(text, max_places=_MOST_PLACES)


def leads_to(exact: Number | Right, value: Decimal, places: int | None) -> bool:
    """Whether someone who got `exact` could have typed `value`, rounded or cut as far as they cared to."""
    if isinstance(exact, Right):
        return exact.accepts(value)
    if places is None:
        return exact == value or rounds_to(exact, _FINEST_EXACT, value)
    shown = max(decimal_places(value), places)
    if rounds_to(exact, shown, value):
        return True
    # A calculator's display is often copied without its last digits.
    return shown > places and cut(exact, shown) == value


@dataclass(frozen=True)
class Marking:
    """One step for one team's numbers, ready to judge answers: what is right, and what each slip leads to."""

    step: Step
    right: Right
    answers: tuple[tuple[Slip, tuple[Number | Right, ...]], ...]

    @classmethod
    def of(cls, step: Step, context: SumContext) -> Marking:
        """Work out what is right and what each slip leads to, once for any number of answers."""
        return cls(
            step, step.right(context), tuple((slip, tuple(slip.wrong(context))) for slip in step.slips)
        )

    def fitting(self, value: Decimal) -> tuple[Slip, ...]:
        """Every known slip that leads to `value`, in the step's order."""
        places = self.right.places
        return tuple(
            slip for slip, answers in self.answers if any(leads_to(exact, value, places) for exact in answers)
        )

    def judge(self, typed: str, tries: int, picked: str = "") -> Verdict:
        """Judge one typed answer, as `check` does."""
        try:
            value = _read(self.step, typed)
        except InputError as error:
            return Verdict("unreadable", None, None, (), error.message)
        if self.right.accepts(value):
            kept = value if self.right.places is None else round_half_up(value, self.right.places)
            return Verdict("right", kept, None, (), RIGHT)
        slips = self.fitting(value)
        mistakes = mistakes_of(slips)
        named = mistakes[0] if len(mistakes) == 1 else None
        said = named or next((slip for slip in mistakes if slip.slug == picked), None)
        asks = len(mistakes) > 1 and said is None and picked != OTHERWISE
        return Verdict(
            "not_yet",
            value,
            named.slug if named else None,
            tuple(slip.slug for slip in slips),
            self._message(value, said, asks=asks, explained=bool(mistakes)),
            self._next_step(tries),
            tries + 1 >= TRIES_BEFORE_STEPS,
            tuple((slip.slug, slip.how) for slip in mistakes) if asks else (),
        )

    def _message(self, value: Decimal, said: Slip | None, *, asks: bool, explained: bool) -> Words:
        if said is not None:
            return said.hint
        if asks:
            return SHOW_HOW
        if not explained and self.right.is_close(value):
            return CLOSE if self.right.places is not None else CLOSE_EXACT
        return self.step.hints.think

    def _next_step(self, tries: int) -> Words:
        if tries == 0:
            return ""
        hints = self.step.hints
        texts = (hints.set_up,) if tries == 1 else (*hints.worked, hints.set_up)
        return next((text for text in texts if not contains_number(text, self.right)), hints.think)


def mistakes_of(slips: Iterable[Slip]) -> tuple[Slip, ...]:
    """One slip for each mistake among these: the first of its family, in order."""
    first: dict[str, Slip] = {}
    for slip in slips:
        first.setdefault(slip.mistake, slip)
    return tuple(first.values())


def contains_number(text: Words, right: Right) -> bool:
    """Whether a number in the text is a right answer."""
    return any(right.accepts(Decimal(found)) for found in _NUMBER.findall(str(text)))


def check(step: Step, context: SumContext, typed: str, tries: int, picked: str = "") -> Verdict:
    """Judge one typed answer; `tries` counts the team's earlier tries at it that were not right.

    A right answer is right by whatever road. Otherwise a slip is named only if it alone (or its family
    alone) explains the answer; where several do, the child is asked how they got it, and `picked` is what
    was answered: a slip's slug, or OTHERWISE. A pick that does not fit the answer is passed over.
    """
    return Marking.of(step, context).judge(typed, tries, picked)


def worked_lines(step: Step, context: SumContext) -> list[str]:
    """The step worked out with this team's own numbers, a line at a time, the answer last.

    Shown after three tries or by the teacher, and where the class's setting says the software does the sums.
    """
    return step.worked(context)

"""What a kind of challenge declares: settings, sizes, sums, figures; no kind imports a model."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from functools import wraps
from math import hypot
from typing import TYPE_CHECKING, Any, Concatenate, Literal, ParamSpec, TypeVar, cast

from design_challenges.services.units import SYSTEMS, Unit, UnitSystem
from design_challenges.words import Words

if TYPE_CHECKING:
    from design_challenges.services.working import Step, SumContext


# Settings as the sums read them: decimals, fractions, whole numbers, switches and choices by slug.
Values = Mapping[str, Any]
# Exact lengths in the class's own length unit, by quantity.
Sizes = Mapping[str, Fraction]

Rest = ParamSpec("Rest")
Found = TypeVar("Found")


class SettingsValues(Mapping[str, Any]):
    """The values of one version of settings: never changed, and so with what a kind declares from them."""

    def __init__(self, values: Mapping[str, Any]) -> None:
        self._values = dict(values)
        self.declared: dict[tuple[Any, ...], Any] = {}

    def __getitem__(self, slug: str) -> Any:
        return self._values[slug]

    def __iter__(self) -> Iterator[str]:
        return iter(self._values)

    def __len__(self) -> int:
        return len(self._values)


def declared_once(
    declare: Callable[Concatenate[Any, Values, Rest], Found],
) -> Callable[Concatenate[Any, Values, Rest], Found]:
    """Let a kind's method declare what it does once for each version of settings; it must be a pure one.

    A page of forty teams asks for the same sums, with all their words, a thousand times.
    """

    @wraps(declare)
    def inner(kind: Any, values: Values, *args: Rest.args, **kwargs: Rest.kwargs) -> Found:
        if not isinstance(values, SettingsValues):
            return declare(kind, values, *args, **kwargs)
        key = (kind.slug, declare.__name__, *args)
        if key not in values.declared:
            values.declared[key] = declare(kind, values, *args, **kwargs)
        found: Found = values.declared[key]
        return found

    return cast("Callable[Concatenate[Any, Values, Rest], Found]", inner)


@dataclass(frozen=True)
class SettingField:
    """One setting that only this kind has, as the set-up page shows it and `values` stores it.

    `kind` says how it is read: "decimal", "whole", "fraction" or "choice". `defaults`
    holds the usual value, as text, by unit system; `unit` gives the unit's symbol. A decimal
    with `length` is a length in that unit and is typed like every length.
    """

    slug: str
    label: Words
    help: Words
    kind: Literal["decimal", "whole", "fraction", "choice"]
    defaults: Mapping[str, str]
    least: Decimal | None = None
    most: Decimal | None = None
    choices: Sequence[tuple[str, Words]] = ()
    unit: Callable[[UnitSystem], Words] | None = None
    group: str = "sizes"
    length: Callable[[UnitSystem], Unit] | None = None

    def read(self, text: str) -> Decimal | int | Fraction | str:
        """Return the stored text as the value the sums use."""
        if self.kind == "whole":
            return int(text)
        if self.kind == "decimal":
            return Decimal(text)
        if self.kind == "fraction":
            return Fraction(text)
        return text


@dataclass(frozen=True)
class Preset:
    """A named set of settings to start from; what it leaves out stays as usual."""

    slug: str
    label: Words
    help: Words
    common: Mapping[str, Any] = field(default_factory=dict)
    values: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Quantity:
    """A length a team plans: what the plan asks for, in the class's length unit."""

    slug: str
    label: Words
    hint: Words
    least: Fraction
    most: Fraction


@dataclass(frozen=True)
class Spot:
    """One thing to measure on the made device; several spots can belong to one quantity.

    `least` and `most` bound what can be meant, in the class's length unit. `half` asks two children
    of whom one read half of what the other did; "" where no half of it is likely.
    """

    quantity: str
    spot: int
    label: Words
    hint: Words
    least: Fraction
    most: Fraction
    half: Words = ""


@dataclass(frozen=True)
class Variable:
    """A design variable the board charts the performance against."""

    slug: str
    label: Words
    unit: Callable[[UnitSystem], Words]
    places: int = 2


@dataclass(frozen=True)
class Performance:
    """The one figure teams are compared by, which way is better, and how a child says more and less of it."""

    slug: str
    label: Words
    unit: Words
    places: int
    lower_is_better: bool
    more: Words
    less: Words


@dataclass(frozen=True)
class PlanFigures:
    """What follows from a plan's sizes.

    `material_team` goes on from the team's own accepted answers and is None until
    there is one; `material_class` is the class figure. Both in points.
    """

    variables: Mapping[str, Fraction]
    area_class: Decimal
    material_class: Decimal
    material_team: Decimal | None
    limit: Decimal


@dataclass(frozen=True)
class BuiltFigures:
    """What follows from the measured device; `over_per_cent` is 0 at or under the limit."""

    variables: Mapping[str, Fraction]
    material: Decimal
    over_per_cent: Decimal
    too_much: bool


@dataclass(frozen=True)
class ResultFigures:
    """The results of the drops that count: the class figures, and the exact ones (floats).

    `average_time_s` and `fall_speed` are the children's own chain, rounded at every
    step; `exact_time_s` and `exact_speed` come from the raw readings, unrounded.
    """

    rounded_s: tuple[Decimal, ...]
    average_time_s: Decimal
    fall_speed: Decimal
    exact_time_s: float
    exact_speed: float

    def performance(self, slug: str) -> Decimal:
        """Return the class figure that teams are compared by."""
        return self.fall_speed if slug == "fall_speed" else self.average_time_s

    def exact_performance(self, slug: str) -> float:
        """Return the exact figure behind the one that teams are compared by."""
        return self.exact_speed if slug == "fall_speed" else self.exact_time_s


@dataclass(frozen=True)
class PlanWords:
    """What a team reads while it plans: starters of sentences, reasons to tap, what to label, cautions.

    A starter ends in … where the team goes on; `reasons` are (slug, words).
    """

    purpose_starters: Sequence[Words]
    better_question: Words
    reasons: Sequence[tuple[str, Words]]
    change_starters: Sequence[Words]
    two_starters: Sequence[Words]
    drawing_labels: Sequence[Words]
    cautions: Sequence[Words]


@dataclass(frozen=True)
class FamilyWords:
    """What a family reads: what the children did, what the figure means, and what to ask a child about it.

    `figure_lower` and `figure_higher` say which way is better, for the figure that the class compares.
    """

    task: Words
    figure_lower: Words
    figure_higher: Words
    questions: Sequence[Words]


@dataclass(frozen=True)
class Allowance:
    """What a limit allows, for the teacher who sets it: a sentence, column heads, and rows of numbers."""

    sentence: Words
    head: tuple[Words, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Thing:
    """One more thing to lay out: how many of it for each device, each team or the whole class."""

    label: Words
    each: Literal["device", "team", "class"]
    count: int = 1


@dataclass(frozen=True)
class Needs:
    """What a device takes of film and string, in the class's length unit, and what else a lesson needs.

    `largest` is the diameter of the largest round piece that the limit allows, `line` the length to plan
    the lines for; `why_line` says how it was found.
    """

    piece: Words
    string: Words
    largest: Fraction
    line_count: int
    line: Fraction
    why_line: Words
    things: Sequence[Thing] = ()


@dataclass(frozen=True)
class ReadingWords:
    """How a child says of several readings that all are above, or all below, all of another build's.

    Each has {second} and {first} for the numbers of the rounds, {n} and {m} for the numbers of readings.
    """

    all_above: Words
    all_below: Words


@dataclass(frozen=True)
class Carried:
    """The standard uncertainty of a figure, from one reading and from what was set up once, in its unit."""

    reading: float
    setting_up: float

    @property
    def total(self) -> float:
        return hypot(self.reading, self.setting_up)


@dataclass(frozen=True)
class Doubt:
    """Numbers that cannot all be right, for a teacher: what cannot be, and the number to ask about."""

    what: Words
    ask: Words


class EffectModel:
    """What theory says of the log of the figure on two terms of the design, for one class's settings.

    A design is the class's sizes by variable, in its own length unit.
    """

    variables: tuple[str, str]
    terms: tuple[Words, Words]
    tied_same: Words
    tied_opposite: Words
    assumptions: Words

    def terms_of(self, design: Sizes) -> tuple[float, float]:
        """Return the two terms of a design."""
        raise NotImplementedError

    def log_figure(self, terms: tuple[float, float]) -> float:
        """Return the log of the figure that theory expects, in the figure's unit."""
        raise NotImplementedError

    def slopes(self, terms: tuple[float, float]) -> tuple[float, float]:
        """Return how the log of the figure goes with each term, the other held."""
        raise NotImplementedError

    def inside_limit(self, design: Sizes) -> bool:
        """Return whether the design keeps to the class's limit."""
        raise NotImplementedError

    def marks(self, variable: str, low: Fraction, high: Fraction, most: int) -> list[Fraction]:
        """Return at most `most` sizes from `low` to `high` that can be read off the class's tape."""
        raise NotImplementedError


class Kind:
    """A kind of challenge. Subclasses declare; the rest of the house asks and never names one."""

    slug: str
    version: int
    name: Words
    summary: Words
    setting_fields: Sequence[SettingField]
    presets: Sequence[Preset]
    plan_words: PlanWords
    family_words: FamilyWords

    def read_values(self, stored: Mapping[str, str], unit_system: str) -> dict[str, Any]:
        """Return this kind's settings as values; what was never stored takes its usual value."""
        return {
            setting.slug: setting.read(stored.get(setting.slug, setting.defaults[unit_system]))
            for setting in self.setting_fields
        }

    @staticmethod
    def system(values: Values) -> UnitSystem:
        """Return the unit system of these settings."""
        return SYSTEMS[values["unit_system"]]

    def length_unit(self, values: Values) -> Unit:
        """Return the unit lengths are written in."""
        return self.system(values).length

    def quantities(self, values: Values) -> Sequence[Quantity]:
        """Return the sizes a plan gives."""
        raise NotImplementedError

    def spots(self, values: Values) -> Sequence[Spot]:
        """Return everything to be measured on the made device, in order."""
        raise NotImplementedError

    def is_measured_twice(self, values: Values, quantity: str) -> bool:
        """Return whether two children measure each spot of a quantity, apart from each other."""
        return False

    def variables(self, values: Values) -> Sequence[Variable]:
        """Return the design variables the board shows."""
        raise NotImplementedError

    def performance(self, values: Values) -> Performance:
        """Return the figure teams are compared by under these settings."""
        raise NotImplementedError

    def plan_steps(self, values: Values) -> Sequence[Step]:
        """Return the sums of the plan, in order."""
        raise NotImplementedError

    def rounding_step(self, values: Values, trial: int) -> Step:
        """Return the step that rounds one trial's reading."""
        raise NotImplementedError

    def result_steps(self, values: Values, round_number: int) -> Sequence[Step]:
        """Return the sums of the results, in order; from round 2 on the change comes last."""
        raise NotImplementedError

    def worked_steps(self, values: Values) -> Sequence[Step]:
        """Return the sums of the results that the software works even where the children work theirs."""
        return ()

    def example(self, values: Values, seed: str) -> SumContext:
        """Return invented numbers to work the sums with, the same for the same seed."""
        raise NotImplementedError

    def sum_standards(self, values: Values, slug: str) -> Sequence[str]:
        """Return the codes of the mathematics standards that a sum works on (see `marking.standards`)."""
        return ()

    def rules(self, values: Values) -> Sequence[tuple[Words, Words]]:
        """Return what a plan must keep to (the limit, the prices), each with its name."""
        return ()

    def given(self, slug: str, context: SumContext) -> Sequence[tuple[Words, Words]]:
        """Return the numbers that a sum is worked from, each with its name, for the page to show."""
        return ()

    def table(self, slug: str, context: SumContext) -> Sequence[tuple[str, str]]:
        """Return the rows of the table that a sum is read from, or none where there is no table."""
        return ()

    def facts(self, values: Values) -> Sequence[tuple[Words, Words]]:
        """Return the rules every team works under, each with its name, for paper and for the plan."""
        return ()

    def reference_table(self, values: Values) -> Sequence[tuple[str, str]]:
        """Return the whole printed table that a sum is read from, its head first, or none."""
        return ()

    def advice(self, values: Values) -> Sequence[Words]:
        """Return what a teacher should know about these settings before saving them; it blocks nothing."""
        return ()

    def allowance(self, values: Values) -> Allowance | None:
        """Return what the limit allows under these settings, or None where a kind has no limit."""
        return None

    def needs(self, values: Values) -> Needs | None:
        """Return what to lay out before the lesson, or None where the limit allows no device at all."""
        return None

    def plan_figures(self, values: Values, sizes: Sizes, accepted: Mapping[str, Decimal]) -> PlanFigures:
        """Return what follows from a complete plan."""
        raise NotImplementedError

    def built_figures(self, values: Values, built: Mapping[tuple[str, int], Fraction]) -> BuiltFigures:
        """Return what follows from a completely measured device."""
        raise NotImplementedError

    def result_figures(self, values: Values, readings_s: Sequence[Decimal]) -> ResultFigures:
        """Return the results of the raw readings that count (at least one)."""
        raise NotImplementedError

    def fastest_possible_s(self, values: Values) -> float:
        """Return the time under which a reading cannot be, in s (free fall, say)."""
        raise NotImplementedError

    def find_doubt(
        self, values: Values, built: Mapping[tuple[str, int], Fraction], times: Sequence[tuple[int, Decimal]]
    ) -> Doubt | None:
        """Return what to ask of a measured device and its (trial, time in s), or None where they can be."""
        return None

    # --- what analysis asks --------------------------------------------------------------------------

    reading_words: ReadingWords

    def conditions(self, values: Values) -> tuple[Any, ...]:
        """Return what must be equal for two readings to be compared (the height of a drop, say)."""
        return ()

    def drop_figure(self, values: Values, reading_s: float) -> float:
        """Return the exact performance figure of one reading, or of a mean of readings, in s."""
        raise NotImplementedError

    def alike_within(self, values: Values, variable: str) -> Fraction:
        """Return how far two measurements of a variable may differ and still be called alike."""
        raise NotImplementedError

    def carried(self, values: Values, reading_s: float, readings: int) -> Carried | None:
        """Return what timing and set-up alone leave uncertain of the mean of some readings, or None."""
        return None

    def effects(self, values: Values) -> EffectModel | None:
        """Return what theory says of the design's effects, or None where a kind has no theory."""
        return None

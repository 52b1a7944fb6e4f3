"""What one class challenge knows, as plain values: read once by `records`, used by every page and file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from functools import cached_property
from typing import TYPE_CHECKING, Any, NamedTuple
from uuid import UUID

from design_challenges.kinds.base import BuiltFigures, Kind, Performance, PlanFigures, ResultFigures, Values
from design_challenges.services.rounding import round_half_up
from design_challenges.services.watches import time_that_counts
from design_challenges.services.working import Step as SumStep
from design_challenges.services.working import SumContext
from design_challenges.steps import Step
from design_challenges.words import Words

if TYPE_CHECKING:
    from classroom.models import Student, Team
    from design_challenges.models import ChallengeSettings, ClassChallenge, DesignIteration


@dataclass(frozen=True)
class SizeRecord:
    """A length as it stands: what was typed, its exact value in the class's length unit, its row's id."""

    typed: str
    value: Fraction
    row_id: int
    made_at: datetime


@dataclass(frozen=True)
class TurnRecord:
    """One row of a size measured twice: a reading (`turn` 1 or 2) or what was agreed on (0).

    `reader` is "" for a child of the team, "neighbour", or "again" for the same child once more.
    """

    size: SizeRecord
    turn: int
    student_id: int | None
    reader: str


@dataclass(frozen=True)
class NoteRecord:
    """A text or a choice as it stands."""

    text: str
    row_id: int
    made_at: datetime


@dataclass(frozen=True)
class ReadingRecord:
    """One stopwatch reading; several can stand on one drop, and the newest that is not set aside counts.

    With `watch` above 0 it is one of several stopwatches that count together.
    """

    row_id: int
    hundredths: int
    source: str
    set_aside: str = ""
    watch: int = 0

    @property
    def seconds(self) -> Decimal:
        return Decimal(self.hundredths).scaleb(-2)


@dataclass(frozen=True)
class DropRecord:
    """One drop: the reading that stands, and whether it counts and why.

    `mark` is "" or a reason's slug (see `Judgement.Reason`); a marked drop can count
    ("did not open", "tangled") or not (void).
    """

    row_id: int
    trial: int
    attempt: int
    readings: tuple[ReadingRecord, ...]
    counts: bool
    mark: str
    mark_label: Words
    note: str

    @cached_property
    def watches(self) -> tuple[ReadingRecord, ...]:
        """Return the readings that count together: the newest not set aside, and stopwatches beside it."""
        standing = [reading for reading in self.readings if not reading.set_aside]
        if not standing or not standing[-1].watch:
            return tuple(standing[-1:])
        newest = {reading.watch: reading for reading in standing}
        return tuple(newest[watch] for watch in sorted(newest))

    @cached_property
    def reading(self) -> ReadingRecord | None:
        """Return the reading that stands, its time that of all the stopwatches that count together."""
        watches = self.watches
        if len(watches) < 2:
            return watches[0] if watches else None
        time = time_that_counts([reading.hundredths for reading in watches])
        return replace(max(watches, key=lambda reading: reading.row_id), hundredths=time)

    @property
    def counted(self) -> bool:
        return self.counts and self.reading is not None

    @property
    def opened(self) -> bool:
        return self.mark not in ("not_open", "tangled")


class Try(NamedTuple):
    """One row of a step's working: a try, or (see `Working.Verdict`) how it was got, or the steps shown."""

    basis: str
    typed: str
    value: str
    verdict: str
    row_id: int
    slips: tuple[str, ...] = ()

    @property
    def is_answer(self) -> bool:
        return self.verdict in ("right", "not_yet")


@dataclass(frozen=True)
class WorkingRecord:
    """One step's tries under the numbers that stand now, oldest first.

    `accepted` is the team's own right answer, or None; `shown` says the steps were shown, `given` that the
    teacher showed them; `picked` is the slip that the team says its last answer came from, or "".
    """

    step: str
    tries: int
    accepted: Decimal | None
    shown: bool
    last_typed: str
    row_id: int
    picked: str = ""
    given: bool = False

    @property
    def stuck(self) -> bool:
        return self.accepted is None and self.tries >= 2


@dataclass(frozen=True)
class ClearanceRecord:
    """The clearance that holds for the plan as it stands."""

    by: str
    reason: str
    figure: str
    figure_from: str
    limit: str
    made_at: datetime


@dataclass
class RoundRecord:
    """One team's round as it stands, with what follows from it."""

    number: int
    kind: Kind
    values: Values
    iteration: DesignIteration
    settings_version: int
    ideas: Mapping[str, Mapping[str, SizeRecord]]
    plan: Mapping[str, SizeRecord]
    built: Mapping[tuple[str, int], SizeRecord]
    notes: Mapping[str, NoteRecord]
    noticings: Sequence[NoteRecord]
    workings: Mapping[str, Sequence[Try]]
    clearance: ClearanceRecord | None
    drops: Sequence[DropRecord]
    before: RoundRecord | None = None
    photo: UUID | None = None
    turns: Mapping[tuple[str, int], Sequence[TurnRecord]] = field(default_factory=dict)
    # The rows and settings that all this was read from; of two rounds with the same, all is the same.
    made_from: tuple[Any, ...] = field(default=(), repr=False, compare=False)

    # --- sizes -------------------------------------------------------------------------------

    @cached_property
    def trials_wanted(self) -> int:
        return int(self.values["trials_per_round"])

    @cached_property
    def sums_by_children(self) -> bool:
        return bool(self.values["sums_by"] == "children")

    @cached_property
    def tape_division(self) -> Fraction:
        """Return the smallest mark of the class's tape, as a part of the length unit."""
        return Fraction(self.values.get("tape_division", 1))

    @cached_property
    def plan_complete(self) -> bool:
        return all(quantity.slug in self.plan for quantity in self.kind.quantities(self.values))

    @cached_property
    def build_complete(self) -> bool:
        return all((spot.quantity, spot.spot) in self.built for spot in self.kind.spots(self.values))

    @cached_property
    def plan_sizes(self) -> dict[str, Fraction]:
        return {slug: size.value for slug, size in self.plan.items()}

    @cached_property
    def plan_figures(self) -> PlanFigures | None:
        if not self.plan_complete:
            return None
        return self.kind.plan_figures(self.values, self.plan_sizes, self.accepted)

    @cached_property
    def built_figures(self) -> BuiltFigures | None:
        if not self.build_complete:
            return None
        return self.kind.built_figures(self.values, {key: size.value for key, size in self.built.items()})

    @property
    def build_allowed(self) -> bool:
        """Return whether the made thing may be tested: measured, and not too far over the limit.

        Where it is, a teacher lets it pass by clearing the team by hand after it was measured.
        """
        figures = self.built_figures
        if figures is None or not figures.too_much:
            return figures is not None
        measured_at = max(size.made_at for size in self.built.values())
        by_hand = self.clearance is not None and self.clearance.by == "teacher"
        return by_hand and self.clearance is not None and self.clearance.made_at >= measured_at

    def variable(self, slug: str) -> Fraction | None:
        """Return a design variable: as built where it was measured, else as planned."""
        figures = self.built_figures or self.plan_figures
        return figures.variables[slug] if figures else None

    @cached_property
    def material_used(self) -> Decimal | None:
        """Return the material used: of the made thing where it was measured, else of the plan."""
        if self.built_figures:
            return self.built_figures.material
        if self.plan_figures is None:
            return None
        team = self.plan_figures.material_team
        return team if team is not None else self.plan_figures.material_class

    # --- trials ------------------------------------------------------------------------------

    @cached_property
    def trials(self) -> dict[int, DropRecord]:
        """Return each trial's newest attempt, by trial number."""
        newest: dict[int, DropRecord] = {}
        for drop in self.drops:
            if drop.trial not in newest or drop.attempt > newest[drop.trial].attempt:
                newest[drop.trial] = drop
        return dict(sorted(newest.items()))

    @cached_property
    def counting(self) -> list[DropRecord]:
        """Return the drops that count, in the order of their trials."""
        return [drop for drop in self.trials.values() if drop.counted]

    @property
    def broke(self) -> str:
        """Return how the team went on after it broke: "", "same", "new" or "no_more"."""
        note = self.notes.get("broke")
        return note.text if note else ""

    @cached_property
    def trials_expected(self) -> int:
        """Return how many drops the sums wait for: fewer than usual once it cannot be mended."""
        return len(self.counting) if self.broke == "no_more" and self.counting else self.trials_wanted

    @cached_property
    def trials_complete(self) -> bool:
        return bool(self.counting) and len(self.counting) >= self.trials_expected

    @property
    def next_trial(self) -> int | None:
        """Return the next trial to drop, or None when all are in."""
        if self.broke == "no_more" and self.counting:
            return None
        return next((n for n in range(1, self.trials_wanted + 1) if not self._counts(n)), None)

    def _counts(self, trial: int) -> bool:
        return trial in self.trials and self.trials[trial].counted

    @property
    def voids(self) -> int:
        """Return how many drops of the round the team itself called void."""
        return sum(1 for drop in self.drops if not drop.counts and drop.mark in ("timing", "hit", "release"))

    @property
    def opened_count(self) -> int:
        return sum(1 for drop in self.counting if drop.opened)

    # --- results -----------------------------------------------------------------------------

    @cached_property
    def results(self) -> ResultFigures | None:
        """Return the figures of the drops that count so far, or None before the first."""
        readings = [drop.reading.seconds for drop in self.counting if drop.reading is not None]
        return self.kind.result_figures(self.values, readings) if readings else None

    @cached_property
    def performance(self) -> Performance:
        return self.kind.performance(self.values)

    @cached_property
    def figure(self) -> Decimal | None:
        """Return the performance figure (the class figure), once every drop that is expected is in."""
        if self.results is None or not self.trials_complete:
            return None
        return self.results.performance(self.performance.slug)

    @cached_property
    def exact_figure(self) -> float | None:
        if self.results is None or not self.trials_complete:
            return None
        return self.results.exact_performance(self.performance.slug)

    # --- sums --------------------------------------------------------------------------------

    @cached_property
    def accepted(self) -> dict[str, Decimal]:
        """Return the team's own accepted answers that still hold, by step."""
        accepted: dict[str, Decimal] = {}
        for step in self._steps_in_order():
            answer = self._judge(step, self._context(accepted)).accepted
            if answer is not None:
                accepted[step.slug] = answer
        return accepted

    def working(self, step: SumStep) -> WorkingRecord:
        """Return where the team stands at one step."""
        if step.slug not in self._judged:
            self._judged[step.slug] = self._judge(step, self.context())
        return self._judged[step.slug]

    def context(self) -> SumContext:
        """Return what a step of the sums is worked from."""
        return self._full_context

    @cached_property
    def _judged(self) -> dict[str, WorkingRecord]:
        return {}

    @cached_property
    def _full_context(self) -> SumContext:
        return self._context(self.accepted)

    def basis(self, step: SumStep) -> str:
        """Return the numbers a step is worked from, as text: an answer goes stale when they change."""
        return step.basis(self.context())

    @cached_property
    def rounding_steps(self) -> dict[int, SumStep]:
        """Return the rounding step of each drop that counts, by trial."""
        return {drop.trial: self.kind.rounding_step(self.values, drop.trial) for drop in self.counting}

    @cached_property
    def result_steps(self) -> list[SumStep]:
        return list(self.kind.result_steps(self.values, self.number if self.before_figure is not None else 1))

    @cached_property
    def before_figure(self) -> Decimal | None:
        """Return the figure of the round before, where it is the same figure in the same unit."""
        if self.before is None:
            return None
        then, now = self.before.performance, self.performance
        alike = then.slug == now.slug and str(then.unit) == str(now.unit)
        return self.before.figure if alike else None

    def _steps_in_order(self) -> list[SumStep]:
        plan = list(self.kind.plan_steps(self.values)) if self.plan_complete else []
        rounding = list(self.rounding_steps.values())
        return plan + rounding + (self.result_steps if self.trials_complete else [])

    @cached_property
    def _bare_context(self) -> SumContext:
        before = {} if self.before_figure is None else {"performance": self.before_figure}
        now = {} if self.figure is None else {"performance": self.figure}
        return SumContext(
            settings=self.values,
            sizes=self.plan_sizes,
            readings=tuple(drop.reading.seconds for drop in self.counting if drop.reading is not None),
            trials=tuple(drop.trial for drop in self.counting),
            accepted={},
            before=before,
            now=now,
        )

    def _context(self, accepted: Mapping[str, Decimal]) -> SumContext:
        return replace(self._bare_context, accepted=accepted)

    def _judge(self, step: SumStep, context: SumContext) -> WorkingRecord:
        basis = step.basis(context)
        rows = [row for row in self.workings.get(step.slug, ()) if row.basis == basis]
        answer = next((Decimal(row.value) for row in reversed(rows) if row.verdict == "right"), None)
        typed = [row for row in rows if row.is_answer]
        picks = [row for row in rows if row.verdict == "picked" and typed and row.row_id > typed[-1].row_id]
        return WorkingRecord(
            step=step.slug,
            tries=len(typed),
            accepted=answer,
            shown=any(row.verdict in ("shown", "given") for row in rows),
            last_typed=typed[-1].typed if typed else "",
            row_id=rows[-1].row_id if rows else 0,
            picked="".join(picks[-1].slips) if picks else "",
            given=any(row.verdict == "given" for row in rows),
        )


@dataclass
class TeamRecord:
    """One team: its children by round, its rounds, and what the dashboard shows of it."""

    team: Team
    place: int
    members_by_round: Mapping[int, Sequence[Student]]
    rounds: dict[int, RoundRecord] = field(default_factory=dict)
    away: frozenset[int] = frozenset()
    help_since: datetime | None = None
    last_seen_at: datetime | None = None

    def members(self, number: int) -> Sequence[Student]:
        """Return who is in the team in a round."""
        known = [n for n in self.members_by_round if n <= number]
        return self.members_by_round[max(known)] if known else ()

    @property
    def names(self) -> str:
        """Return who is in the team now, in one line."""
        return ", ".join(str(student) for student in self.members(max(self.rounds, default=1)))

    def present(self, number: int) -> Sequence[Student]:
        """Return who of a round's team is there in the open lesson; all of them where nobody has said."""
        members = self.members(number)
        return [student for student in members if student.pk not in self.away] or members

    @property
    def current(self) -> RoundRecord | None:
        """Return the round the team is in, or None before it began."""
        return self.rounds[max(self.rounds)] if self.rounds else None

    def change(self) -> Decimal | None:
        """Return round 2's class figure minus round 1's, or None where one is missing."""
        second = self.rounds.get(2)
        if second is None or second.figure is None or second.before_figure is None:
            return None
        return round_half_up(second.figure - second.before_figure, second.performance.places)


@dataclass
class ClassRecord:
    """A class challenge as it stands: settings, open steps and every team in team order."""

    challenge: ClassChallenge
    kind: Kind
    settings: ChallengeSettings
    values: Values
    gates: Mapping[tuple[int | None, int, str], bool]
    teams: Sequence[TeamRecord]

    def is_open(self, team_id: int, number: int, step: Step | str) -> bool:
        """Return whether a step of a round is open for a team: its own gate first, then the class's.

        With no gate set, round 1 is open and later rounds wait for the teacher.
        """
        slug = str(step)
        own = self.gates.get((team_id, number, slug))
        if own is not None:
            return own
        return self.gates.get((None, number, slug), number == 1)

    def team(self, team_id: int) -> TeamRecord:
        """Return one team's record; KeyError where it is not in the class challenge."""
        for record in self.teams:
            if record.team.pk == team_id:
                return record
        raise KeyError(team_id)

"""Plays a team's round entry by entry, as its tablet would send it: for the invented class and for tests."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import Any

from classroom.models import Student, Team
from design_challenges.models import ClassChallenge, Drop
from design_challenges.services import saving
from design_challenges.services.direction import true_direction
from design_challenges.services.entries import Author, Sender, save_entry
from design_challenges.services.lengths import parse_length
from design_challenges.services.readiness import changed_quantities, is_ready, judge_material
from design_challenges.services.record_types import RoundRecord
from design_challenges.services.records import load_team
from design_challenges.services.rounding import round_half_up
from design_challenges.services.working import Right, check
from design_challenges.services.working import Step as Sum

Typed = Mapping[str, str]


@dataclass(frozen=True)
class DropPlay:
    """One drop: its reading in hundredths of a second, or None for one called void before its time was seen.

    `mark` is "" or a reason's slug: why it is void, or how it opened. `corrected` is the time
    that the teacher puts in its place before the sums, with `note` as the reason.
    """

    trial: int
    hundredths: int | None
    mark: str = ""
    confirmed: bool = False
    corrected: int | None = None
    note: str = ""


@dataclass(frozen=True)
class RoundPlay:
    """What a team types in one round; what is left out is not done.

    `ideas` are the sizes of idea "a" and "b" as typed, by quantity; `plan` those of a round
    without ideas. `notes` are texts and choices by prompt. `tries` are answers that are not
    right, or slugs of slips, by sum, typed before the right one. `built` holds what was read
    off the made thing, by quantity, spot after spot ("" where nothing stands yet). Where sizes are
    measured twice, `readings` holds what the two `readers` read apart, and `built` what they agreed
    on. `cleared_by_hand` is a teacher's reason. `stop` ends the play in a step ("plan", "ready",
    "build", "test", "compare"), or at a sum after its `tries`.
    """

    ideas: Mapping[str, Typed] = field(default_factory=dict)
    plan: Typed = field(default_factory=dict)
    notes: Typed = field(default_factory=dict)
    tries: Mapping[str, Sequence[str]] = field(default_factory=dict)
    cleared_by_hand: str = ""
    built: Mapping[str, Sequence[str]] = field(default_factory=dict)
    readings: Mapping[str, Sequence[tuple[str, str]]] = field(default_factory=dict)
    readers: Sequence[Student] = ()
    drops: Sequence[DropPlay] = ()
    stop: str = ""


def play_round(
    challenge: ClassChallenge,
    team: Team,
    number: int,
    play: RoundPlay,
    sender: Sender,
    *,
    teacher: Sender | None = None,
) -> RoundRecord:
    """Play a round to its end or to `play.stop`, one submission an entry, and return its record."""
    return _Player(challenge, team, number, play, sender, teacher).play()


class _StoppedError(Exception):
    """The team has come as far as the play lets it."""


class _Player:
    def __init__(
        self,
        challenge: ClassChallenge,
        team: Team,
        number: int,
        play: RoundPlay,
        sender: Sender,
        teacher: Sender | None,
    ) -> None:
        self.challenge, self.team, self.number = challenge, team, number
        self.given, self.sender, self.teacher = play, sender, teacher
        self._record: RoundRecord | None = None

    def play(self) -> RoundRecord:
        self.entry("start", {}, self.start)
        try:
            for step in (self.plan, self.ready, self.build, self.test, self.results, self.compare):
                step()
                self.stop_at(step.__name__)
        except _StoppedError:
            pass
        self._record = None
        return self.record()

    def start(self, _author: Author) -> None:
        saving.start_round(self.challenge, self.team, self.number)

    def stop_at(self, place: str) -> None:
        if self.given.stop == place:
            raise _StoppedError

    def record(self) -> RoundRecord:
        """Return the round as it stands, read again where an entry changed what sums are worked from."""
        if self._record is None:
            self._record = load_team(self.challenge, self.team).teams[0].rounds[self.number]
        return self._record

    def entry(
        self,
        page: str,
        body: Mapping[str, Any],
        effect: Callable[[Author], Any],
        sender: Sender | None = None,
        *,
        changes: bool = True,
    ) -> None:
        def save(author: Author) -> str:
            effect(author)
            return ""

        full = {**body, "page": f"{self.number}/{page}"}
        save_entry(self.challenge, sender or self.sender, uuid.uuid4(), full, save)
        if changes:
            self._record = None

    # --- steps -------------------------------------------------------------------------------

    def plan(self) -> None:
        record, notes = self.record(), self.given.notes
        self.write(record, ["purpose"])
        for letter, sizes in self.given.ideas.items():
            self.sizes(record, f"idea_{letter}", {quantity: [typed] for quantity, typed in sizes.items()})
        self.write(record, ["meets_limit", "slower", "why"])
        if "chosen" in notes:
            record = self.record()
            self.entry(
                "plan/choose",
                {"chosen": notes["chosen"]},
                lambda author: saving.choose_idea(record, notes["chosen"], author),
            )
        self.write(record, ["change", "change_why"])
        if self.given.plan:
            self.sizes(record, "planned", {quantity: [typed] for quantity, typed in self.given.plan.items()})
        record = self.record()
        if len(changed_quantities(record)) > 1:
            self.write(record, ["change_two"])
        if record.plan_complete and record.sums_by_children:
            for step in record.kind.plan_steps(record.values):
                self.work(step)
        self.write(record, ["drawing"])

    def ready(self) -> None:
        record = self.record()
        judgement = judge_material(record)
        if judgement is None:
            raise _StoppedError
        by_hand = self.given.cleared_by_hand
        if not by_hand and not is_ready(record):
            raise _StoppedError
        self.entry(
            "ready",
            {"reason": by_hand},
            lambda author: saving.clear_team(
                record,
                "teacher" if by_hand else "check",
                author,
                figure=judgement.figure,
                figure_from=judgement.figure_from,
                reason=by_hand,
            ),
            self.teacher if by_hand else None,
        )

    def build(self) -> None:
        if self.given.readings:
            self.measure_twice()
        else:
            self.sizes(self.record(), "built", self.given.built)
        if not self.record().build_complete:
            raise _StoppedError

    def measure_twice(self) -> None:
        """Let the first child read everything, then the second; where they differ, the pair agrees."""
        record = self.record()
        for turn, reader in enumerate(self.given.readers, start=1):
            for quantity, pairs in self.given.readings.items():
                self.read(record, quantity, pairs, turn, reader)
        for quantity, texts in self.given.built.items():
            for spot, text in enumerate(texts, start=1):
                one, other = self.given.readings[quantity][spot - 1]
                if text and one != other:
                    self.sizes(record, "built", {quantity: [""] * (spot - 1) + [text]})

    def read(
        self,
        record: RoundRecord,
        quantity: str,
        pairs: Sequence[tuple[str, str]],
        turn: int,
        reader: Student,
    ) -> None:
        unit = record.kind.length_unit(record.values)

        def save(author: Author) -> None:
            for spot, pair in enumerate(pairs, start=1):
                length = parse_length(pair[turn - 1], unit)
                about = (record.iteration, "built", quantity, length, author)
                saving.save_size(*about, spot=spot, student=reader, turn=turn)
                if turn == 2 and pair[0] == pair[1]:
                    # Two readings that say the same are agreed on at once.
                    saving.save_size(*about, spot=spot)

        typed = {f"{quantity}_{spot}": pair[turn - 1] for spot, pair in enumerate(pairs, start=1)}
        self.entry("build", {**typed, "turn": turn, "who": reader.pk}, save)

    def test(self) -> None:
        record = self.record()
        for drop in self.given.drops:
            self.drop(record, drop)
            if "broke" in self.given.notes and drop is self.given.drops[0]:
                self.broke(self.given.notes["broke"])
        record = self.record()
        if record.sums_by_children:
            for step in record.rounding_steps.values():
                self.work(step)
            self._record = None
        if not record.trials_complete:
            raise _StoppedError

    def broke(self, outcome: str) -> None:
        record = self.record()
        self.entry(
            "test/broke",
            {"broke": outcome},
            lambda author: saving.save_breakage(record, outcome, author),
        )

    def drop(self, record: RoundRecord, drop: DropPlay) -> None:
        body = {"trial": drop.trial, "hundredths": drop.hundredths, "mark": drop.mark}
        hundredths = drop.hundredths
        if hundredths is None:
            self.entry(
                "test/void",
                body,
                lambda author: saving.void_drop(record.iteration, drop.trial, drop.mark, author),
            )
            return
        self.entry(
            "test",
            body,
            lambda author: saving.save_reading(
                record.iteration,
                drop.trial,
                hundredths,
                author,
                confirmed=drop.confirmed,
                mark=drop.mark,
                seen=0,
            ),
        )
        if drop.corrected is not None:
            self.correct(drop.trial, drop.corrected, drop.note)

    def correct(self, trial: int, hundredths: int, note: str) -> None:
        standing = Drop.objects.get(pk=self.record().trials[trial].row_id)
        self.entry(
            "test/correct",
            {"trial": trial, "hundredths": hundredths, "note": note},
            lambda author: saving.correct_reading(standing, hundredths, note, author),
            self.teacher,
        )

    def results(self) -> None:
        record = self.record()
        if record.sums_by_children:
            for step in record.result_steps:
                self.work(step)
        text = true_direction(record)
        if text:
            self.entry(
                "results",
                {"direction": text},
                lambda author: saving.save_note(record.iteration, "direction", text, author),
            )

    def compare(self) -> None:
        self.write(self.record(), ["noticing"])

    # --- entries -----------------------------------------------------------------------------

    def write(self, record: RoundRecord, prompts: Iterable[str]) -> None:
        texts = {prompt: self.given.notes[prompt] for prompt in prompts if prompt in self.given.notes}

        def save(author: Author) -> None:
            for prompt, text in texts.items():
                saving.save_note(record.iteration, prompt, text, author)

        if texts:
            self.entry("words", texts, save)

    def sizes(self, record: RoundRecord, stage: str, typed: Mapping[str, Sequence[str]]) -> None:
        unit = record.kind.length_unit(record.values)
        fields = {
            (slug, spot): text
            for slug, texts in typed.items()
            for spot, text in enumerate(texts, start=1)
            if text
        }

        def save(author: Author) -> None:
            for (quantity, spot), text in fields.items():
                length = parse_length(text, unit)
                saving.save_size(record.iteration, stage, quantity, length, author, spot=spot)

        if fields:
            self.entry(stage, {f"{slug}_{spot}": text for (slug, spot), text in fields.items()}, save)

    def work(self, step: Sum) -> None:
        """Type the tries that are not right, then what is."""
        for attempt in self.given.tries.get(step.slug, ()):
            typed = typed_for(step, self.record(), attempt)
            if typed is not None:
                self.answer(step, typed)
        self.stop_at(step.slug)
        right = step.right(self.record().context())
        self.answer(step, f"{right.lowest:f}")

    def answer(self, step: Sum, typed: str) -> None:
        record = self.record()
        verdict = check(step, record.context(), typed, record.working(step).tries)
        self.entry(
            f"sums/{step.slug}",
            {"answer": typed},
            lambda author: saving.save_working(
                record.iteration,
                step.slug,
                record.basis(step),
                typed,
                verdict.outcome,
                author,
                value=verdict.value,
                slips=list(verdict.slips),
            ),
            # A try that is not right leaves every other number as it was.
            changes=verdict.outcome == "right" and not step.slug.startswith("rounded_"),
        )


def typed_for(step: Sum, record: RoundRecord, attempt: str) -> str | None:
    """What a team types that makes the slip named `attempt`; any other text is typed as it stands.

    None where the slip leads to a right answer with this team's numbers.
    """
    slip = next((slip for slip in step.slips if slip.slug == attempt), None)
    if slip is None:
        return attempt
    context = record.context()
    places = step.right(context).places
    for wrong in slip.wrong(context):
        value = wrong.lowest if isinstance(wrong, Right) else Fraction(wrong)
        rounded = round_half_up(value, 2 if places is None else places)
        if not step.right(context).accepts(rounded):
            return _short(rounded)
    return None


def _short(value: Decimal) -> str:
    return f"{value:f}".rstrip("0").rstrip(".") if "." in f"{value:f}" else f"{value:f}"

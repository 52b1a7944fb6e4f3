"""Everything a team entered, round by round, with what it replaced: old values are kept and shown."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from typing import TypeVar

from django.db.models import Q
from django.utils.translation import gettext as _

from classroom.models import Device, Team
from design_challenges.kinds.base import Spot
from design_challenges.models import ClassChallenge, Clearance, Judgement, Measurement, Note, Photo, Reading
from design_challenges.models.iteration import EntryRow
from design_challenges.services.change_words import exact_beside
from design_challenges.services.dashboard import due_sums
from design_challenges.services.record_types import DropRecord, RoundRecord, TeamRecord, Try
from design_challenges.services.rounding import format_figure
from design_challenges.services.turns import pair_of
from design_challenges.services.unplaced import DEALT_WITH
from design_challenges.services.working import Step
from design_challenges.words import Words

Row = TypeVar("Row", bound=EntryRow)


@dataclass(frozen=True)
class Value:
    """One value of a field: as it was typed, by whom, when, and a remark."""

    text: str
    by: str
    at: datetime
    remark: str = ""


@dataclass(frozen=True)
class Field:
    """A field of a round: its value now (None where nothing was entered) and the older ones, newest first.

    `key` names it for a correction: stage, quantity and spot of a size, or a note's prompt. `readings` are
    those of a size measured twice, in order; `undecided` says that two of them wait for an agreement.
    """

    label: Words
    key: tuple[str, ...]
    unit: Words
    now: Value | None
    older: tuple[Value, ...]
    readings: tuple[Value, ...] = ()
    undecided: bool = False


@dataclass(frozen=True)
class DropField:
    """One drop: its time now, its older and set-aside readings, what was said, its several watches."""

    drop: DropRecord
    seconds: Decimal | None
    rounded: str
    others: tuple[Value, ...]
    said: tuple[Value, ...]
    watches: tuple[Value, ...] = ()


@dataclass(frozen=True)
class SumField:
    """One sum: every try in order, and whether it is right, not yet, or its steps were shown."""

    slug: str
    label: Words
    unit: Words
    tries: tuple[str, ...]
    accepted: str
    shown: bool
    given: bool
    stuck: bool


@dataclass(frozen=True)
class RoundHistory:
    """Everything of one round."""

    record: RoundRecord
    ideas: tuple[Field, ...]
    plan: tuple[Field, ...]
    notes: tuple[Field, ...]
    built: tuple[Field, ...]
    drops: tuple[DropField, ...]
    sums: tuple[SumField, ...]
    clearances: tuple[Value, ...]
    photos: tuple[Photo, ...]
    average: str
    figure: str
    exact: str


@dataclass(frozen=True)
class UnplacedReading:
    """A time of the team's that found no drop."""

    row_id: int
    seconds: Decimal
    at: datetime


@dataclass(frozen=True)
class TeamHistory:
    """Everything of a team, the latest round first; `unplaced` are readings that belong to no drop."""

    rounds: tuple[RoundHistory, ...]
    unplaced: tuple[UnplacedReading, ...]


def load_history(challenge: ClassChallenge, team: TeamRecord) -> TeamHistory:
    """Read everything a team entered, in a fixed number of queries."""
    return load_histories(challenge, [team])[team.team.pk]


def load_histories(
    challenge: ClassChallenge, teams: Sequence[TeamRecord], *, clearances: bool = True
) -> dict[int, TeamHistory]:
    """Read everything that some teams entered, by team, in as many queries as for one.

    Without `clearances` a query less: those that no longer hold are left out.
    """
    rows = _Rows(challenge, teams, clearances=clearances)
    return {
        team.team.pk: TeamHistory(
            rounds=tuple(
                _round(record, rows) for record in sorted(team.rounds.values(), key=lambda one: -one.number)
            ),
            unplaced=tuple(
                UnplacedReading(reading.pk, Decimal(reading.hundredths).scaleb(-2), reading.made_at)
                for reading in rows.unplaced
                if reading.team_id == team.team.pk
            ),
        )
        for team in teams
    }


class _Rows:
    """Some teams' rows with their authors, grouped by round."""

    def __init__(self, challenge: ClassChallenge, teams: Sequence[TeamRecord], *, clearances: bool) -> None:
        ids = [record.iteration.pk for team in teams for record in team.rounds.values()]
        self.sizes = _by_round(
            Measurement.objects.filter(iteration_id__in=ids).select_related(*_AUTHOR, "student")
        )
        self.notes = _by_round(Note.objects.filter(iteration_id__in=ids).select_related(*_AUTHOR))
        cleared = Clearance.objects.filter(iteration_id__in=ids if clearances else ())
        self.clearances = _by_round(cleared.select_related(*_AUTHOR))
        self.photos: dict[int, list[Photo]] = _by_round(Photo.objects.filter(iteration_id__in=ids))
        self.readings: dict[int, list[Reading]] = defaultdict(list)
        self.unplaced: list[Reading] = []
        own = Q(drop__iteration_id__in=ids)
        unplaced = Q(
            drop__isnull=True, team_id__in=[team.team.pk for team in teams], class_challenge=challenge
        )
        unplaced &= ~DEALT_WITH
        for reading in Reading.objects.filter(own | unplaced).select_related(*_AUTHOR):
            if reading.drop_id is None:
                self.unplaced.append(reading)
            else:
                self.readings[reading.drop_id].append(reading)
        self.on_drop: dict[int, list[Judgement]] = defaultdict(list)
        self.on_reading: dict[int, list[Judgement]] = defaultdict(list)
        judged = Judgement.objects.filter(drop__iteration_id__in=ids) | Judgement.objects.filter(
            reading__drop__iteration_id__in=ids
        )
        for judgement in judged.select_related(*_AUTHOR).order_by("pk"):
            if judgement.drop_id is not None:
                self.on_drop[judgement.drop_id].append(judgement)
            else:
                self.on_reading[judgement.reading_id or 0].append(judgement)


_AUTHOR = ("user", "submission__device")


def _by_round(rows: Iterable[Row]) -> dict[int, list[Row]]:
    grouped: dict[int, list[Row]] = defaultdict(list)
    for row in rows:
        grouped[row.iteration_id].append(row)  # type: ignore[attr-defined]
    return grouped


def author(row: EntryRow) -> str:
    """Return who entered a row, as the teacher reads it."""
    if row.user is not None:
        return row.user.get_username()
    device = row.submission.device if row.submission else None
    if device is not None and device.role == Device.Role.SUBSTITUTE:
        return _("the substitute")
    if device is not None and device.role == Device.Role.STATION:
        return _("the timing station")
    return _("the team")


def _round(record: RoundRecord, rows: _Rows) -> RoundHistory:
    pk = record.iteration.pk
    sizes = rows.sizes[pk]
    unit = record.kind.length_unit(record.values).symbol
    quantities = list(record.kind.quantities(record.values))
    results, performance = record.results, record.performance
    return RoundHistory(
        record=record,
        ideas=tuple(
            _size_field(sizes, stage, quantity.slug, 1, f"{quantity.label}, {words}", unit)
            for stage, words in (
                (Measurement.Stage.IDEA_A, _("idea A")),
                (Measurement.Stage.IDEA_B, _("idea B")),
            )
            for quantity in quantities
        )
        if record.number == 1
        else (),
        plan=tuple(
            _size_field(sizes, Measurement.Stage.PLANNED, quantity.slug, 1, quantity.label, unit)
            for quantity in quantities
        ),
        notes=_notes(record, rows.notes[pk]),
        built=tuple(_built_field(sizes, record, spot, unit) for spot in record.kind.spots(record.values)),
        drops=tuple(_drop(record, drop, rows) for drop in record.drops),
        sums=tuple(_sums(record)),
        clearances=tuple(
            Value(_cleared(row), author(row), row.made_at, row.reason)
            for row in reversed(rows.clearances[pk])
        ),
        photos=tuple(rows.photos[pk]),
        average=""
        if results is None
        else format_figure(results.average_time_s, record.values["places_time"]),
        figure="" if record.figure is None else format_figure(record.figure, performance.places),
        exact=exact_beside(record),
    )


def _size_field(
    rows: Sequence[Measurement], stage: str, quantity: str, spot: int, label: Words, unit: str
) -> Field:
    own = [row for row in rows if (row.stage, row.quantity, row.spot, row.turn) == (stage, quantity, spot, 0)]
    values = [
        Value(_typed(row, unit), author(row), row.made_at, str(row.student) if row.student else "")
        for row in reversed(own)
    ]
    return _field(label, (stage, quantity, str(spot)), unit, values)


def _built_field(rows: Sequence[Measurement], record: RoundRecord, spot: Spot, unit: str) -> Field:
    """Return a measured size with the readings of both children, all of them, where it is measured twice."""
    stage = Measurement.Stage.BUILT
    field = _size_field(rows, stage, spot.quantity, spot.spot, spot.label, unit)
    own = [
        row
        for row in rows
        if (row.stage, row.quantity, row.spot) == (stage, spot.quantity, spot.spot) and row.turn
    ]
    readings = tuple(Value(_typed(row, unit), author(row), row.made_at, _reader(row)) for row in own)
    return replace(field, readings=readings, undecided=pair_of(record, spot).waits_for_both)


def _reader(row: Measurement) -> str:
    """Return who took one of two readings."""
    who = str(row.student) if row.student else ""
    return ", ".join(part for part in (who, str(row.get_reader_display()) if row.reader else "") if part)


def _typed(row: Measurement, unit: str) -> str:
    """Return a length as it was typed, with the class's unit where none was typed."""
    return (
        row.typed
        if any(character.isalpha() or character in "\"'″′" for character in row.typed)
        else (f"{row.typed} {row.unit or unit}")
    )


def _choices(record: RoundRecord) -> dict[str, dict[str, Words]]:
    """Return what a team chose from a list, in words, by prompt."""
    idea: dict[str, Words] = {"a": _("idea A"), "b": _("idea B"), "both": _("both"), "neither": _("neither")}
    return {
        Note.Prompt.CHOSEN: idea,
        Note.Prompt.MEETS_LIMIT: idea,
        Note.Prompt.SLOWER: idea,
        Note.Prompt.CHANGE: {
            quantity.slug: quantity.label for quantity in record.kind.quantities(record.values)
        },
        Note.Prompt.DRAWING: {
            "paper": _("on paper"),
            "photo": _("photographed"),
            "sketch": _("sketched on the screen"),
            "later": _("later"),
        },
        Note.Prompt.BROKE: {
            "same": _("mended, same sizes"),
            "new": _("mended with new sizes"),
            "no_more": _("cannot be mended: the drops there are count"),
        },
    }


def _notes(record: RoundRecord, rows: Sequence[Note]) -> tuple[Field, ...]:
    fields = []
    choices = _choices(record)
    for prompt, label in Note.Prompt.choices:
        words = choices.get(prompt, {})
        own = [row for row in rows if row.prompt == prompt]
        if own:
            values = [
                Value(str(words.get(row.text, row.text)), author(row), row.made_at) for row in reversed(own)
            ]
            fields.append(_field(label, (prompt,), "", values))
    return tuple(fields)


def _field(label: Words, key: tuple[str, ...], unit: Words, values: Sequence[Value]) -> Field:
    """Return a field from its values, newest first; the same value entered twice shows once."""
    older: list[Value] = []
    for value in values[1:]:
        if value.text != (older[-1] if older else values[0]).text:
            older.append(value)
    return Field(label, key, unit, values[0] if values else None, tuple(older))


def _cleared(row: Clearance) -> str:
    by = _("by hand") if row.by == Clearance.By.TEACHER else _("by the readiness check")
    if not row.figure:
        return by
    return _("{by}: {figure} of {limit} points").format(by=by, figure=row.figure, limit=row.limit)


def _drop(record: RoundRecord, drop: DropRecord, rows: _Rows) -> DropField:
    standing = drop.reading
    rounded = ""
    if drop in record.counting and record.results is not None:
        place = record.counting.index(drop)
        rounded = format_figure(record.results.rounded_s[place], record.values["places_time"])
    others = []
    together = {reading.row_id for reading in drop.watches} if len(drop.watches) > 1 else set()
    for reading in rows.readings[drop.row_id]:
        if reading.pk in together or (standing is not None and reading.pk == standing.row_id):
            continue
        judged = rows.on_reading[reading.pk]
        remark = ""
        if judged:
            remark = judged[-1].note or judged[-1].get_reason_display()
        others.append(
            Value(f"{Decimal(reading.hundredths).scaleb(-2)} s", author(reading), reading.made_at, remark)
        )
    said = tuple(
        Value(
            _("counts") if judgement.counts else _("does not count"),
            author(judgement),
            judgement.made_at,
            judgement.note or str(judgement.get_reason_display()),
        )
        for judgement in reversed(rows.on_drop[drop.row_id])
    )
    watches = tuple(
        Value(f"{Decimal(reading.hundredths).scaleb(-2)} s", author(reading), reading.made_at)
        for reading in rows.readings[drop.row_id]
        if reading.pk in together
    )
    return DropField(drop, standing.seconds if standing else None, rounded, tuple(others), said, watches)


def _sums(record: RoundRecord) -> Iterable[SumField]:
    """Yield the sums of a round that are due, in order, with every try at them."""
    if not record.sums_by_children:
        return
    for step in due_sums(record):
        tries = record.workings.get(step.slug, ())
        work = record.working(step)
        yield SumField(
            slug=step.slug,
            label=step.label,
            unit=step.unit,
            tries=tuple(_said_of(step, row) for row in tries),
            accepted="" if work.accepted is None else f"{work.accepted:f}",
            shown=work.shown,
            given=work.given,
            stuck=work.stuck,
        )


def _said_of(step: Step, row: Try) -> str:
    """Return a row of a sum's working in words: what was typed, how it was got, or that steps were shown."""
    if row.verdict == "shown":
        return _("steps shown")
    if row.verdict == "given":
        return _("steps shown by the teacher")
    if row.verdict == "picked":
        slip = step.slip("".join(row.slips))
        return _("“{how}”").format(how=slip.how if slip else _("another way"))
    return row.typed


def find_team(challenge: ClassChallenge, team_id: int) -> Team | None:
    """Return a team of the challenge's class, or None."""
    return Team.objects.filter(classroom_id=challenge.classroom_id, pk=team_id).first()

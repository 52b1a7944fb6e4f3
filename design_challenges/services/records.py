"""Reads a class challenge from the database in a fixed number of queries, whatever the number of teams."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from typing import Any, TypeVar

from django.db.models import Exists, OuterRef, QuerySet, Subquery

from classroom.models import Attendance, Classroom, Device, Student, Team, TeamMember
from design_challenges.kinds import get_kind
from design_challenges.kinds.base import Kind
from design_challenges.models import (
    ChallengeSettings,
    ClassChallenge,
    Clearance,
    DesignIteration,
    Drop,
    ExitQuestion,
    HelpCall,
    Judgement,
    Measurement,
    Note,
    Photo,
    StepGate,
    Working,
)
from design_challenges.services.record_types import (
    ClassRecord,
    ClearanceRecord,
    DropRecord,
    NoteRecord,
    ReadingRecord,
    RoundRecord,
    SizeRecord,
    TeamRecord,
    Try,
    TurnRecord,
)
from design_challenges.services.units import UNITS, convert

Row = TypeVar("Row", Measurement, Note, Working, Clearance)


def settings_values(settings: ChallengeSettings, kind: Kind) -> dict[str, Any]:
    """Return a settings version as the values that kinds and sums read."""
    return {
        "unit_system": settings.unit_system,
        "trials_per_round": settings.trials_per_round,
        "sums_by": settings.sums_by,
        "average": settings.average,
        "drawing_required": settings.drawing_required,
        **kind.read_values(settings.values, settings.unit_system),
    }


def find_challenge(classroom: Classroom) -> ClassChallenge | None:
    """Return the class's challenge with its revision and newest settings, in one query."""
    newest = (
        ChallengeSettings.objects.filter(class_challenge__classroom=classroom)
        .select_related("class_challenge__revision")
        .annotate(
            exit_question=Subquery(
                ExitQuestion.objects.filter(
                    class_challenge=OuterRef("class_challenge"), closed_at__isnull=True
                ).values("pk")[:1]
            )
        )
        .order_by("class_challenge_id", "-version")
        .first()
    )
    if newest is None:
        return None
    challenge = newest.class_challenge
    challenge.classroom = classroom
    challenge.newest_settings = newest
    challenge.exit_question_id = newest.exit_question
    return challenge


def latest_settings(challenge: ClassChallenge) -> ChallengeSettings:
    """Return the settings that the next round will begin with."""
    if challenge.newest_settings is not None:
        return challenge.newest_settings
    return challenge.settings_versions.order_by("-version")[:1].get()


def load_class(challenge: ClassChallenge, *, include_retired: bool = False) -> ClassRecord:
    """Return everything a class challenge knows, teams in team order.

    Retired teams (merged ones, say) are left out unless asked for; their rows stay.
    """
    teams = Team.objects.filter(classroom_id=challenge.classroom_id)
    if not include_retired:
        teams = teams.filter(retired_at__isnull=True)
    return _load(challenge, list(_with_presence(teams, challenge)))


def load_team(challenge: ClassChallenge, team: Team) -> ClassRecord:
    """Return the record of one team alone, in two queries fewer than `load_class`."""
    return _load(challenge, [team])


def _with_presence(teams: QuerySet[Team], challenge: ClassChallenge) -> QuerySet[Team]:
    seen = Device.objects.filter(team=OuterRef("pk"), revoked_at__isnull=True).order_by("-last_seen_at")
    return teams.annotate(
        help_since=_help_since(challenge, "pk"),
        last_seen_at=Subquery(seen.values("last_seen_at")[:1]),
    ).order_by("place", "pk")


def _help_since(challenge: ClassChallenge, team: str) -> Subquery:
    """Return when the waiting call for help of a row's team was made, as part of the row's own query."""
    waiting = HelpCall.objects.filter(
        class_challenge=challenge, team=OuterRef(team), answered_at__isnull=True
    )
    return Subquery(waiting.values("asked_at")[:1])


def _load(challenge: ClassChallenge, teams: list[Team]) -> ClassRecord:
    kind = get_kind(challenge.kind)
    team_ids = [team.pk for team in teams]
    iterations = list(
        DesignIteration.objects.filter(class_challenge=challenge, team_id__in=team_ids)
        .select_related("settings")
        .annotate(
            help_since=_help_since(challenge, "team_id"),
            photo=Subquery(Photo.objects.filter(iteration=OuterRef("pk")).order_by("-pk").values("uuid")[:1]),
        )
        .order_by("number")
    )
    help_since = {iteration.team_id: iteration.help_since for iteration in iterations}
    rows = _IterationRows(iterations)
    settings = latest_settings(challenge)
    records = []
    members, away = _members(challenge.classroom_id, team_ids)
    by_team = defaultdict(list)
    for iteration in iterations:
        by_team[iteration.team_id].append(iteration)
    for place, team in enumerate(teams, start=1):
        record = TeamRecord(
            team=team,
            place=place,
            members_by_round=members.get(team.pk, {}),
            away=away,
            help_since=help_since.get(team.pk, getattr(team, "help_since", None)),
            last_seen_at=getattr(team, "last_seen_at", None),
        )
        for begun in by_team[team.pk]:
            before = record.rounds.get(begun.number - 1)
            record.rounds[begun.number] = rows.round_record(begun, kind, before)
            record.rounds[begun.number].photo = begun.photo
        records.append(record)
    gates: dict[tuple[int | None, int, str], bool] = {
        (team_id, number, step): is_open
        for team_id, number, step, is_open in StepGate.objects.filter(class_challenge=challenge).values_list(
            "team_id", "round", "step", "open"
        )
    }
    return ClassRecord(
        challenge=challenge,
        kind=kind,
        settings=settings,
        values=settings_values(settings, kind),
        gates=gates,
        teams=records,
    )


def _members(
    classroom_id: int, team_ids: Iterable[int]
) -> tuple[dict[int, dict[int, list[Student]]], frozenset[int]]:
    """Return who is in each team from each round on at which that changes, and who is away this lesson."""
    wanted = set(team_ids)
    absent = Attendance.objects.filter(
        student=OuterRef("student"), lesson__ended_at__isnull=True, present=False
    )
    places = list(
        TeamMember.objects.filter(student__classroom_id=classroom_id, student__left_at__isnull=True)
        .select_related("student")
        .annotate(away=Exists(absent))
        .order_by("student__given_name", "student__initial", "student_id", "from_round")
    )
    rounds = sorted({place.from_round for place in places})
    members: dict[int, dict[int, list[Student]]] = {team_id: {} for team_id in wanted}
    for number in rounds:
        where: dict[int, TeamMember] = {
            place.student_id: place for place in places if place.from_round <= number
        }
        for team_id in wanted:
            members[team_id][number] = []
        for place in where.values():
            if place.team_id in wanted:
                members[place.team_id][number].append(place.student)
    return members, frozenset(place.student_id for place in places if place.away)


class _IterationRows:
    """The rows of a set of rounds, each table read once and grouped by round."""

    def __init__(self, iterations: Sequence[DesignIteration]) -> None:
        ids = [iteration.pk for iteration in iterations]
        self.measurements = _grouped(Measurement.objects.filter(iteration_id__in=ids).order_by("pk"))
        self.notes = _grouped(Note.objects.filter(iteration_id__in=ids).order_by("pk"))
        self.workings = _grouped(Working.objects.filter(iteration_id__in=ids).order_by("pk"))
        self.clearances = _grouped(Clearance.objects.filter(iteration_id__in=ids).order_by("pk"))
        self.drops = _drops(ids)

    def round_record(self, iteration: DesignIteration, kind: Kind, before: RoundRecord | None) -> RoundRecord:
        values = settings_values(iteration.settings, kind)
        unit = kind.length_unit(values)
        notes: dict[str, NoteRecord] = {}
        noticings: list[NoteRecord] = []
        for note in self.notes[iteration.pk]:
            notes[note.prompt] = NoteRecord(note.text, note.pk, note.made_at)
            if note.prompt == Note.Prompt.NOTICING:
                noticings.append(notes[note.prompt])
        sizes: dict[str, dict[tuple[str, int], SizeRecord]] = defaultdict(dict)
        turns: dict[tuple[str, int], list[TurnRecord]] = defaultdict(list)
        broke = notes.get(Note.Prompt.BROKE)
        for row in self.measurements[iteration.pk]:
            # New sizes after a mend: what was measured before it describes a device that is gone.
            if row.stage == "built" and broke and broke.text == "new" and row.made_at < broke.made_at:
                continue
            value = convert(Fraction(row.numerator, row.denominator), UNITS[row.unit], unit)
            size = SizeRecord(row.typed, value, row.pk, row.made_at)
            if row.stage == "built":
                turns[row.quantity, row.spot].append(TurnRecord(size, row.turn, row.student_id, row.reader))
            if not row.turn:
                sizes[row.stage][row.quantity, row.spot] = size
        plan = _by_quantity(sizes["planned"])
        return RoundRecord(
            number=iteration.number,
            kind=kind,
            values=values,
            iteration=iteration,
            settings_version=iteration.settings.version,
            ideas={stage: _by_quantity(sizes[stage]) for stage in ("idea_a", "idea_b")},
            plan=plan,
            built=sizes["built"],
            notes=notes,
            noticings=noticings,
            workings=_workings(self.workings[iteration.pk]),
            clearance=_standing_clearance(self.clearances[iteration.pk], plan),
            drops=self.drops[iteration.pk],
            before=before,
            turns=dict(turns),
        )


def plan_as_json(plan: Mapping[str, SizeRecord]) -> dict[str, str]:
    """Return a plan's sizes as exact text, as a clearance keeps them."""
    return {slug: str(size.value) for slug, size in sorted(plan.items())}


def _grouped(rows: Iterable[Row]) -> dict[int, list[Row]]:
    grouped: dict[int, list[Row]] = defaultdict(list)
    for row in rows:
        grouped[row.iteration_id].append(row)
    return grouped


def _by_quantity(sizes: Mapping[tuple[str, int], SizeRecord]) -> dict[str, SizeRecord]:
    return {quantity: size for (quantity, _spot), size in sizes.items()}


def _workings(rows: Iterable[Working]) -> dict[str, list[Try]]:
    by_step: dict[str, list[Try]] = defaultdict(list)
    for row in rows:
        by_step[row.step].append(Try(row.basis, row.typed, row.value, row.verdict, row.pk, tuple(row.slips)))
    return by_step


def _standing_clearance(rows: list[Clearance], plan: Mapping[str, SizeRecord]) -> ClearanceRecord | None:
    if not rows or rows[-1].plan != plan_as_json(plan):
        return None
    newest = rows[-1]
    return ClearanceRecord(
        by=newest.by,
        reason=newest.reason,
        figure=newest.figure,
        figure_from=newest.figure_from,
        limit=newest.limit,
        made_at=newest.made_at,
    )


def _drops(iteration_ids: list[int]) -> dict[int, list[DropRecord]]:
    """Return every drop of the rounds with its readings and the judgement that stands, in one query."""
    rows = (
        Drop.objects.filter(iteration_id__in=iteration_ids)
        .annotate(
            drop_counts=_standing("counts", drop=OuterRef("pk")),
            drop_reason=_standing("reason", drop=OuterRef("pk")),
            drop_note=_standing("note", drop=OuterRef("pk")),
            reading_counts=_standing("counts", reading=OuterRef("readings__pk")),
            reading_reason=_standing("reason", reading=OuterRef("readings__pk")),
        )
        .order_by("trial", "attempt", "readings__pk")
        .values_list(
            "pk",
            "iteration_id",
            "trial",
            "attempt",
            "drop_counts",
            "drop_reason",
            "drop_note",
            "readings__pk",
            "readings__hundredths",
            "readings__source",
            "reading_counts",
            "reading_reason",
        )
    )
    labels = dict(Judgement.Reason.choices)
    heads: dict[int, tuple[Any, ...]] = {}
    readings: dict[int, list[ReadingRecord]] = defaultdict(list)
    for pk, *head, reading_id, hundredths, source, stands, why in rows:
        heads[pk] = tuple(head)
        if reading_id is not None:
            set_aside = "" if stands is None or stands else str(why)
            readings[pk].append(ReadingRecord(reading_id, hundredths, source, set_aside))
    drops: dict[int, list[DropRecord]] = defaultdict(list)
    for pk, (iteration_id, trial, attempt, counts, reason, note) in heads.items():
        drops[iteration_id].append(
            DropRecord(
                row_id=pk,
                trial=trial,
                attempt=attempt,
                readings=tuple(readings[pk]),
                counts=counts is None or counts,
                mark=reason or "",
                mark_label=labels.get(reason, ""),
                note=note or "",
            )
        )
    return drops


def _standing(field: str, **of: OuterRef) -> Subquery:
    """Return a field of the newest judgement on a drop or a reading, as part of the row's own query."""
    return Subquery(Judgement.objects.filter(**of).order_by("-pk").values(field)[:1])

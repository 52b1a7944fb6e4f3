"""Reads a class challenge from the database in a fixed number of queries, whatever the number of teams."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from copy import copy
from fractions import Fraction
from functools import lru_cache
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet, Subquery

from classroom.models import Attendance, Classroom, Device, Student, Team, TeamMember
from classroom.prepared import Prepared, columns_of, instance_of
from design_challenges.kinds import get_kind
from design_challenges.kinds.base import Kind, SettingsValues
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
    Revision,
    StepGate,
    Working,
)
from design_challenges.services.kept import Kept
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

# A row of a prepared query: the columns that its query names.
Row = Any

CHALLENGE = columns_of(ClassChallenge, "class_challenge__")
SETTINGS = columns_of(ChallengeSettings)
TEAM = columns_of(Team)
ITERATION = columns_of(DesignIteration)
COMMON_SETTINGS = ("unit_system", "trials_per_round", "sums_by", "average", "drawing_required")
STUDENT = columns_of(Student, "student__")


def settings_values(settings: ChallengeSettings, kind: Kind) -> SettingsValues:
    """Return a settings version as the values that kinds and sums read."""
    common = tuple((name, getattr(settings, name)) for name in COMMON_SETTINGS)
    return _settings_values(kind, common, tuple(settings.values.items()))


@lru_cache(maxsize=1024)
def _settings_values(
    kind: Kind, common: tuple[tuple[str, Any], ...], own: tuple[tuple[str, str], ...]
) -> SettingsValues:
    values = dict(common)
    return SettingsValues({**values, **kind.read_values(dict(own), values["unit_system"])})


_newest_settings = Prepared(
    lambda classroom: (
        ChallengeSettings.objects.filter(class_challenge__classroom=classroom)
        .annotate(
            exit_question=Subquery(
                ExitQuestion.objects.filter(
                    class_challenge=OuterRef("class_challenge"), closed_at__isnull=True
                ).values("pk")[:1]
            )
        )
        .order_by("class_challenge_id", "-version")
        .values_list(*SETTINGS, *CHALLENGE, "class_challenge__revision__number", "exit_question")[:1]
    ),
    int,
)


def find_challenge(classroom: Classroom) -> ClassChallenge | None:
    """Return the class's challenge with its revision and newest settings, in one query."""
    row = _newest_settings.row(classroom.pk)
    if row is None:
        return None
    newest: ChallengeSettings = instance_of(ChallengeSettings, row[: len(SETTINGS)])
    challenge: ClassChallenge = instance_of(ClassChallenge, row[len(SETTINGS) : -2])
    if row.class_challenge__revision__number is not None:
        # Setting the one sets the other's way back to it.
        Revision(class_challenge=challenge, number=row.class_challenge__revision__number)
    newest.class_challenge = challenge
    challenge.classroom = classroom
    challenge.newest_settings = newest
    challenge.exit_question_id = row.exit_question
    return challenge


def find_challenge_of(classroom: Classroom, kind: str) -> ClassChallenge | None:
    """Return the class's challenge where it is of that kind: what a station's pass is for."""
    challenge = find_challenge(classroom)
    return challenge if challenge is not None and challenge.kind == kind else None


def latest_settings(challenge: ClassChallenge) -> ChallengeSettings:
    """Return the settings that the next round will begin with."""
    if challenge.newest_settings is not None:
        return challenge.newest_settings
    return challenge.settings_versions.order_by("-version")[:1].get()


def load_class(challenge: ClassChallenge, *, include_retired: bool = False) -> ClassRecord:
    """Return everything a class challenge knows, teams in team order.

    Retired teams (merged ones, say) are left out unless asked for; their rows stay.
    """
    found = {}
    for row in _teams.rows(challenge.classroom_id, challenge.pk):
        team: Team = instance_of(Team, row[: len(TEAM)])
        if include_retired or team.retired_at is None:
            found[team] = row
    return _load(challenge, found, None)


def load_team(challenge: ClassChallenge, team: Team) -> ClassRecord:
    """Return the record of one team alone, in two queries fewer than `load_class`."""
    return _load(challenge, {team: None}, team.pk)


def _help_since(challenge: ClassChallenge, team: str) -> Subquery:
    """Return when the waiting call for help of a row's team was made, as part of the row's own query."""
    waiting = HelpCall.objects.filter(
        class_challenge=challenge, team=OuterRef(team), answered_at__isnull=True
    )
    return Subquery(waiting.values("asked_at")[:1])


_teams = Prepared(
    lambda classroom, challenge: (
        Team.objects.filter(classroom=classroom)
        .annotate(
            help_since=_help_since(challenge, "pk"),
            last_seen_at=Subquery(
                Device.objects.filter(team=OuterRef("pk"), revoked_at__isnull=True)
                .order_by("-last_seen_at")
                .values("last_seen_at")[:1]
            ),
        )
        .order_by("place", "pk")
        .values_list(*TEAM, "help_since", "last_seen_at")
    ),
    int,
    int,
)


class _OfRounds:
    """A query about a class challenge's rounds: of all its teams, or of one alone.

    It must not ask the database to sort by the rows' ids: a database may then read the whole table in
    that order. `rows` sorts them.
    """

    def __init__(self, make: Callable[[Q, Any], QuerySet[Any, Any]], iteration: str = "iteration__") -> None:
        where = {"challenge": f"{iteration}class_challenge", "team": f"{iteration}team"}
        self._all = Prepared(lambda challenge: make(Q(**{where["challenge"]: challenge}), challenge), int)
        self._one = Prepared(
            lambda challenge, team: make(
                Q(**{where["challenge"]: challenge, where["team"]: team}), challenge
            ),
            int,
            int,
        )

    def rows(self, challenge_id: int, team_id: int | None) -> list[Row]:
        """Return the rows in the order of their first column, those of one team if it is given."""
        return self.read(self.ask(challenge_id, team_id))

    def ask(self, challenge_id: int, team_id: int | None) -> list[Row]:
        """Return the same rows as the database gives them, for `read`."""
        found = self._all.ask(challenge_id) if team_id is None else self._one.ask(challenge_id, team_id)
        return sorted(found, key=lambda row: row[0])

    def read(self, found: Sequence[Row]) -> list[Row]:
        """Return rows that were asked for as named tuples."""
        return self._all.read(found)


def _columns(model: Any, *names: str) -> _OfRounds:
    return _OfRounds(
        lambda where, _challenge: model.objects.filter(where).order_by().values_list("pk", *names)
    )


_iterations = _OfRounds(
    lambda where, challenge: (
        DesignIteration.objects.filter(where)
        .annotate(
            help_since=_help_since(challenge, "team_id"),
            photo=Subquery(Photo.objects.filter(iteration=OuterRef("pk")).order_by("-pk").values("uuid")[:1]),
        )
        .order_by()
        .values_list(
            "number", *columns_of(ChallengeSettings, "settings__"), *ITERATION, "help_since", "photo"
        )
    ),
    iteration="",
)
_gates = Prepared(
    lambda challenge: StepGate.objects.filter(class_challenge=challenge).values_list(
        "team_id", "round", "step", "open"
    ),
    int,
)


def _load(challenge: ClassChallenge, teams: Mapping[Team, Row | None], one: int | None) -> ClassRecord:
    """Read the rounds of these teams, given with what their query told; `one` is a single team's id."""
    kind = get_kind(challenge.kind)
    by_team: dict[int, list[tuple[DesignIteration, Row]]] = defaultdict(list)
    versions: dict[int, ChallengeSettings] = {}
    for row in _iterations.rows(challenge.pk, one):
        settings_id = row[1]
        if settings_id not in versions:
            versions[settings_id] = instance_of(ChallengeSettings, row[1 : 1 + len(SETTINGS)])
        begun: DesignIteration = instance_of(DesignIteration, row[1 + len(SETTINGS) : -2])
        begun.settings = versions[settings_id]
        by_team[begun.team_id].append((begun, row))
    rows = _IterationRows(challenge.pk, one)
    settings = latest_settings(challenge)
    records = []
    places = _places_in_class.rows(challenge.classroom_id) if one is None else _places_of_team.rows(one)
    members, away = _members(places, {team.pk for team in teams})
    for place, (team, own) in enumerate(teams.items(), start=1):
        iterations = by_team[team.pk]
        record = TeamRecord(
            team=team,
            place=place,
            members_by_round=members.get(team.pk, {}),
            away=away,
            help_since=iterations[0][1].help_since if iterations else getattr(own, "help_since", None),
            last_seen_at=getattr(own, "last_seen_at", None),
        )
        for begun, row in iterations:
            before = record.rounds.get(begun.number - 1)
            record.rounds[begun.number] = rows.round_record(begun, kind, before)
            record.rounds[begun.number].photo = row.photo
        records.append(record)
    gates: dict[tuple[int | None, int, str], bool] = {
        (team_id, number, step): is_open for team_id, number, step, is_open in _gates.rows(challenge.pk)
    }
    return ClassRecord(
        challenge=challenge,
        kind=kind,
        settings=settings,
        values=settings_values(settings, kind),
        gates=gates,
        teams=records,
    )


def _places(students: Q) -> QuerySet[TeamMember, Any]:
    """Return in which team these children are from which round on, and who is away this lesson."""
    return (
        TeamMember.objects.filter(students, student__left_at__isnull=True)
        .annotate(
            away=Exists(
                Attendance.objects.filter(
                    student=OuterRef("student"), lesson__ended_at__isnull=True, present=False
                )
            )
        )
        .order_by("student__given_name", "student__initial", "student_id", "from_round")
        .values_list(*STUDENT, "team_id", "from_round", "away")
    )


_places_in_class = Prepared(lambda classroom: _places(Q(student__classroom=classroom)), int)
# Of a team's children the other teams count, too: a child may have changed to one of them.
_places_of_team = Prepared(
    lambda team: _places(Q(student__in=TeamMember.objects.filter(team=team).values("student"))), int
)


def _members(
    places: Sequence[Row], wanted: set[int]
) -> tuple[dict[int, dict[int, list[Student]]], frozenset[int]]:
    """Return who is in each team from each round on at which that changes, and who is away this lesson."""
    students: dict[int, Student] = {}
    for place in places:
        if place.student__id not in students:
            students[place.student__id] = instance_of(Student, place[: len(STUDENT)])
    rounds = sorted({place.from_round for place in places})
    members: dict[int, dict[int, list[Student]]] = {team_id: {} for team_id in wanted}
    for number in rounds:
        where = {place.student__id: place.team_id for place in places if place.from_round <= number}
        for team_id in wanted:
            members[team_id][number] = []
        for student_id, team_id in where.items():
            if team_id in wanted:
                members[team_id][number].append(students[student_id])
    return members, frozenset(place.student__id for place in places if place.away)


_measurements = _columns(
    Measurement,
    *("iteration_id", "stage", "quantity", "spot", "typed", "numerator", "denominator", "unit", "turn"),
    *("reader", "student_id", "made_at"),
)
_notes = _columns(Note, "iteration_id", "prompt", "text", "made_at")
_tries = _columns(Working, "iteration_id", "step", "basis", "typed", "value", "verdict", "slips")
_clearances = _columns(
    Clearance, "iteration_id", "by", "reason", "figure", "figure_from", "limit", "plan", "made_at"
)


# About 60 kB each: the rounds of sixty classes.
kept_rounds: Kept[RoundRecord] = Kept(1000)


class _IterationRows:
    """The rows of a class's rounds, or of one team's, each table asked once and grouped by round."""

    def __init__(self, challenge_id: int, team_id: int | None) -> None:
        # By round, then by table, as the database gives them.
        self._rows: dict[int, list[list[Row]]] = defaultdict(lambda: [[] for _ in _TABLES])
        for table, (query, place) in enumerate(_TABLES):
            for row in query.ask(challenge_id, team_id):
                self._rows[row[place]][table].append(row)

    def round_record(self, iteration: DesignIteration, kind: Kind, before: RoundRecord | None) -> RoundRecord:
        """Return a round's record, the one that was made of the same rows before where it is kept."""
        rows, settings = self._rows[iteration.pk], iteration.settings
        values = settings_values(settings, kind)
        made_from = (
            *(iteration.number, kind.slug, settings.version, values),
            *(before and before.made_from, rows),
        )
        found = kept_rounds.find(iteration.pk, made_from)
        if found is None:
            record = self._made(iteration, kind, values, rows)
            record.made_from = made_from
        else:
            # A copy, so that each reader's has an iteration and a photo of its own. What is worked out of it
            # from now on is kept with it, for the next reader gets a copy of this one.
            record = copy(found)
        kept_rounds.keep(iteration.pk, record.made_from, record)
        record.iteration, record.before = iteration, before
        return record

    @staticmethod
    def _made(
        iteration: DesignIteration, kind: Kind, values: Mapping[str, Any], rows: list[list[Row]]
    ) -> RoundRecord:
        measurements, noted, tries, clearances, dropped = (
            query.read(found) for (query, _place), found in zip(_TABLES, rows, strict=True)
        )
        unit = kind.length_unit(values)
        notes: dict[str, NoteRecord] = {}
        noticings: list[NoteRecord] = []
        for note in noted:
            notes[note.prompt] = NoteRecord(note.text, note.pk, note.made_at)
            if note.prompt == Note.Prompt.NOTICING:
                noticings.append(notes[note.prompt])
        sizes: dict[str, dict[tuple[str, int], SizeRecord]] = defaultdict(dict)
        turns: dict[tuple[str, int], list[TurnRecord]] = defaultdict(list)
        broke = notes.get(Note.Prompt.BROKE)
        for row in measurements:
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
            workings=_workings(tries),
            clearance=_standing_clearance(clearances, plan),
            drops=_drops(dropped),
            turns=dict(turns),
        )


def plan_as_json(plan: Mapping[str, SizeRecord]) -> dict[str, str]:
    """Return a plan's sizes as exact text, as a clearance keeps them."""
    return {slug: str(size.value) for slug, size in sorted(plan.items())}


def _by_quantity(sizes: Mapping[tuple[str, int], SizeRecord]) -> dict[str, SizeRecord]:
    return {quantity: size for (quantity, _spot), size in sizes.items()}


def _workings(rows: Iterable[Row]) -> dict[str, list[Try]]:
    by_step: dict[str, list[Try]] = defaultdict(list)
    for row in rows:
        by_step[row.step].append(Try(row.basis, row.typed, row.value, row.verdict, row.pk, tuple(row.slips)))
    return by_step


def _standing_clearance(rows: list[Row], plan: Mapping[str, SizeRecord]) -> ClearanceRecord | None:
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


_readings = _OfRounds(
    lambda where, _challenge: (
        Drop.objects.filter(where)
        .annotate(
            drop_counts=_standing("counts", drop=OuterRef("pk")),
            drop_reason=_standing("reason", drop=OuterRef("pk")),
            drop_note=_standing("note", drop=OuterRef("pk")),
            reading_counts=_standing("counts", reading=OuterRef("readings__pk")),
            reading_reason=_standing("reason", reading=OuterRef("readings__pk")),
        )
        .order_by("trial", "attempt", "readings__pk")
        .values_list(
            "trial",
            "pk",
            "iteration_id",
            "attempt",
            "drop_counts",
            "drop_reason",
            "drop_note",
            "readings__pk",
            "readings__hundredths",
            "readings__source",
            "readings__watch",
            "reading_counts",
            "reading_reason",
        )
    )
)


# What a round's record is made of, and where in a row its round stands.
_TABLES = ((_measurements, 1), (_notes, 1), (_tries, 1), (_clearances, 1), (_readings, 2))


def _drops(rows: Iterable[Row]) -> list[DropRecord]:
    """Return a round's drops with their readings and the judgement that stands."""
    labels = dict(Judgement.Reason.choices)
    heads: dict[int, tuple[Any, ...]] = {}
    readings: dict[int, list[ReadingRecord]] = defaultdict(list)
    for row in rows:
        trial, pk, _iteration_id, *head, reading_id, hundredths, source, watch, stands, why = row
        heads[pk] = (trial, *head)
        if reading_id is not None:
            set_aside = "" if stands is None or stands else str(why)
            readings[pk].append(ReadingRecord(reading_id, hundredths, source, set_aside, watch))
    return [
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
        for pk, (trial, attempt, counts, reason, note) in heads.items()
    ]


def _standing(field: str, **of: OuterRef) -> Subquery:
    """Return a field of the newest judgement on a drop or a reading, as part of the row's own query."""
    return Subquery(Judgement.objects.filter(**of).order_by("-pk").values(field)[:1])

"""What stands in a printed record of a team or a child, and in a family's letter: read for a whole class."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from django.db.models import Value
from django.utils.translation import gettext as _

from classroom.models import Attendance, Student
from design_challenges.kinds.base import Performance
from design_challenges.models import ExitAnswer, SawIt
from design_challenges.services.analysis.analyse import make_speech
from design_challenges.services.analysis.children import FIRST, SECOND, change_seen
from design_challenges.services.analysis.claims import sentences
from design_challenges.services.analysis.gather import gather
from design_challenges.services.change_words import TeamChange, team_change
from design_challenges.services.dashboard import due_sums
from design_challenges.services.evidence import find_step
from design_challenges.services.made import write_nearest_mark
from design_challenges.services.record_types import ClassRecord, RoundRecord, TeamRecord
from design_challenges.services.rounding import format_figure
from design_challenges.services.team_history import RoundHistory, TeamHistory, load_histories
from design_challenges.services.turns import with_unit
from design_challenges.services.working import Step, worked_lines
from design_challenges.words import Words

SPACE = "\N{NO-BREAK SPACE}"


@dataclass(frozen=True)
class Sum:
    """One sum of a round: what was typed, in order, whether it became right, and the sum worked out."""

    label: Words
    unit: Words
    tries: Sequence[str]
    right: bool
    lines: Sequence[str]


@dataclass(frozen=True)
class NotebookRound:
    """One round as it is printed: whose it was, everything entered, and what follows from it."""

    number: int
    team: str
    members: str
    record: RoundRecord
    history: RoundHistory
    names: Sequence[Words]
    sizes: Sequence[tuple[Words, Sequence[str]]]
    material: str
    plan_sums: Sequence[Sum]
    result_sums: Sequence[Sum]


@dataclass(frozen=True)
class Own:
    """What is one child's own: sizes read, sums worked alone, sums a teacher saw, and days away."""

    sizes: Sequence[tuple[int, Words, str]]
    answers: Sequence[tuple[Words, str, bool]]
    seen: Sequence[Words]
    away: Sequence[int]

    @property
    def right(self) -> int:
        return sum(1 for _label, _typed, right in self.answers if right)

    @property
    def is_empty(self) -> bool:
        return not (self.sizes or self.answers or self.seen or self.away)


@dataclass(frozen=True)
class Notebook:
    """A printed record: of a team, or (with `own`) of a child, who may have changed teams between rounds."""

    title: str
    side: str
    rounds: Sequence[NotebookRound]
    change: str
    seen: str
    own: Own | None = None


@dataclass(frozen=True)
class LetterRound:
    """One build as a family reads it: its sizes in words, its times, its figure."""

    number: int
    team: str
    sizes: Sequence[tuple[Words, str]]
    times: str
    figure: str
    opened: str


@dataclass(frozen=True)
class Letter:
    """A letter about one child."""

    student: Student
    teams: Sequence[str]
    rounds: Sequence[LetterRound]
    change: str
    seen: str
    what: str
    why: str
    noticing: str
    own: Own


class ClassNotebook:
    """A class's rounds, read once in a fixed number of queries; records and letters are made from them."""

    def __init__(self, klass: ClassRecord) -> None:
        self.klass = klass
        self.teams = [team for team in klass.teams if team.team.retired_at is None or team.rounds]
        self._own: Mapping[int, Own] | None = None
        self._seen = _seen_of(klass)

    # --- records ---------------------------------------------------------------------------------

    def of_team(self, team: TeamRecord) -> Notebook:
        """Return a team's record, its rounds in order."""
        latest = team.current.number if team.current else 1
        return Notebook(
            title=team.team.name,
            side=", ".join(str(member) for member in team.members(latest)),
            rounds=[self._round(team, number) for number in sorted(team.rounds)],
            change=self._change(team),
            seen=self._seen.get(team.team.pk, ""),
        )

    def of_child(self, student: Student) -> Notebook:
        """Return a child's record: each round with the team that the child was in, and what is its own."""
        places = self._places(student)
        last = places[-1][1] if places else None
        same = last is not None and len({team.team.pk for _number, team in places}) == 1
        return Notebook(
            title=str(student),
            side=_names(places),
            rounds=[self._round(team, number) for number, team in places],
            change=self._change(last) if last is not None and same else "",
            seen=self._seen.get(last.team.pk, "") if last is not None and same else "",
            own=self.own(student),
        )

    def children(self) -> list[Student]:
        """Return the children who are in a team, by team and name."""
        found: dict[int, Student] = {}
        for team in self.teams:
            for number in range(1, self.klass.challenge.rounds + 1):
                found.update({student.pk: student for student in team.members(number)})
        return list(found.values())

    def letter(self, student: Student) -> Letter:
        """Return the letter about a child."""
        places = self._places(student)
        last = places[-1][1] if places else None
        same = last is not None and len({team.team.pk for _number, team in places}) == 1
        second = next((team.rounds[number] for number, team in places if number == SECOND), None)
        change = second.notes.get("change") if second else None
        why = second.notes.get("change_why") if second else None
        noticings = [note.text for number, team in places for note in team.rounds[number].noticings]
        return Letter(
            student=student,
            teams=list(dict.fromkeys(team.team.name for _number, team in places)),
            rounds=[_letter_round(team, team.rounds[number]) for number, team in places],
            change=self._sentence(last) if last is not None and same else "",
            seen=self._seen.get(last.team.pk, "") if last is not None and same else "",
            what=_changed(second, change.text) if second and change else "",
            why=why.text if why else "",
            noticing=noticings[-1] if noticings else "",
            own=self.own(student),
        )

    def own(self, student: Student) -> Own:
        """Return what is one child's own; read for the whole class at the first asking."""
        if self._own is None:
            self._own = _read_own(self.klass, self.teams)
        return self._own.get(student.pk, Own((), (), (), ()))

    # --- small things ----------------------------------------------------------------------------

    def _places(self, student: Student) -> list[tuple[int, TeamRecord]]:
        """Return the rounds that the child's team of that round has begun."""
        return [
            (number, team)
            for number in range(1, self.klass.challenge.rounds + 1)
            for team in self.teams
            if number in team.rounds and any(one.pk == student.pk for one in team.members(number))
        ]

    def _round(self, team: TeamRecord, number: int) -> NotebookRound:
        record = team.rounds[number]
        rounds = self.histories[team.team.pk].rounds
        found = next(each for each in rounds if each.record.number == number)
        sums = {step.slug: _sum(record, step, found) for step in due_sums(record)}
        plan = {step.slug for step in record.kind.plan_steps(record.values)}
        return NotebookRound(
            number=number,
            team=team.team.name,
            members=", ".join(str(member) for member in team.members(number)),
            record=record,
            history=found,
            names=[quantity.label for quantity in record.kind.quantities(record.values)],
            sizes=_sizes(record),
            material=_material(record),
            plan_sums=[sums[slug] for slug in sums if slug in plan],
            result_sums=[sums[slug] for slug in sums if slug not in plan and not slug.startswith("rounded_")],
        )

    @cached_property
    def histories(self) -> dict[int, TeamHistory]:
        """Everything entered, read for all teams at the first asking: letters need none of it."""
        return load_histories(self.klass.challenge, self.teams, clearances=False)

    def _sentence(self, team: TeamRecord) -> str:
        performance = self.klass.kind.performance(self.klass.values)
        return change_sentence(team_change(team, performance), performance)

    def _change(self, team: TeamRecord) -> str:
        """Return the team's change in words, "" before both figures are there."""
        change = team_change(team, self.klass.kind.performance(self.klass.values))
        return change.said if change.complete else ""


def change_sentence(change: TeamChange, performance: Performance) -> str:
    """Return a change as a family reads it, "" where there is none."""
    if change.first is None or change.second is None or change.change is None:
        return ""
    if change.verdict == "same":
        return _("Both builds came out the same.")
    amount = f"{format_figure(abs(change.change), performance.places)}{SPACE}{performance.unit}"
    if change.verdict == "better":
        return _("The second build did better, by {amount}.").format(amount=amount)
    return _("The second build did not do better: the difference is {amount}.").format(amount=amount)


def _seen_of(klass: ClassRecord) -> dict[int, str]:
    """Return by team what may be said of its two builds' drops side by side."""
    data = gather(klass)
    speech = make_speech(data)
    found = {}
    for team in data.teams:
        if FIRST in team.builds and SECOND in team.builds:
            fact = change_seen(team.builds[FIRST], team.builds[SECOND])
            found[fact.team_id] = " ".join(sentence.text for sentence in sentences([fact], speech))
    return found


def _names(places: Sequence[tuple[int, TeamRecord]]) -> str:
    """Return the child's teams: 'Gannet', or by round where they differ."""
    names = [team.team.name for _number, team in places]
    if len(set(names)) <= 1:
        return "".join(names[:1])
    return ", ".join(_("round {n}: {team}").format(n=number, team=team.team.name) for number, team in places)


def _sizes(record: RoundRecord) -> list[tuple[Words, list[str]]]:
    """Return the sizes of the ideas and of the plan as rows, each with a cell for every quantity."""
    unit, quantities = record.kind.length_unit(record.values), record.kind.quantities(record.values)
    stages = [(_("Idea A"), record.ideas.get("idea_a", {})), (_("Idea B"), record.ideas.get("idea_b", {}))]
    rows = [*((label, sizes) for label, sizes in stages if sizes), (_("Planned"), record.plan)]
    return [
        (
            label,
            [with_unit(sizes[one.slug].typed, unit) if one.slug in sizes else "" for one in quantities],
        )
        for label, sizes in rows
    ]


def _material(record: RoundRecord) -> str:
    """Return the limit sum's end: what the plan uses of what is allowed, and the made thing as measured."""
    figures, built = record.plan_figures, record.built_figures
    if figures is None:
        return ""
    used = figures.material_team if figures.material_team is not None else figures.material_class
    said = _("The plan uses {used} of {limit} points.").format(
        used=f"{used.normalize():f}", limit=f"{figures.limit.normalize():f}"
    )
    if built is not None:
        said += " " + _("The made thing uses {used}.").format(used=f"{built.material.normalize():f}")
    return said


def _sum(record: RoundRecord, step: Step, history: RoundHistory) -> Sum:
    field = next((each for each in history.sums if each.slug == step.slug), None)
    return Sum(
        label=step.label,
        unit=step.unit,
        tries=field.tries if field is not None else (),
        right=field is not None and bool(field.accepted),
        lines=worked_lines(step, record.context()),
    )


def _letter_round(team: TeamRecord, record: RoundRecord) -> LetterRound:
    unit, system = record.kind.length_unit(record.values), record.kind.system(record.values)
    sizes = []
    for variable in record.kind.variables(record.values):
        value = record.variable(variable.slug)
        if value is not None:
            written = write_nearest_mark(value, unit, record.tape_division)
            sizes.append((variable.label, f"{written}{SPACE}{variable.unit(system)}"))
    times = [f"{drop.reading.seconds:f}{SPACE}s" for drop in record.counting if drop.reading is not None]
    figure = ""
    if record.figure is not None:
        performance = record.performance
        figure = f"{format_figure(record.figure, performance.places)}{SPACE}{performance.unit}"
    return LetterRound(record.number, team.team.name, sizes, ", ".join(times), figure, _opened(record))


def _opened(record: RoundRecord) -> str:
    if not record.counting or record.opened_count == len(record.counting):
        return ""
    return _("It opened in {n} of {m} drops.").format(n=record.opened_count, m=len(record.counting))


def _changed(record: RoundRecord, text: str) -> str:
    """Return what a team changed, in words: a size by its name, or what was written."""
    if text == "two":
        return _("two sizes")
    labels = {quantity.slug: quantity.label for quantity in record.kind.quantities(record.values)}
    return str(labels.get(text, text)).lower() if text in labels else text


# --- what is one child's own -------------------------------------------------------------------------


def _read_own(klass: ClassRecord, teams: Sequence[TeamRecord]) -> dict[int, Own]:
    challenge = klass.challenge
    sizes = _sizes_read(teams)
    answers: dict[int, list[tuple[Words, str, bool]]] = defaultdict(list)
    saw: dict[int, dict[str, bool]] = defaultdict(dict)
    # Both in one query; the newest row of a child and a sum says whether it was seen.
    alone = ExitAnswer.objects.filter(question__class_challenge=challenge).annotate(sort=Value("answer"))
    seen = SawIt.objects.filter(class_challenge=challenge).annotate(sort=Value("seen"), text=Value(""))
    rows = alone.order_by().values_list("sort", "pk", "student_id", "question__step", "typed", "right")
    more = seen.order_by().values_list("sort", "pk", "student_id", "step", "text", "saw")
    for sort, _pk, student_id, slug, typed, good in sorted(rows.union(more, all=True)):
        if sort == "answer":
            answers[student_id].append((_label(klass, slug), typed, bool(good)))
        else:
            saw[student_id][slug] = bool(good)
    away: dict[int, list[int]] = defaultdict(list)
    absences = Attendance.objects.filter(lesson__classroom_id=challenge.classroom_id, present=False)
    for student_id, number in absences.order_by("lesson__number").values_list("student_id", "lesson__number"):
        away[student_id].append(number)
    return {
        pk: Own(
            sizes=sizes.get(pk, ()),
            answers=answers.get(pk, ()),
            seen=[_label(klass, step) for step, seen in saw.get(pk, {}).items() if seen],
            away=away.get(pk, ()),
        )
        for pk in {*sizes, *answers, *saw, *away}
    }


def _sizes_read(teams: Sequence[TeamRecord]) -> dict[int, list[tuple[int, Words, str]]]:
    """Return by child the sizes that it read on the tape: round, what it was, and what it typed."""
    found: dict[int, list[tuple[int, Words, str]]] = defaultdict(list)
    for record in (record for team in teams for record in team.rounds.values()):
        unit = record.kind.length_unit(record.values)
        labels = {(spot.quantity, spot.spot): spot.label for spot in record.kind.spots(record.values)}
        for key, rows in record.turns.items():
            for row in rows:
                if row.student_id is not None:
                    typed = with_unit(row.size.typed, unit)
                    found[row.student_id].append((record.number, labels.get(key, key[0]), typed))
    return found


def _label(klass: ClassRecord, slug: str) -> Words:
    step = find_step(klass.kind, klass.values, slug)
    return step.label if step is not None else slug

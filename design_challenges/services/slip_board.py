"""What a teacher sees of a class's sums: slips by how many teams share them, and every team's tries."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from classroom.models import Team
from design_challenges.services.dashboard import due_sums
from design_challenges.services.record_types import ClassRecord, RoundRecord, Try
from design_challenges.services.working import OTHERWISE, Slip, Step, mistakes_of
from design_challenges.words import Words

ROUNDING = "rounding"
"""The sums that round one time each stand together under this name."""


@dataclass
class SharedSlip:
    """One slip at one sum: the teams that are at it now, and those that have put it right since."""

    label: str
    slip: Slip
    now: list[Team] = field(default_factory=list)
    since: list[Team] = field(default_factory=list)

    @property
    def said(self) -> str:
        """Return it in words: 5 teams are dividing the other way round."""
        n = len(self.now)
        return ngettext("{n} team is {doing}", "{n} teams are {doing}", n).format(n=n, doing=self.slip.doing)

    @property
    def said_since(self) -> str:
        """Return it in words, of the teams that put it right."""
        n = len(self.since)
        return ngettext("{n} team was {doing}", "{n} teams were {doing}", n).format(
            n=n, doing=self.slip.doing
        )


@dataclass(frozen=True)
class Tries:
    """A team's tries at one sum (or at the rounding of its times): how many, and what became of them.

    `state` is "right", "not_yet" or "" (none yet); `typed` are the answers that were not right, with the
    slip's name where it was told; `shown` says that steps were shown.
    """

    tries: int = 0
    state: str = ""
    typed: tuple[tuple[str, str], ...] = ()
    shown: bool = False

    @property
    def missed(self) -> int:
        return len(self.typed)


@dataclass(frozen=True)
class TeamTries:
    """A row of the tries: a team in its current round, a cell for each column."""

    team: Team
    number: int
    cells: tuple[Tries, ...]


@dataclass(frozen=True)
class SlipBoard:
    """The whole of it; `now` and `since` have what is shared by most teams first."""

    now: tuple[SharedSlip, ...]
    since: tuple[SharedSlip, ...]
    columns: tuple[Words, ...]
    rows: tuple[TeamTries, ...]
    any_tries: bool


def build_slip_board(klass: ClassRecord) -> SlipBoard:
    """Return what the class's tries say, from its record alone."""
    shared: dict[tuple[str, str], SharedSlip] = {}
    for team in klass.teams:
        for record in team.rounds.values():
            for key, label, slip, mended in _slips_of(record):
                one = shared.setdefault((key, slip.mistake), SharedSlip(label, slip))
                teams = one.since if mended or record is not team.current else one.now
                if team.team not in teams:
                    teams.append(team.team)
    for one in shared.values():
        one.since = [team for team in one.since if team not in one.now]
    columns = _columns(klass)
    rows = tuple(
        TeamTries(team.team, team.current.number, tuple(_cell(team.current, key) for key in columns))
        for team in klass.teams
        if team.current is not None
    )
    return SlipBoard(
        now=_sorted([one for one in shared.values() if one.now], lambda one: len(one.now)),
        since=_sorted([one for one in shared.values() if one.since], lambda one: len(one.since)),
        columns=tuple(columns.values()),
        rows=rows,
        any_tries=any(cell.tries for row in rows for cell in row.cells),
    )


def latest_slip(board: SlipBoard) -> str:
    """Return what most teams share now, for a screen reader to say when it changes."""
    return f"{board.now[0].label}: {board.now[0].said}" if board.now else ""


def _sorted(found: list[SharedSlip], size: Callable[[SharedSlip], int]) -> tuple[SharedSlip, ...]:
    return tuple(sorted(found, key=lambda one: (-size(one), one.label, str(one.slip.doing))))


def slip_of(step: Step, rows: Sequence[Try], place: int) -> Slip | None:
    """Return the slip behind a try: the only mistake that explains it, or the one that was picked."""
    fitting = [slip for slip in map(step.slip, rows[place].slips) if slip is not None]
    mistakes = mistakes_of(fitting)
    if len(mistakes) == 1:
        return mistakes[0]
    for row in rows[place + 1 :]:
        if row.is_answer:
            break
        if row.verdict == "picked" and row.slips[:1] != (OTHERWISE,):
            return step.slip(row.slips[0])
    return None


def _slips_of(record: RoundRecord) -> Iterator[tuple[str, str, Slip, bool]]:
    """Yield each slip of a round: the column's key, the sum's name, the slip, whether it was put right."""
    rounding = {step.slug for step in record.rounding_steps.values()}
    for step in due_sums(record):
        rows = record.workings.get(step.slug, ())
        key, label = (ROUNDING, _("Rounding")) if step.slug in rounding else (step.slug, str(step.label))
        for place, row in enumerate(rows):
            if row.verdict != "not_yet":
                continue
            slip = slip_of(step, rows, place)
            if slip is not None:
                yield key, label, slip, any(later.verdict == "right" for later in rows[place:])


def _columns(klass: ClassRecord) -> dict[str, Words]:
    """Return the sums that the class works, in order, with the rounding of all times as one."""
    kind, values = klass.kind, klass.values
    columns: dict[str, Words] = {step.slug: step.label for step in kind.plan_steps(values)}
    columns[ROUNDING] = _("Rounding")
    furthest = max((team.current.number for team in klass.teams if team.current), default=1)
    return columns | {step.slug: step.label for step in kind.result_steps(values, furthest)}


def _cell(record: RoundRecord, key: str) -> Tries:
    rounding = list(record.rounding_steps.values())
    steps = rounding if key == ROUNDING else [step for step in due_sums(record) if step.slug == key]
    cells = [_tries(record, step) for step in steps]
    if not any(cell.tries for cell in cells):
        return Tries(shown=any(cell.shown for cell in cells))
    done = all(cell.state == "right" for cell in cells)
    return Tries(
        tries=sum(cell.tries for cell in cells),
        state="right" if done else "not_yet",
        typed=tuple(one for cell in cells for one in cell.typed),
        shown=any(cell.shown for cell in cells),
    )


def _tries(record: RoundRecord, step: Step) -> Tries:
    rows, work = record.workings.get(step.slug, ()), record.working(step)
    typed = []
    for place, row in enumerate(rows):
        if row.verdict == "not_yet":
            slip = slip_of(step, rows, place)
            typed.append((row.typed, str(slip.doing) if slip else ""))
    answers = [row for row in rows if row.is_answer]
    state = ("right" if work.accepted is not None else "not_yet") if answers else ""
    return Tries(len(answers), state, tuple(typed), work.shown)

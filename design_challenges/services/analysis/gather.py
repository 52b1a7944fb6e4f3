"""A class's rounds as what analysis works on: readings, exact figures and designs, day shifts taken out."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from design_challenges.kinds.base import Kind, Performance, Values
from design_challenges.services.record_types import ClassRecord, RoundRecord, TeamRecord

from .drift import Reference, Shifts, find_shifts


@dataclass(frozen=True)
class Build:
    """One team's build of one round: its readings that count, its figures and its design.

    `hundredths` are as they were timed. `seconds` are the same less the shift of their day; `figures` are
    each drop's own exact figure and `figure` that of the mean time, both from `seconds`; `timed_figure` is as
    it was timed. `complete`: whether
    every drop that is expected is in. `design` is empty where it is not known, and `sizes` is the same in
    floats. `day_shares` is the share of the drops by shifted day.
    """

    team_id: int
    team: str
    place: int
    round: int
    hundredths: tuple[int, ...]
    seconds: tuple[float, ...]
    figures: tuple[float, ...]
    figure: float
    timed_figure: float
    design: Mapping[str, Fraction]
    sizes: Mapping[str, float]
    wanted: int
    complete: bool
    unopened: int
    conditions: tuple[Any, ...]
    day_shares: Mapping[str, float]

    @property
    def drops(self) -> int:
        return len(self.hundredths)


@dataclass(frozen=True)
class TeamBuilds:
    """A team and its builds by round; a round without a counting drop is not there."""

    team_id: int
    team: str
    place: int
    builds: Mapping[int, Build]


@dataclass(frozen=True)
class ClassData:
    """Everything the analysis of a class is made from; `left_out` builds were in other units or figures."""

    kind: Kind
    values: Values
    performance: Performance
    teams: tuple[TeamBuilds, ...]
    shifts: Shifts
    left_out: int

    @property
    def builds(self) -> list[Build]:
        return [build for team in self.teams for build in team.builds.values()]

    def of_round(self, number: int) -> list[Build]:
        """Return a round's builds under the conditions that most of them share."""
        return most_alike([team.builds[number] for team in self.teams if number in team.builds])


def most_alike(builds: Sequence[Build]) -> list[Build]:
    """Keep the builds dropped under the most common conditions (of equals the latest)."""
    if not builds:
        return []
    counts = Counter(build.conditions for build in builds)
    latest = {build.conditions: build.round for build in sorted(builds, key=lambda build: build.round)}
    chosen = max(counts, key=lambda conditions: (counts[conditions], latest[conditions]))
    return [build for build in builds if build.conditions == chosen]


def gather(klass: ClassRecord, reference: Reference | None = None, *, letters: bool = False) -> ClassData:
    """Gather a class's builds; a build timed in other units or compared by another figure is left out.

    With `letters` teams are A, B, C … in their order instead of by name.
    """
    reference = reference or Reference()
    shifts = find_shifts(reference.readings)
    performance = klass.kind.performance(klass.values)
    left_out = 0
    teams = []
    for team in klass.teams:
        name = letter(team.place) if letters else team.team.name
        builds = {}
        for number, record in sorted(team.rounds.items()):
            if not record.counting:
                continue
            if record.values["unit_system"] != klass.values["unit_system"] or (
                record.performance.slug != performance.slug
            ):
                left_out += 1
                continue
            builds[number] = _build(team, name, record, reference, shifts)
        teams.append(TeamBuilds(team.team.pk, name, team.place, builds))
    return ClassData(klass.kind, klass.values, performance, tuple(teams), shifts, left_out)


def letter(place: int) -> str:
    """A, B … Z, AA, AB …: a team's letter by its place, from 1."""
    text = ""
    while place > 0:
        place, rest = divmod(place - 1, 26)
        text = chr(ord("A") + rest) + text
    return text


def _build(team: TeamRecord, name: str, record: RoundRecord, reference: Reference, shifts: Shifts) -> Build:
    kind, values = record.kind, record.values
    timed = [(drop.row_id, drop.reading.hundredths) for drop in record.counting if drop.reading is not None]
    days = [reference.day_of.get(row_id) for row_id, _time in timed]
    seconds = tuple(time / (100 * shifts.ratio(day)) for (_row, time), day in zip(timed, days, strict=True))
    shifted = Counter(day for day in days if day in shifts.by_day)
    known = record.built_figures or record.plan_figures
    design = dict(known.variables) if known else {}
    return Build(
        team_id=team.team.pk,
        team=name,
        place=team.place,
        round=record.number,
        hundredths=tuple(time for _row, time in timed),
        seconds=seconds,
        figures=tuple(kind.drop_figure(values, second) for second in seconds),
        figure=kind.drop_figure(values, math.fsum(seconds) / len(seconds)),
        timed_figure=kind.drop_figure(values, sum(time for _row, time in timed) / (100 * len(timed))),
        design=design,
        sizes={slug: float(size) for slug, size in design.items()},
        wanted=record.trials_wanted,
        complete=record.trials_complete,
        unopened=len(timed) - record.opened_count,
        conditions=kind.conditions(values),
        day_shares={str(day): count / len(timed) for day, count in shifted.items()},
    )

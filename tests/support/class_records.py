"""Whole classes as records, made from sizes and times alone: the real types, no database."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from fractions import Fraction
from typing import Any

from classroom.models import Team
from design_challenges.kinds import get_kind
from design_challenges.models import ChallengeSettings, ClassChallenge, DesignIteration
from design_challenges.services.record_types import (
    ClassRecord,
    DropRecord,
    ReadingRecord,
    RoundRecord,
    SizeRecord,
    TeamRecord,
)
from design_challenges.services.records import settings_values

NAMES = ["Gannet", "Heron", "Plover", "Skua", "Tern", "Avocet", "Dunlin", "Eider"]
NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)

# One round of one team: canopy across, line, and the times in hundredths.
Made = tuple[Fraction | int | str, Fraction | int | str, Sequence[int]]


def class_values(
    unit_system: str = "us", values: Mapping[str, str] | None = None, **common: Any
) -> dict[str, Any]:
    """The usual settings of a soft landing as values, its own (as text) and the common ones changed."""
    settings = ChallengeSettings(version=1, unit_system=unit_system, values=dict(values or {}), **common)
    return settings_values(settings, get_kind("soft-landing"))


def class_record(
    teams: Sequence[Mapping[int, Made]],
    *,
    unit_system: str = "us",
    values: Mapping[str, str] | None = None,
    round_values: Mapping[int, Mapping[str, str]] | None = None,
    marks: Mapping[tuple[int, int, int], str] | None = None,
    **common: Any,
) -> ClassRecord:
    """A class of teams, each with its rounds by number; drops get row ids from 1 in order of team and round.

    `round_values` sets some rounds' own settings; `marks` the mark of a drop by (team, round, trial) from 1.
    """
    kind = get_kind("soft-landing")
    usual = class_values(unit_system, values, **common)
    row = 0
    records = []
    for place, rounds in enumerate(teams, start=1):
        name = NAMES[(place - 1) % len(NAMES)] + (f" {place}" if place > len(NAMES) else "")
        team = TeamRecord(team=Team(pk=place, name=name, place=place), place=place, members_by_round={})
        for number, (across, line, times) in sorted(rounds.items()):
            own = dict((round_values or {}).get(number, {}))
            system = own.pop("unit_system", unit_system)
            set_up = class_values(system, {**(values or {}), **own}, **common)
            drops = []
            for trial, hundredths in enumerate(times, start=1):
                row += 1
                mark = (marks or {}).get((place, number, trial), "")
                drops.append(
                    DropRecord(row, trial, 1, (ReadingRecord(row, hundredths, "team"),), True, mark, mark, "")
                )
            team.rounds[number] = RoundRecord(
                number=number,
                kind=kind,
                values=set_up,
                iteration=DesignIteration(number=number),
                settings_version=1,
                ideas={},
                plan={},
                built=_built(Fraction(across), Fraction(line), int(set_up["line_count"])),
                notes={},
                noticings=[],
                workings={},
                clearance=None,
                drops=drops,
                before=team.rounds.get(number - 1),
            )
        records.append(team)
    return ClassRecord(
        challenge=ClassChallenge(kind=kind.slug),
        kind=kind,
        settings=ChallengeSettings(version=1, unit_system=unit_system, values=dict(values or {}), **common),
        values=usual,
        gates={},
        teams=records,
    )


def _built(across: Fraction, line: Fraction, lines: int) -> dict[tuple[str, int], SizeRecord]:
    sizes = {("canopy_diameter", way): across for way in (1, 2)}
    sizes |= {("line_length", number): line for number in range(1, lines + 1)}
    return {key: SizeRecord(str(value), value, 1, NOON) for key, value in sizes.items()}

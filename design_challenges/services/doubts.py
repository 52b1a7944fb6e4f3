"""Which teams' numbers cannot all be right, for their teacher alone: from the records, asked of the kind."""

from __future__ import annotations

from dataclasses import dataclass

from design_challenges.kinds.base import Doubt
from design_challenges.services.record_types import ClassRecord, RoundRecord, TeamRecord


@dataclass(frozen=True)
class TeamDoubt:
    """One team's round whose numbers cannot all be right."""

    team: TeamRecord
    number: int
    doubt: Doubt


def round_doubt(record: RoundRecord) -> Doubt | None:
    """Return what to ask about a round's measured device and its drops that opened, or None."""
    if not record.build_complete:
        return None
    sizes = {key: size.value for key, size in record.built.items()}
    times = [(drop.trial, drop.reading.seconds) for drop in record.counting if drop.opened and drop.reading]
    return record.kind.find_doubt(record.values, sizes, times)


def team_doubts(team: TeamRecord) -> list[TeamDoubt]:
    """Return a team's rounds that there is something to ask about."""
    found = ((number, round_doubt(record)) for number, record in team.rounds.items())
    return [TeamDoubt(team, number, doubt) for number, doubt in found if doubt is not None]


def class_doubts(klass: ClassRecord) -> list[TeamDoubt]:
    """Return every team's rounds that there is something to ask about, in team order."""
    return [doubt for team in klass.teams for doubt in team_doubts(team)]

"""What is covered on the class board until the children have guessed: columns, the charts' axes, teams."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from design_challenges.models import ClassChallenge

FIGURE, AXES = "figure", "axes"
TEAM = "team-"


@dataclass(frozen=True)
class Covers:
    """Everything covered for now, by the names that `ClassChallenge.board_hidden` keeps."""

    names: frozenset[str]

    @property
    def figure(self) -> bool:
        """Whether the figure is covered, and with it the times that would give it away."""
        return FIGURE in self.names

    @property
    def axes(self) -> bool:
        """Whether the charts show neither what their axes are nor any number on them."""
        return AXES in self.names

    @property
    def any_team(self) -> bool:
        return any(name.startswith(TEAM) for name in self.names)

    def column(self, slug: str) -> bool:
        return slug in self.names

    def team(self, team_id: int) -> bool:
        """Whether all numbers of one team are covered."""
        return team_name(team_id) in self.names


def covers_of(challenge: ClassChallenge) -> Covers:
    """Return what a class has covered."""
    return Covers(frozenset(challenge.board_hidden))


def team_name(team_id: int) -> str:
    """Return the name under which one team is covered."""
    return f"{TEAM}{team_id}"


def covered_and_shown(
    challenge: ClassChallenge, teams: Iterable[tuple[int, str]]
) -> tuple[list[tuple[str, str]], list[tuple[str, str]]]:
    """Return the covered teams and the others, each with its name in `board_hidden`, in the order given."""
    covers = covers_of(challenge)
    named = [(covers.team(team_id), (team_name(team_id), name)) for team_id, name in teams]
    return [pair for covered, pair in named if covered], [pair for covered, pair in named if not covered]


def known_names(columns: Iterable[str], team_ids: Iterable[int]) -> list[str]:
    """Return every name that can be covered: the columns first, then the axes, then the teams."""
    return [*columns, AXES, *map(team_name, team_ids)]

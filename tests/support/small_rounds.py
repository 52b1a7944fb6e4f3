"""Rounds that are only measured and dropped, for pages that read numbers: quick to make, the usual doors."""

from __future__ import annotations

from collections.abc import Sequence

from classroom.models import Team
from design_challenges.models import ClassChallenge
from design_challenges.services import saving
from tests import builders


def drop_only(
    challenge: ClassChallenge,
    team: Team,
    number: int,
    hundredths: Sequence[int],
    *,
    across: str = "14",
    line: str = "13",
) -> None:
    """Begin a round, measure the made thing and time its drops."""
    saving.start_round(challenge, team, number)
    builders.build_round(challenge, team, number, across=(across,) * 2, lines=(line,) * 4)
    builders.drop_round(challenge, team, number, hundredths=hundredths)

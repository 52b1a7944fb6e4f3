"""Who does what: the four jobs of a team, passed round by one tap."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext_lazy as _

from design_challenges.words import Words

JOBS: tuple[Words, ...] = (_("measures"), _("reads back"), _("types"), _("checks"))


@dataclass(frozen=True)
class Job:
    """One job and who has it now."""

    name: Words
    who: str


def share_jobs(names: Sequence[str], turn: int) -> list[Job]:
    """Return the jobs with a name each, moved on by one for every turn; nobody there, no jobs.

    With fewer children than jobs somebody has two; with more, the turns bring everybody in.
    """
    if not names:
        return []
    return [Job(job, names[(place + turn) % len(names)]) for place, job in enumerate(JOBS)]

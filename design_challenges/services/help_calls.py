"""A team's call for help: asked once, waiting until it is answered."""

from __future__ import annotations

from django.db import IntegrityError, transaction
from django.utils import timezone

from classroom.models import Team
from design_challenges.models import ClassChallenge, HelpCall
from design_challenges.services.entries import bump_revision


def ask_for_help(challenge: ClassChallenge, team: Team) -> None:
    """Let the team's call wait; asked again while one waits, nothing changes."""
    try:
        with transaction.atomic():
            _call, made = HelpCall.objects.get_or_create(
                class_challenge=challenge, team=team, answered_at__isnull=True
            )
            if made:
                bump_revision(challenge.pk)
    except IntegrityError:
        # Two tablets of the team asked at once: one call is what both want.
        return


def end_call(challenge: ClassChallenge, team: Team) -> None:
    """End the team's call, answered or not needed any more."""
    with transaction.atomic():
        waiting = HelpCall.objects.filter(class_challenge=challenge, team=team, answered_at__isnull=True)
        if waiting.update(answered_at=timezone.now()):
            bump_revision(challenge.pk)

"""A team's call for help: asked once, waiting until it is answered."""

from __future__ import annotations

from django.db import IntegrityError, transaction
from django.utils import timezone

from classroom.models import Team
from design_challenges.models import ClassChallenge, HelpCall
from design_challenges.services.entries import bump_revision


def ask_for_help(challenge: ClassChallenge, team: Team) -> bool:
    """Let the team's call wait, and return whether that is new; raising the revision is the caller's."""
    try:
        with transaction.atomic():
            _call, made = HelpCall.objects.get_or_create(
                class_challenge=challenge, team=team, answered_at__isnull=True
            )
    except IntegrityError:
        # Two tablets of the team asked at once: one call is what both want.
        return False
    return made


def end_call(challenge: ClassChallenge, team: Team) -> bool:
    """End the team's call, and return whether one waited; raising the revision is the caller's."""
    waiting = HelpCall.objects.filter(class_challenge=challenge, team=team, answered_at__isnull=True)
    return bool(waiting.update(answered_at=timezone.now()))


def answer_call(challenge: ClassChallenge, team: Team) -> None:
    """End the team's call because its teacher came."""
    with transaction.atomic():
        if end_call(challenge, team):
            bump_revision(challenge.pk)

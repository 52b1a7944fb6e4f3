"""What a timing station says about its queue; whose turn it is follows from this and from the drops."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from classroom.models import Team
from design_challenges.models.challenge import ClassChallenge
from design_challenges.models.iteration import EntryRow


class QueueMove(EntryRow):
    """A change of the queue by hand: a team skipped or called back, the day begun or stopped."""

    class Move(models.TextChoices):
        START = "start", _("the station was opened")
        SKIP = "skip", _("skipped for now")
        CALL = "call", _("called out of turn")
        NO_REFERENCE = "noref", _("no reference device today")
        STOP = "stop", _("stopped here, goes on another day")

    class_challenge = models.ForeignKey(ClassChallenge, on_delete=models.PROTECT, related_name="queue_moves")
    team = models.ForeignKey(Team, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    move = models.CharField(max_length=6, choices=Move.choices)
    round = models.PositiveSmallIntegerField(default=0)
    trial = models.PositiveSmallIntegerField(
        default=0, help_text=_("The drop it was about: done, it matters no more.")
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(move__in=["skip", "call"], team__isnull=False)
                | Q(move__in=["start", "noref", "stop"], team__isnull=True),
                name="queue_move_of_a_team_or_of_all",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.team or self.class_challenge}: {self.move}"

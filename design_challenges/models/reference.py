"""The teacher's own device, dropped on every day that teams test: what changes in it is the day."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from classroom.models import Lesson
from design_challenges.models.challenge import ClassChallenge
from design_challenges.models.iteration import EntryRow


class ReferenceDrop(EntryRow):
    """One drop of the reference device in a lesson; with `takes_out`, that an earlier one was mistyped."""

    class_challenge = models.ForeignKey(
        ClassChallenge, on_delete=models.PROTECT, related_name="reference_drops"
    )
    lesson = models.ForeignKey(Lesson, on_delete=models.PROTECT, related_name="reference_drops")
    hundredths = models.PositiveIntegerField(
        null=True, blank=True, help_text=_("Fall time in hundredths of a second.")
    )
    takes_out = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="taken_out_by"
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(hundredths__isnull=False, hundredths__gte=1, takes_out__isnull=True)
                | Q(hundredths__isnull=True, takes_out__isnull=False),
                name="reference_drop_or_taken_out",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.lesson}: {self.hundredths or self.takes_out_id}"

"""What arrived, as it arrived: one row for every form a tablet or a teacher sent."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from classroom.models import AppendOnlyModel, Device
from design_challenges.models.challenge import ClassChallenge


class Submission(AppendOnlyModel):
    """An entry by its id: sent twice it counts once, and the first answer is given again."""

    class Outcome(models.TextChoices):
        SAVED = "saved", _("saved")
        CONFLICT = "conflict", _("kept, not used: another tablet saved first")
        REFUSED = "refused", _("kept, not used")

    entry_id = models.UUIDField(unique=True, default=uuid.uuid4)
    class_challenge = models.ForeignKey(ClassChallenge, on_delete=models.PROTECT, related_name="submissions")
    device = models.ForeignKey(
        Device, null=True, blank=True, on_delete=models.SET_NULL, related_name="submissions"
    )
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    counter = models.PositiveBigIntegerField(
        null=True, blank=True, help_text=_("The device's own count of its entries, where it keeps one.")
    )
    body = models.JSONField(default=dict)
    body_hash = models.CharField(max_length=64)
    outcome = models.CharField(max_length=10, choices=Outcome.choices, default=Outcome.SAVED)
    answer = models.CharField(max_length=200, blank=True, default="")
    installation = models.UUIDField(
        null=True, blank=True, help_text=_("The installation whose page it was typed into, where it says so.")
    )
    device_time = models.DateTimeField(null=True, blank=True)
    taken_at = models.DateTimeField(
        null=True,
        blank=True,
        help_text=_("When it happened by our clock: received, less how long the device says it waited."),
    )
    received_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["device", "counter"],
                condition=Q(device__isnull=False, counter__isnull=False),
                name="submission_counter_once_a_device",
            ),
        ]

    def __str__(self) -> str:
        return str(self.entry_id)

"""The one row that says which installation this is."""

from __future__ import annotations

import uuid

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _


class Installation(models.Model):
    """This installation: its identity, the school's time zone, and whether its data is invented."""

    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    time_zone = models.CharField(max_length=64, default="UTC")
    demo = models.BooleanField(default=False, help_text=_("Everything in this database is invented."))
    addresses = models.JSONField(
        default=list, blank=True, help_text=_("Where other machines could reach it at its last start.")
    )
    addresses_before = models.JSONField(
        default=list, blank=True, help_text=_("Where they could before that last changed.")
    )
    addresses_changed_at = models.DateTimeField(null=True, blank=True)
    first_teacher_token_hash = models.CharField(max_length=64, blank=True, default="")
    made_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(pk=1), name="installation_is_the_only_row"),
        ]

    def __str__(self) -> str:
        return str(self.uuid)

    @classmethod
    def get(cls) -> Installation:
        """Return the installation's row, made on first use."""
        installation, _made = cls.objects.get_or_create(pk=1)
        return installation

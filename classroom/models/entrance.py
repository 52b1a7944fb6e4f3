"""Doors that need no account: a team's tablets, a substitute's card, a timing station's link."""

from __future__ import annotations

import contextlib
from datetime import datetime, timedelta

from django.conf import settings
from django.db import OperationalError, models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from classroom.models.people import Classroom, Team

LAST_SEEN_GRAIN = timedelta(seconds=30)
# What was timed before a station was withdrawn may still be on its way.
STATION_HAND_IN = timedelta(days=7)


class SubstitutePass(models.Model):
    """A link that lets a substitute run a class's lessons without an account, until a time."""

    classroom = models.ForeignKey(Classroom, on_delete=models.CASCADE, related_name="substitute_passes")
    token_hash = models.CharField(max_length=64, unique=True)
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    made_at = models.DateTimeField(auto_now_add=True)
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-made_at"]

    def __str__(self) -> str:
        return f"{self.classroom} · {self.expires_at:%Y-%m-%d %H:%M}"

    @property
    def works(self) -> bool:
        return self.revoked_at is None and self.expires_at > timezone.now()


class StationPass(models.Model):
    """A link that lets a phone time the drops of one class challenge, until a time, and nothing else.

    A class does a kind of challenge once, so class and kind name the class challenge.
    """

    classroom = models.ForeignKey(Classroom, on_delete=models.CASCADE, related_name="station_passes")
    kind = models.SlugField(max_length=40)
    token_hash = models.CharField(max_length=64, unique=True)
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    made_at = models.DateTimeField(auto_now_add=True)
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-made_at"]

    def __str__(self) -> str:
        return f"{self.classroom} · {self.kind} · {self.expires_at:%Y-%m-%d %H:%M}"

    @property
    def works(self) -> bool:
        return self.revoked_at is None and self.expires_at > timezone.now()

    @property
    def ended_at(self) -> datetime:
        """When it stops, or stopped, to work."""
        return min(self.expires_at, self.revoked_at) if self.revoked_at else self.expires_at

    @property
    def may_hand_in(self) -> bool:
        """Whether what was timed before may still come in."""
        return timezone.now() < self.ended_at + STATION_HAND_IN


class Device(models.Model):
    """A browser that was let in for one team, for a substitute or as a timing station, by a code or a link.

    Only the digest of its token is kept; the token itself lives in a cookie of
    its own, so that a teacher's session and a team can share a browser.
    """

    class Role(models.TextChoices):
        TEAM = "team", _("Team tablet")
        SUBSTITUTE = "substitute", _("Substitute")
        STATION = "station", _("Timing station")

    token_hash = models.CharField(max_length=64, unique=True)
    classroom = models.ForeignKey(Classroom, on_delete=models.CASCADE, related_name="devices")
    role = models.CharField(max_length=12, choices=Role.choices)
    team = models.ForeignKey(Team, null=True, blank=True, on_delete=models.CASCADE, related_name="devices")
    substitute_pass = models.ForeignKey(
        SubstitutePass, null=True, blank=True, on_delete=models.CASCADE, related_name="devices"
    )
    station_pass = models.ForeignKey(
        StationPass, null=True, blank=True, on_delete=models.CASCADE, related_name="devices"
    )
    made_at = models.DateTimeField(auto_now_add=True)
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_seen_at = models.DateTimeField(null=True, blank=True, help_text=_("No finer than 30 s."))

    # The revision of the class's challenge, set where the device was read from its cookie (access).
    challenge_revision: int | None = None

    class Meta:
        indexes = [models.Index(fields=["team", "last_seen_at"])]
        constraints = [
            models.CheckConstraint(
                condition=Q(
                    role="team", team__isnull=False, substitute_pass__isnull=True, station_pass__isnull=True
                )
                | Q(
                    role="substitute",
                    team__isnull=True,
                    substitute_pass__isnull=False,
                    station_pass__isnull=True,
                )
                | Q(
                    role="station",
                    team__isnull=True,
                    substitute_pass__isnull=True,
                    station_pass__isnull=False,
                ),
                name="device_opens_one_door",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_role_display()} · {self.team or self.classroom}"

    def touch(self) -> None:
        """Note that the device was seen, at most once in 30 s, so that a poll is no write."""
        now = timezone.now()
        if self.last_seen_at is not None and now - self.last_seen_at < LAST_SEEN_GRAIN:
            return
        self.last_seen_at = now
        # Pages can be read while nothing can be written; when a tablet was seen is not worth a failure.
        with contextlib.suppress(OperationalError):
            type(self).objects.filter(pk=self.pk).update(last_seen_at=now)

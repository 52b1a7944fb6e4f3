"""Wrong codes and passwords, counted in the database so that every process of the server sees them."""

from __future__ import annotations

from django.db import models


class WrongTry(models.Model):
    """How often somebody tried something wrong lately: no address, code or name, only digests of them."""

    class Door(models.TextChoices):
        JOIN = "join"
        AWAY = "away"
        SIGN_IN = "sign-in"
        PACE = "pace"

    door = models.CharField(max_length=8, choices=Door.choices)
    who = models.CharField(max_length=64, blank=True)
    what = models.CharField(max_length=64, blank=True)
    tries = models.PositiveIntegerField(default=1)
    last_at = models.DateTimeField(db_index=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["door", "who", "what"], name="wrong_try_once")]

    def __str__(self) -> str:
        return f"{self.door}: {self.tries}"

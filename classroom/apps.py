"""The Django application that holds the school's side."""

from __future__ import annotations

from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class ClassroomConfig(AppConfig):
    name = "classroom"
    verbose_name = _("Classroom")
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Register the checks."""
        from classroom import plain_http  # noqa: F401

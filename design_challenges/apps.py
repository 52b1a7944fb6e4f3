"""The Django application that holds the design challenges."""

from __future__ import annotations

from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class DesignChallengesConfig(AppConfig):
    name = "design_challenges"
    verbose_name = _("Design challenges")
    default_auto_field = "django.db.models.BigAutoField"

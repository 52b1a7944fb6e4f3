"""The steps of a round, in order, in the design's words."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _


class Step(models.TextChoices):
    PLAN = "plan", _("Plan")
    READY = "ready", _("Ready")
    BUILD = "build", _("Build")
    TEST = "test", _("Test")
    RESULTS = "results", _("Results")
    COMPARE = "compare", _("Compare")

"""Which of the packages' static files the site serves."""

from __future__ import annotations

from django.contrib.staticfiles.apps import StaticFilesConfig


class ServedStaticFiles(StaticFilesConfig):
    """Leave out what django-htmx ships beside htmx 2: never used here, and some of it does not hash."""

    ignore_patterns = [*StaticFilesConfig.ignore_patterns, "django_htmx*ext*", "django_htmx*-4.*"]

"""The addresses of the challenges' side: team, teacher and board pages."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver

app_name = "design_challenges"

urlpatterns: list[URLPattern | URLResolver] = []

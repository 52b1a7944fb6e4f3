"""The addresses of the team's tablet."""

from __future__ import annotations

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []

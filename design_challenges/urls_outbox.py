"""The addresses that a tablet's outbox asks."""

from __future__ import annotations

from django.urls import URLPattern, path

from design_challenges.views.entries import entries

urlpatterns: list[URLPattern] = [
    path("entries/", entries, name="entries"),
]

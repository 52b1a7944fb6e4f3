"""The addresses of the teacher's live pages and the set-up."""

from __future__ import annotations

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []

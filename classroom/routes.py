"""The addresses of the school's side: signing in, classes, students, teams."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver

app_name = "classroom"

urlpatterns: list[URLPattern | URLResolver] = []

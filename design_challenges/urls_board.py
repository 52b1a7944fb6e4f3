"""The addresses of the class board."""

from __future__ import annotations

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []

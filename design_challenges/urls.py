"""The addresses of the challenges' side, by audience."""

from __future__ import annotations

from django.urls import include, path

app_name = "design_challenges"

urlpatterns = [
    path("", include("design_challenges.urls_team")),
    path("", include("design_challenges.urls_teacher")),
    path("", include("design_challenges.urls_slips")),
    path("", include("design_challenges.urls_marking")),
    path("", include("design_challenges.urls_lessons")),
    path("", include("design_challenges.urls_station")),
    path("", include("design_challenges.urls_board")),
    path("", include("design_challenges.urls_files")),
    path("", include("design_challenges.urls_paper")),
    path("", include("design_challenges.urls_outbox")),
    path("", include("design_challenges.urls_year")),
]

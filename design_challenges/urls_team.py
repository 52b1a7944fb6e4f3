"""The addresses of the team's tablet."""

from __future__ import annotations

from django.urls import URLPattern, path

from design_challenges.views.team_build import team_build
from design_challenges.views.team_compare import team_compare
from design_challenges.views.team_results import team_results
from design_challenges.views.team_test import team_broke, team_test

urlpatterns: list[URLPattern] = [
    path("team/<int:number>/build/", team_build, name="team_build"),
    path("team/<int:number>/test/", team_test, name="team_test"),
    path("team/<int:number>/test/broke/", team_broke, name="team_broke"),
    path("team/<int:number>/results/", team_results, name="team_results"),
    path("team/<int:number>/compare/", team_compare, name="team_compare"),
]

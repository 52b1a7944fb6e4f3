"""The addresses of the teacher's slip page, exit questions and what was seen of a child."""

from __future__ import annotations

from django.urls import path

from design_challenges.views import evidence, slips

urlpatterns = [
    path("classes/<str:code>/slips/", slips.slips, name="slips"),
    path("classes/<str:code>/slips/children/<slug:step>/", evidence.children, name="slips_children"),
    path("classes/<str:code>/slips/children/<slug:step>/exit/", evidence.exit_switch, name="exit_switch"),
    path("classes/<str:code>/slips/children/<slug:step>/paper/", evidence.exit_paper, name="exit_paper"),
    path("classes/<str:code>/slips/children/<slug:step>/saw/", evidence.saw_it, name="saw_it"),
    path(
        "classes/<str:code>/teams/<int:team_id>/work/<int:number>/steps/<slug:step>/show/",
        slips.show_steps,
        name="show_steps",
    ),
]

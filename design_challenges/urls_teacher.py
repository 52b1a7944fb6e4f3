"""The addresses of the teacher's live pages and the set-up."""

from __future__ import annotations

from django.urls import path

from design_challenges.views import dashboard, measuring, numbers, setup, teams_by_hand

urlpatterns = [
    # the set-up
    path("classes/<str:code>/settings/", setup.challenge_settings, name="challenge_settings"),
    path("classes/<str:code>/settings/change/", setup.settings_change, name="settings_change"),
    # the live page
    path("classes/<str:code>/dashboard/", dashboard.dashboard, name="dashboard"),
    path("classes/<str:code>/dashboard/pause/", dashboard.pause, name="pause"),
    path("classes/<str:code>/dashboard/joining/", dashboard.joining, name="joining"),
    path("classes/<str:code>/dashboard/gate/", dashboard.gate, name="gate"),
    path("classes/<str:code>/dashboard/help/<int:team_id>/", dashboard.help_answered, name="help_answered"),
    path("classes/<str:code>/measuring/", measuring.measuring, name="measuring"),
    # what the numbers say
    path("classes/<str:code>/numbers/", numbers.numbers, name="numbers"),
    path("classes/<str:code>/numbers/<slug:name>.csv", numbers.table, name="numbers_table"),
    # one team's work, and setting it right
    path("classes/<str:code>/teams/<int:team_id>/work/", teams_by_hand.team_work, name="team_work"),
    path(
        "classes/<str:code>/teams/<int:team_id>/work/<int:number>/sizes/<str:stage>/<slug:quantity>/<int:spot>/",
        teams_by_hand.correct_size,
        name="correct_size",
    ),
    path(
        "classes/<str:code>/teams/<int:team_id>/work/<int:number>/notes/<slug:prompt>/",
        teams_by_hand.correct_note,
        name="correct_note",
    ),
    path(
        "classes/<str:code>/teams/<int:team_id>/work/<int:number>/drops/<int:drop_id>/time/",
        teams_by_hand.correct_drop,
        name="correct_drop",
    ),
    path(
        "classes/<str:code>/teams/<int:team_id>/work/<int:number>/drops/<int:drop_id>/counts/",
        teams_by_hand.judge_drop,
        name="judge_drop",
    ),
    path(
        "classes/<str:code>/teams/<int:team_id>/work/readings/<int:reading_id>/settle/",
        teams_by_hand.settle_reading,
        name="settle_reading",
    ),
    path(
        "classes/<str:code>/teams/<int:team_id>/work/<int:number>/clear/",
        teams_by_hand.clear_by_hand,
        name="clear_by_hand",
    ),
]

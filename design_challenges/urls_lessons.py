"""The addresses of lessons and of a substitute's card."""

from __future__ import annotations

from django.urls import path

from design_challenges.views import lessons, reference, substitute, welcome

urlpatterns = [
    path("classes/<slug:code>/lessons/", lessons.lessons, name="lessons"),
    path("classes/<slug:code>/lessons/start/", lessons.start, name="lesson_start"),
    path("classes/<slug:code>/lessons/end/", lessons.end, name="lesson_end"),
    path("classes/<slug:code>/lessons/attendance/", lessons.attendance, name="attendance"),
    path("classes/<slug:code>/lessons/reference/", reference.reference, name="reference"),
    path(
        "classes/<slug:code>/lessons/reference/<int:pk>/take-out/", reference.take_out, name="reference_out"
    ),
    path("classes/<slug:code>/lessons/<int:number>/", lessons.report, name="lesson_report"),
    path("classes/<slug:code>/substitute/", substitute.cards, name="substitute_cards"),
    path("classes/<slug:code>/substitute/new/", substitute.make_card, name="substitute_new"),
    path(
        "classes/<slug:code>/substitute/<int:pk>/withdraw/", substitute.withdraw, name="substitute_withdraw"
    ),
    path("team/welcome/", welcome.welcome, name="team_welcome"),
    path("substitute/<str:token>/", substitute.come_in, name="substitute_in"),
]

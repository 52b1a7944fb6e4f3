"""The addresses of the team's tablet."""

from __future__ import annotations

from django.urls import URLPattern, path

from design_challenges.views import drawing, team_now, team_plan, team_ready
from design_challenges.views.team_build import team_build
from design_challenges.views.team_compare import team_compare
from design_challenges.views.team_exit import team_exit
from design_challenges.views.team_queue import team_queue
from design_challenges.views.team_results import team_results
from design_challenges.views.team_tape import team_tape
from design_challenges.views.team_test import team_broke, team_test
from design_challenges.views.workers import team_worker

urlpatterns: list[URLPattern] = [
    path("team/", team_now.team_now, name="team_now"),
    path("team/worker.js", team_worker, name="team_worker"),
    path("team/help/", team_now.team_help, name="team_help"),
    path("team/jobs/", team_now.team_jobs, name="team_jobs"),
    path("team/tape/", team_tape, name="team_tape"),
    path("team/pulse/", team_now.team_pulse, name="team_pulse"),
    path("team/queue/", team_queue, name="team_queue"),
    path("team/exit/", team_exit, name="team_exit"),
    path("team/finished/", team_now.team_finished, name="team_finished"),
    path("team/pictures/<uuid:photo_id>/", drawing.team_photo, name="team_photo"),
    path("classes/<str:code>/pictures/<uuid:photo_id>/", drawing.class_photo, name="class_photo"),
    path("team/<int:number>/start/", team_now.team_start, name="team_start"),
    path("team/<int:number>/plan/", team_plan.team_plan, name="team_plan"),
    path("team/<int:number>/plan/sums/", team_plan.team_plan_sums, name="team_plan_sums"),
    path("team/<int:number>/plan/drawing/", drawing.team_drawing, name="team_drawing"),
    path("team/<int:number>/plan/<slug:part>/", team_plan.team_plan_part, name="team_plan_part"),
    path("team/<int:number>/ready/", team_ready.team_ready, name="team_ready"),
    path("team/<int:number>/build/", team_build, name="team_build"),
    path("team/<int:number>/test/", team_test, name="team_test"),
    path("team/<int:number>/test/broke/", team_broke, name="team_broke"),
    path("team/<int:number>/results/", team_results, name="team_results"),
    path("team/<int:number>/compare/", team_compare, name="team_compare"),
]

"""The teacher's page on measuring: how close pairs of readings are, and how evenly devices are made."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from classroom.access import TeacherRequest, teacher_of_class
from design_challenges.services.measuring import build_measuring
from design_challenges.services.records import find_challenge, load_class
from design_challenges.views.live import board_token, has_it_already, nothing_new


@require_safe
@never_cache
@teacher_of_class(substitute=True)
def measuring(request: TeacherRequest) -> HttpResponse:
    """How the class measures, or for a poll the live part, or nothing where nothing is new."""
    token = board_token(request)
    if has_it_already(request, token):
        return nothing_new()
    challenge = find_challenge(request.classroom)
    context: dict[str, Any] = {
        "classroom": request.classroom,
        "substitute": request.substitute,
        "challenge": challenge,
        "token": token,
    }
    if challenge is not None:
        context["measuring"] = build_measuring(load_class(challenge))
    live = challenge is not None and request.htmx
    return render(request, "teacher/_measuring_live.html" if live else "teacher/measuring.html", context)

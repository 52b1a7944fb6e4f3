"""The teacher's page on measuring: how close pairs of readings are, and how evenly devices are made."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from classroom.access import TeacherRequest, teacher_of_class
from design_challenges.services.measuring import build_measuring
from design_challenges.services.records import find_challenge, load_class


@require_safe
@never_cache
@teacher_of_class(substitute=True)
def measuring(request: TeacherRequest) -> HttpResponse:
    """Show how the class measures, round by round."""
    challenge = find_challenge(request.classroom)
    context = {
        "classroom": request.classroom,
        "substitute": request.substitute,
        "challenge": challenge,
        "measuring": build_measuring(load_class(challenge)) if challenge is not None else None,
    }
    return render(request, "teacher/measuring.html", context)

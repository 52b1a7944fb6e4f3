"""What a page that polls shares with the others: its token, and the answer that touches nothing."""

from __future__ import annotations

from time import time
from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect

from classroom.access import TeacherRequest
from classroom.ways import safe_path
from design_challenges.models import Revision
from design_challenges.services.covers import covered_and_shown, covers_of
from design_challenges.services.record_types import ClassRecord

# "Seen 3 min ago" grows old without anybody saving anything.
CLOCK_GRAIN_S = 30
TIMER_MINUTES = (1, 2, 3, 5)


def revision_of(request: TeacherRequest) -> int:
    """Return the class challenge's revision: it came with the class, except for a substitute's card."""
    known = getattr(request.classroom, "challenge_revision", None)
    if known is None:
        rows = Revision.objects.filter(class_challenge__classroom=request.classroom)
        known = rows.order_by("class_challenge_id").values_list("number", flat=True).first()
    return known or 0


def board_token(request: TeacherRequest) -> str:
    """Return what tells one state of the board from another."""
    return str(revision_of(request))


def dashboard_token(request: TeacherRequest) -> str:
    """Return what tells one state of the dashboard from another; the times on it go in steps of 30 s."""
    classroom = request.classroom
    clock = int(time()) // CLOCK_GRAIN_S
    return f"{revision_of(request)}-{int(classroom.joining_open)}-{classroom.wrong_codes}-{clock}"


def covers_context(klass: ClassRecord) -> dict[str, Any]:
    """Return what the taps for the axes and for single teams need, on the board and on the dashboard."""
    covered, shown = covered_and_shown(
        klass.challenge, [(team.team.pk, team.team.name) for team in klass.teams]
    )
    axes = covers_of(klass.challenge).axes
    return {"axes_covered": axes, "teams_covered": covered, "teams_shown": shown}


def has_it_already(request: TeacherRequest, token: str) -> bool:
    """Say whether a page that asks for news shows this state already."""
    return bool(request.htmx) and request.GET.get("revision") == token


def nothing_new() -> HttpResponse:
    """Return the answer that swaps nothing."""
    return HttpResponse(status=204)


def after_a_tap(request: TeacherRequest, fallback: str) -> HttpResponse:
    """Return to the page that a one-tap button stands on; a live page only fetches what changed."""
    if request.htmx:
        done = HttpResponse(status=204)
        done.headers["HX-Trigger"] = "changed"
        return done
    wanted = safe_path(request.POST.get("next", ""))
    if wanted:
        return redirect(wanted)
    return redirect(fallback, request.classroom.code)

"""The teacher's slip page: slips the class makes now, every team's tries, showing a team the steps."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST

from classroom.access import TeacherRequest, teacher_of_class
from classroom.models import Team
from design_challenges.services import saving, slip_board
from design_challenges.services.dashboard import due_sums
from design_challenges.services.doubts import class_doubts
from design_challenges.services.entries import Author, Sender, save_entry
from design_challenges.services.evidence import alone_steps
from design_challenges.services.records import find_challenge, load_class, load_team
from design_challenges.views.live import board_token, has_it_already, nothing_new
from design_challenges.views.seats import read_entry_id


@require_GET
@never_cache
@teacher_of_class(substitute=True)
def slips(request: TeacherRequest) -> HttpResponse:
    """The slips and tries of the class, or for a poll the live part, or nothing where nothing is new."""
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
        klass = load_class(challenge)
        board = slip_board.build_slip_board(klass)
        context |= {
            "board": board,
            "announce": slip_board.latest_slip(board),
            "doubts": class_doubts(klass),
            "by_children": klass.values["sums_by"] == "children",
            "first_step": alone_steps(klass.kind, klass.values)[0].slug,
        }
    live = challenge is not None and request.htmx
    return render(request, "teacher/_slips_live.html" if live else "teacher/slips.html", context)


@require_POST
@teacher_of_class(substitute=True)
def show_steps(request: TeacherRequest, team_id: int, number: int, step: str) -> HttpResponse:
    """Show a team the steps of one sum with its own numbers; it is kept that the teacher did."""
    challenge = find_challenge(request.classroom)
    if challenge is None:
        raise Http404
    team = get_object_or_404(Team, pk=team_id, classroom=request.classroom)
    record = load_team(challenge, team).teams[0].rounds.get(number)
    found = next((one for one in due_sums(record) if one.slug == step), None) if record else None
    if record is None or found is None:
        raise Http404
    work, basis = record.working(found), record.basis(found)

    def effect(author: Author) -> str:
        if work.accepted is None and not work.given:
            saving.save_working(record.iteration, found.slug, basis, "", "given", author)
        return ""

    sender = Sender(device=request.substitute, user=request.by_user)
    body = {"show": step, "basis": basis, "page": request.path}
    save_entry(challenge, sender, read_entry_id(request), body, effect)
    messages.success(request, _("The team sees the steps of “{sum}” now.").format(sum=found.label))
    return redirect("design_challenges:team_work", request.classroom.code, team.pk)

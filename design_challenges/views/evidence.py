"""What single children can do, for their teacher: exit questions on tablet and paper, and what was seen."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST

from classroom.access import TeacherRequest, teacher_of_class
from classroom.models import Student
from classroom.whole import whole_number
from design_challenges.models import ClassChallenge
from design_challenges.services import evidence
from design_challenges.services.entries import Author, Sender, save_entry
from design_challenges.services.record_types import ClassRecord
from design_challenges.services.records import find_challenge, load_class
from design_challenges.services.working import Step
from design_challenges.views.live import after_a_tap, board_token, has_it_already, nothing_new
from design_challenges.views.printing import paper_context
from design_challenges.views.seats import read_entry_id


@require_GET
@never_cache
@teacher_of_class(substitute=True)
def children(request: TeacherRequest, step: str) -> HttpResponse:
    """Every child at one sum: the exit question's answer and what the teacher saw; live."""
    token = board_token(request)
    if has_it_already(request, token):
        return nothing_new()
    klass, found = _klass(request, step)
    teams, question = evidence.load_evidence(klass, found)
    answers = [child.answer for team in teams for child in team.children if child.answer]
    here = [request.classroom.code]
    context: dict[str, Any] = {
        "classroom": request.classroom,
        "substitute": request.substitute,
        "token": token,
        "step": found,
        "teams": teams,
        "children": any(team.children for team in teams),
        "question": question,
        "is_open": question is not None and question.closed_at is None,
        "answered": len(answers),
        "right": sum(1 for answer in answers if answer.right),
        "tabs": [
            {
                "label": one.label if not one.slug.startswith("rounded_") else one.ask,
                "url": reverse("design_challenges:slips_children", args=[*here, one.slug]),
                "current": one.slug == found.slug,
            }
            for one in evidence.alone_steps(klass.kind, klass.values)
        ],
    }
    live = bool(request.htmx)
    return render(
        request, "teacher/_slip_children_live.html" if live else "teacher/slip_children.html", context
    )


@require_POST
@teacher_of_class(substitute=True)
def exit_switch(request: TeacherRequest, step: str) -> HttpResponse:
    """Ask the exit question on a sum, or close it."""
    klass, found = _klass(request, step)
    if request.POST.get("ask") == "yes":
        evidence.ask(klass.challenge, found.slug)
    else:
        evidence.close(klass.challenge)
    return _back(request, step)


@require_POST
@teacher_of_class(substitute=True)
def saw_it(request: TeacherRequest, step: str) -> HttpResponse:
    """Note that a child was seen doing a sum (`saw` is a child's id), or take it back (`not`)."""
    klass, found = _klass(request, step)
    saw = "saw" in request.POST
    child = request.POST.get("saw", request.POST.get("not", ""))
    student = get_object_or_404(
        Student, pk=whole_number(child), classroom=request.classroom, left_at__isnull=True
    )

    def effect(author: Author) -> str:
        evidence.mark_seen(klass.challenge, student, found.slug, saw, author)
        return ""

    sender = Sender(device=request.substitute, user=request.by_user)
    body = {"student": student.pk, "step": found.slug, "saw": saw}
    save_entry(klass.challenge, sender, read_entry_id(request), body, effect)
    return _back(request, step)


@require_GET
@teacher_of_class(substitute=True)
def exit_paper(request: TeacherRequest, step: str) -> HttpResponse:
    """The exit question on paper: a strip a child with its own numbers, then the answers for the teacher."""
    klass, found = _klass(request, step)
    strips = []
    for team in klass.teams:
        for student in team.members(team.current.number if team.current else 1):
            numbers = evidence.child_context(klass.kind, klass.values, found.slug, student)
            strips.append(
                {
                    "student": student,
                    "team": team.team,
                    "given": klass.kind.given(found.slug, numbers),
                    "table": klass.kind.table(found.slug, numbers),
                    "right": evidence.show_right(found, numbers),
                }
            )
    context = {
        "classroom": request.classroom,
        "step": found,
        "strips": strips,
        "back_url": reverse("design_challenges:slips_children", args=[request.classroom.code, found.slug]),
        **paper_context(request, klass.settings.unit_system),
    }
    return render(request, "print/exit_question.html", context)


def _klass(request: TeacherRequest, slug: str) -> tuple[ClassRecord, Step]:
    challenge: ClassChallenge | None = find_challenge(request.classroom)
    if challenge is None:
        raise Http404
    klass = load_class(challenge)
    found = evidence.find_step(klass.kind, klass.values, slug)
    if found is None:
        raise Http404
    return klass, found


def _back(request: TeacherRequest, step: str) -> HttpResponse:
    if request.htmx or request.POST.get("next"):
        return after_a_tap(request, "design_challenges:slips")
    return redirect("design_challenges:slips_children", request.classroom.code, step)

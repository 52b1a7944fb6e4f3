"""The exit question on a team's tablet: one child after the other, each with numbers of its own."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from classroom.access import TeamRequest, team_tablet
from classroom.models import Student
from design_challenges.forms.sums import LONGEST_ANSWER, SumForm
from design_challenges.models import ExitQuestion
from design_challenges.services import evidence, records
from design_challenges.services.entries import Author
from design_challenges.services.record_types import ClassRecord, TeamRecord
from design_challenges.services.watch import watch
from design_challenges.services.working import Step, SumContext, check
from design_challenges.views.seats import read_entry_id, save_team_entry


@never_cache
@team_tablet
@require_http_methods(["GET", "POST"])
def team_exit(request: TeamRequest) -> HttpResponse:
    """Ask who it is, ask that child's question, keep the answer, and hand on to the next child."""
    challenge = records.find_challenge(request.classroom)
    if challenge is None:
        return redirect("design_challenges:team_now")
    klass = records.load_team(challenge, request.team)
    team = klass.team(request.team.pk)
    question = evidence.open_question(challenge)
    step = evidence.find_step(klass.kind, klass.values, question.step) if question else None
    if question is None or step is None:
        return _page(request, klass, team)
    children = list(team.present(team.current.number if team.current else 1))
    answers = evidence.answered_by(question, children)
    asked = (request.POST if request.method == "POST" else request.held or request.GET).get("child", "")
    child = next((one for one in children if str(one.pk) == asked), None)
    if child is None or child.pk in answers:
        done = answers.get(child.pk) if child else None
        verdict = None
        if child is not None and done is not None:
            verdict = check(step, _context(klass, step, child, question), done.typed, 0)
        waiting = [one for one in children if one.pk not in answers]
        return _page(request, klass, team, question=question, waiting=waiting, child=child, verdict=verdict)
    return _ask(request, klass, team, question, step, child)


def _context(klass: ClassRecord, step: Step, child: Student, question: ExitQuestion) -> SumContext:
    return evidence.child_context(klass.kind, klass.values, step.slug, child, question.pk)


def _ask(
    request: TeamRequest,
    klass: ClassRecord,
    team: TeamRecord,
    question: ExitQuestion,
    step: Step,
    child: Student,
) -> HttpResponse:
    """Show one child its question, or take its answer in."""
    context = _context(klass, step, child, question)
    shown: dict[str, Any] = {
        "question": question,
        "child": child,
        "asking": step,
        "given": klass.kind.given(step.slug, context),
        # A sum's table of the page, with the names that its template reads.
        "sum": {"step": step, "table": klass.kind.table(step.slug, context)},
        "system": klass.kind.system(klass.values),
    }
    if request.method != "POST":
        held = request.held.get("answer", "") if request.held else ""
        return _page(request, klass, team, form=SumForm(step, initial={"answer": held}), **shown)
    typed = request.POST.get("answer", "")[:LONGEST_ANSWER]
    verdict = check(step, context, typed, 0)
    if verdict.outcome == "unreadable":
        form = SumForm(step, {"answer": typed})
        form.add_error("answer", str(verdict.message))
        return _page(request, klass, team, status=422, form=form, **shown)

    def effect(author: Author) -> str:
        evidence.save_answer(question, child, typed.strip(), verdict, author)
        return f"{request.path}?child={child.pk}"

    body = {"exit": question.pk, "child": child.pk, "answer": typed}
    save_team_entry(request, klass.challenge, body, effect)
    return redirect(f"{request.path}?child={child.pk}")


def _page(
    request: TeamRequest, klass: ClassRecord, team: TeamRecord, *, status: int = 200, **more: Any
) -> HttpResponse:
    context = {
        "challenge": klass.challenge,
        "team": team,
        "revision": klass.challenge.revision.number,
        "watched": watch(klass, team).as_text(),
        "exit_page": True,
        "title": _("One last question"),
        "entry_id": read_entry_id(request),
        **more,
    }
    return render(request, "team/exit.html", context, status=status)

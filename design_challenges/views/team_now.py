"""A team's way through the rounds: where it is, starting a round, help, jobs, the quiet check for changes."""

from __future__ import annotations

from typing import Any

from django.db.models import F
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from classroom.access import TeamRequest, team_tablet
from design_challenges.models import ClassChallenge, DesignIteration
from design_challenges.services import help_calls, plan_flow, progress, records
from design_challenges.services.entries import Author, Result, Unchanged
from design_challenges.services.record_types import ClassRecord, TeamRecord
from design_challenges.services.saving import start_round
from design_challenges.services.watch import Watched, watch, what_changed
from design_challenges.steps import Step
from design_challenges.views.seats import save_team_entry


@never_cache
@team_tablet
@require_safe
def team_now(request: TeamRequest) -> HttpResponse:
    """Send the tablet to the step its team is at, or to the start of its next round."""
    challenge = records.find_challenge(request.classroom)
    if challenge is None:
        return render(request, "team/no_challenge.html")
    klass = records.load_team(challenge, request.team)
    team = klass.team(request.team.pk)
    if team.current is None:
        return redirect("design_challenges:team_start", 1)
    step = progress.next_step(team.current)
    if step is Step.READY and plan_flow.next_part(team.current) is not None:
        # The drawing and the guesses hold nobody up later, but they come before the check.
        step = Step.PLAN
    if step is not None:
        return redirect(f"design_challenges:team_{step.value}", team.current.number)
    if team.current.number < challenge.rounds:
        return redirect("design_challenges:team_start", team.current.number + 1)
    return redirect("design_challenges:team_finished")


@never_cache
@team_tablet
@require_http_methods(["GET", "HEAD", "POST"])
def team_start(request: TeamRequest, number: int) -> HttpResponse:
    """Ask whether to start a round, with the round before to look at; start it on a POST."""
    challenge = records.find_challenge(request.classroom)
    if challenge is None:
        return redirect("design_challenges:team_now")
    klass = records.load_team(challenge, request.team)
    team = klass.team(request.team.pk)
    if number in team.rounds or not _is_next(challenge, team, number):
        return redirect("design_challenges:team_now")
    waiting = "paused" if challenge.paused_at is not None else ""
    if not waiting and not klass.is_open(team.team.pk, number, Step.PLAN):
        waiting = "closed"
    if request.method == "POST" and not waiting:
        address = reverse("design_challenges:team_plan", args=[number])

        def effect(_author: Author) -> str:
            start_round(challenge, request.team, number)
            return address

        save_team_entry(request, challenge, {"start": number}, effect)
        return redirect(address)
    context = {"number": number, "waiting": waiting, **_watching(challenge, klass, team)}
    return render(request, "team/start.html", context, status=422 if request.method == "POST" else 200)


def _is_next(challenge: ClassChallenge, team: TeamRecord, number: int) -> bool:
    """Return whether a round is the team's next one: the one before has its results."""
    if not 1 <= number <= challenge.rounds:
        return False
    if number == 1:
        return True
    return number - 1 in team.rounds and progress.is_done(team.rounds[number - 1], Step.RESULTS)


@never_cache
@team_tablet
@require_safe
def team_finished(request: TeamRequest) -> HttpResponse:
    """Show that all rounds are done, and the way back to look at each."""
    challenge = records.find_challenge(request.classroom)
    if challenge is None:
        return redirect("design_challenges:team_now")
    klass = records.load_team(challenge, request.team)
    team = klass.team(request.team.pk)
    context = {"rounds": list(team.rounds.values()), **_watching(challenge, klass, team)}
    return render(request, "team/finished.html", context)


def _watching(challenge: ClassChallenge, klass: ClassRecord, team: TeamRecord) -> dict[str, Any]:
    """Return what a team page outside a step needs, as a seat's context gives it inside one."""
    return {
        "challenge": challenge,
        "team": team,
        "revision": challenge.revision.number,
        "watched": watch(klass, team).as_text(),
    }


@never_cache
@team_tablet
@require_safe
def team_pulse(request: TeamRequest) -> HttpResponse:
    """Answer 204 while nothing changed that matters to the team; else one line that says what did."""
    seen = request.GET.get("revision", "")
    if seen and seen == str(request.revision):
        return HttpResponse(status=204)
    challenge = records.find_challenge(request.classroom)
    if challenge is None:
        return HttpResponse(status=204)
    klass = records.load_team(challenge, request.team)
    team = klass.team(request.team.pk)
    before, now = Watched.from_text(request.GET.get("was", "")), watch(klass, team)
    news = what_changed(before, now) if before is not None else ""
    context = {
        "revision": challenge.revision.number,
        # What was not told yet stays to be told: the state is that of the page, not of the last question.
        "watched": request.GET.get("was", "") if news else now.as_text(),
        "news": news,
        "news_url": (request.htmx and request.htmx.current_url_abs_path)
        or reverse("design_challenges:team_now"),
    }
    return render(request, "team/_pulse.html", context)


@team_tablet
@require_POST
def team_help(request: TeamRequest) -> HttpResponse:
    """Call the teacher, or say that help is not needed any more."""
    challenge = records.find_challenge(request.classroom)
    if challenge is None:
        return redirect(_back(request))
    asked = request.POST.get("asked") != "no"

    def effect(_author: Author) -> Result:
        change = help_calls.ask_for_help if asked else help_calls.end_call
        # Children tap more than once: only the first tap is news to the pages that watch.
        return _back(request) if change(challenge, request.team) else Unchanged(_back(request))

    save_team_entry(request, challenge, {"help": asked}, effect)
    return redirect(_back(request))


@team_tablet
@require_POST
def team_jobs(request: TeamRequest) -> HttpResponse:
    """Pass the jobs of the team's round on by one."""
    challenge = records.find_challenge(request.classroom)
    if challenge is None:
        raise Http404
    rounds = DesignIteration.objects.filter(class_challenge=challenge, team=request.team)
    newest = rounds.order_by("-number").first()
    if newest is None:
        return redirect(_back(request))

    def effect(_author: Author) -> str:
        DesignIteration.objects.filter(pk=newest.pk).update(job_turn=F("job_turn") + 1)
        return _back(request)

    save_team_entry(request, challenge, {"jobs": newest.number}, effect)
    return redirect(_back(request))


def _back(request: TeamRequest) -> str:
    """Return the page that the button stood on."""
    path = request.POST.get("next", "")
    local = path.startswith("/") and url_has_allowed_host_and_scheme(path, allowed_hosts=None)
    return path if local else reverse("design_challenges:team_now")

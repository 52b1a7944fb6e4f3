"""The teacher's live page: every team at a glance, and the switches for the class and for single teams."""

from __future__ import annotations

from collections.abc import Sequence
from secrets import token_hex
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.middleware.csrf import get_token
from django.shortcuts import get_object_or_404, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import mark_safe
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST

from classroom import throttle
from classroom.access import TeacherRequest, teacher_of_class
from classroom.models import Team
from classroom.whole import whole_number
from design_challenges.models import ClassChallenge
from design_challenges.services import boards, change_words, charts, switches
from design_challenges.services import dashboard as service
from design_challenges.services.help_calls import answer_call
from design_challenges.services.kept import Kept
from design_challenges.services.lessons import open_lesson
from design_challenges.services.record_types import ClassRecord
from design_challenges.services.records import find_challenge, load_class
from design_challenges.services.unplaced import count_waiting
from design_challenges.steps import Step
from design_challenges.views.live import (
    TIMER_MINUTES,
    after_a_tap,
    covers_context,
    dashboard_token,
    has_it_already,
    nothing_new,
)

PAGE = "design_challenges:dashboard"
# A kept card is for whoever may see the class: their own token goes in here.
TOKEN_PLACE = token_hex(16)
# About 4 kB each: the cards of a hundred classes.
kept_cards: Kept[str] = Kept(1000)
# The height of the picture in steps, so that a row never gets too thin to read.
PICTURE_SIZES = ((8, ""), (14, "plot-tall"), (24, "plot-rows-24"), (40, "plot-rows-40"))


@require_GET
@never_cache
@teacher_of_class(substitute=True)
def dashboard(request: TeacherRequest) -> HttpResponse:
    """The dashboard, or for a poll its live part, or nothing where nothing is new."""
    token = dashboard_token(request)
    if has_it_already(request, token):
        return nothing_new()
    challenge = find_challenge(request.classroom)
    context: dict[str, Any] = {
        "classroom": request.classroom,
        "substitute": request.substitute,
        "challenge": challenge,
        "lesson": open_lesson(request.classroom),
        "token": token,
        "turned_away": throttle.has_turned_away(request.classroom),
    }
    if challenge is not None:
        klass = load_class(challenge)
        found = service.build_dashboard(klass, timezone.now())
        context |= {
            "kind": klass.kind,
            "dashboard": found,
            "cards": _cards(request, found.cards),
            "columns": boards.columns_of(klass),
            "timer_minutes": TIMER_MINUTES,
            **covers_context(klass),
            "unplaced": count_waiting(challenge),
            **_picture(klass, request.GET.get("order", "")),
        }
        context["announce"] = service.latest_event(context["dashboard"].cards)
    live = challenge is not None and request.htmx
    return render(request, "teacher/_dashboard_live.html" if live else "teacher/dashboard.html", context)


def _cards(request: TeacherRequest, cards: Sequence[service.TeamCard]) -> list[str]:
    """Return the teams' cards, each rendered once for as long as it shows the same."""
    code, token, language = request.classroom.code, get_token(request), get_language()
    context = {
        "classroom": request.classroom,
        "here": reverse(PAGE, args=[code]),
        "gate_url": reverse("design_challenges:gate", args=[code]),
        "csrf_token": TOKEN_PLACE,
    }
    rendered: list[str] = []
    for card in cards:
        made_from = language, code, *card.shown
        page = kept_cards.find(card.team.team.pk, made_from)
        if page is None:
            page = render_to_string("teacher/_team_card.html", {**context, "card": card})
            kept_cards.keep(card.team.team.pk, made_from, page)
        rendered.append(mark_safe(page.replace(TOKEN_PLACE, token)))  # noqa: S308 - a template made it
    return rendered


def _picture(klass: ClassRecord, order: str) -> dict[str, Any]:
    order = order if order in change_words.ORDERS else "change"
    changes = change_words.class_change(klass, order)
    rows = [
        {
            "change": change,
            "first_exact": change_words.exact_beside(klass.team(change.team_id).rounds.get(1)),
            "second_exact": change_words.exact_beside(klass.team(change.team_id).rounds.get(2)),
        }
        for change in changes.teams
    ]
    return {
        "order": order,
        "orders": [
            ("change", _("by the change")),
            ("first", _("by round 1")),
            ("team", _("in team order")),
        ],
        "changes": changes,
        "change_rows": rows,
        "picture": charts.pair_json(change_words.pair_chart(changes)),
        "picture_size": next((name for most, name in PICTURE_SIZES if len(rows) <= most), "plot-rows-40"),
    }


@require_POST
@teacher_of_class(substitute=True)
def pause(request: TeacherRequest) -> HttpResponse:
    """Pause all tablets, or let them go on."""
    switches.set_paused(_challenge(request), request.POST.get("paused") == "yes")
    return after_a_tap(request, PAGE)


@require_POST
@teacher_of_class(substitute=True)
def joining(request: TeacherRequest) -> HttpResponse:
    """Let tablets join, or no longer."""
    switches.set_joining(
        request.classroom, find_challenge(request.classroom), request.POST.get("open") == "yes"
    )
    return after_a_tap(request, PAGE)


@require_POST
@teacher_of_class(substitute=True)
def gate(request: TeacherRequest) -> HttpResponse:
    """Open or close a step (or, with step "all", a round) for the class or for one team.

    The button carries `gate` as round:step:open|close; `team` is a team's id or not there.
    """
    challenge = _challenge(request)
    number, steps, is_open = _read_gate(request.POST.get("gate", ""), challenge)
    team = _team(request, request.POST["team"]) if request.POST.get("team") else None
    switches.set_gates(challenge, number, steps, is_open, team=team)
    if not request.htmx and not is_open:
        messages.info(request, _("Closed. What the teams saved is kept."))
    return after_a_tap(request, PAGE)


@require_POST
@teacher_of_class(substitute=True)
def help_answered(request: TeacherRequest, team_id: int) -> HttpResponse:
    """Note that a team's call for help was answered."""
    answer_call(_challenge(request), _team(request, str(team_id)))
    return after_a_tap(request, PAGE)


def _challenge(request: TeacherRequest) -> ClassChallenge:
    challenge = find_challenge(request.classroom)
    if challenge is None:
        raise Http404
    return challenge


def _team(request: TeacherRequest, team_id: str) -> Team:
    return get_object_or_404(Team, pk=whole_number(team_id), classroom=request.classroom)


def _read_gate(text: str, challenge: ClassChallenge) -> tuple[int, list[Step], bool]:
    """Return the round, the steps and open or not; 404 for what no button of ours says."""
    number, _colon, rest = text.partition(":")
    step, _colon, wanted = rest.partition(":")
    found = whole_number(number)
    if found is None or not 1 <= found <= challenge.rounds:
        raise Http404
    if wanted not in ("open", "close") or (step != "all" and step not in Step.values):
        raise Http404
    return found, list(Step) if step == "all" else [Step(step)], wanted == "open"

"""Paper: team cards, device tags, tally sheets, the steps for a day without tablets, and typing them in."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from classroom.access import TeacherRequest, teacher_of_class
from classroom.qr import opens_elsewhere, qr_svg
from design_challenges.forms.paper import PaperRoundForm
from design_challenges.kinds import get_kind
from design_challenges.models import ClassChallenge
from design_challenges.services import paper_day, paper_sheets
from design_challenges.services.entries import Author, Sender, save_entry
from design_challenges.services.record_types import ClassRecord
from design_challenges.services.records import find_challenge, latest_settings, load_class, settings_values
from design_challenges.views.printing import paper_context
from design_challenges.views.seats import read_entry_id


@require_GET
@teacher_of_class(substitute=True)
def index(request: TeacherRequest) -> HttpResponse:
    """Everything that can be printed, and where paper is typed in."""
    challenge = find_challenge(request.classroom)
    rounds = range(1, challenge.rounds + 1) if challenge is not None else ()
    has_table = False
    if challenge is not None:
        kind = get_kind(challenge.kind)
        has_table = bool(kind.reference_table(settings_values(latest_settings(challenge), kind)))
    context = _context(request, challenge=challenge, rounds=rounds, has_table=has_table)
    return render(request, "teacher/paper.html", context)


@require_GET
@teacher_of_class(substitute=True)
def team_cards(request: TeacherRequest) -> HttpResponse:
    """A card a team: class code, team code, QR link and names."""
    klass = _klass(request)
    cards = [
        {
            "team": record.team,
            "members": record.members(record.current.number if record.current else 1),
            "qr": qr_svg(
                request.build_absolute_uri(
                    reverse("classroom:join_link", args=[request.classroom.code, record.team.code])
                ),
                _("Link that joins %(team)s") % {"team": record.team.name},
            ),
        }
        for record in klass.teams
    ]
    context = _print_context(
        request,
        klass,
        cards=cards,
        old_codes=any(record.team.has_old_code for record in klass.teams),
        opens_elsewhere=opens_elsewhere(request),
        join_address=request.build_absolute_uri(reverse("classroom:join")),
    )
    return render(request, "print/team_cards.html", context)


@require_GET
@teacher_of_class(substitute=True)
def tags(request: TeacherRequest) -> HttpResponse:
    """A tag for each bagged device, one for every round of every team."""
    klass = _klass(request)
    made = [
        {"team": record.team, "round": number, "members": record.members(number)}
        for record in klass.teams
        for number in range(1, klass.challenge.rounds + 1)
    ]
    return render(request, "print/tags.html", _print_context(request, klass, tags=made))


@require_GET
@teacher_of_class(substitute=True)
def tally(request: TeacherRequest, number: int) -> HttpResponse:
    """The sheet for the drop site: a row a team, a box a drop."""
    klass = _klass(request, number)
    context = _print_context(
        request,
        klass,
        number=number,
        trials=range(1, klass.settings.trials_per_round + 1),
        system=klass.kind.system(klass.values),
        values=klass.values,
    )
    return render(request, "print/tally.html", context)


@require_GET
@teacher_of_class(substitute=True)
def steps(request: TeacherRequest, number: int) -> HttpResponse:
    """The paper version of every step, two sheets a team."""
    klass = _klass(request, number)
    sheets = [paper_sheets.sheet(klass, team, number) for team in klass.teams]
    return render(request, "print/steps.html", _print_context(request, klass, number=number, sheets=sheets))


@require_GET
@teacher_of_class(substitute=True)
def type_in_list(request: TeacherRequest, number: int) -> HttpResponse:
    """Which team's paper to type in."""
    klass = _klass(request, number)
    rows = [{"team": team.team, "round": team.rounds.get(number)} for team in klass.teams]
    return render(request, "teacher/type_in_list.html", _context(request, rows=rows, number=number))


@require_http_methods(["GET", "POST"])
@teacher_of_class(substitute=True)
def type_in(request: TeacherRequest, number: int, team_id: int) -> HttpResponse:
    """Type in one team's round; empty fields and unchanged ones are left as they are."""
    klass = _klass(request, number)
    team = next((record for record in klass.teams if record.team.pk == team_id), None)
    if team is None:
        raise Http404
    record = team.rounds.get(number)
    values = record.values if record is not None else klass.values
    data = request.POST if request.method == "POST" else request.held
    form = PaperRoundForm(klass.kind, values, number, record, data)
    if request.method == "POST" and form.is_valid():
        _save(request, klass.challenge, form, team.team)
        messages.success(request, _("Saved what %(team)s wrote on paper.") % {"team": team.team.name})
        return redirect("design_challenges:paper_type_in_list", request.classroom.code, number)
    context = _context(
        request,
        form=form,
        team=team.team,
        number=number,
        entry_id=uuid.uuid4(),
        kept=request.held is not None,
    )
    return render(request, "teacher/type_in.html", context, status=422 if request.method == "POST" else 200)


def _save(request: TeacherRequest, challenge: ClassChallenge, form: PaperRoundForm, team: Any) -> None:
    entries = form.entries()
    if not entries:
        return
    body = {name: value for name, value in request.POST.items() if name != "csrfmiddlewaretoken"}

    def effect(author: Author) -> str:
        paper_day.save_paper_round(challenge, team, form.number, entries, form.steps(), author)
        return ""

    sender = Sender(device=request.substitute, user=request.by_user)
    save_entry(challenge, sender, read_entry_id(request), body, effect)


def _klass(request: TeacherRequest, number: int = 1) -> ClassRecord:
    """Return the class challenge's record; 404 before one is set up, and for a round it does not have."""
    challenge = find_challenge(request.classroom)
    if challenge is None or not 1 <= number <= challenge.rounds:
        raise Http404
    return load_class(challenge)


def _print_context(request: TeacherRequest, klass: ClassRecord, **more: Any) -> dict[str, Any]:
    return _context(request, klass=klass, **paper_context(request, klass.settings.unit_system), **more)


def _context(request: TeacherRequest, **more: Any) -> dict[str, Any]:
    return {
        "classroom": request.classroom,
        "substitute": request.substitute,
        "back_url": reverse("design_challenges:paper", args=[request.classroom.code]),
        **more,
    }

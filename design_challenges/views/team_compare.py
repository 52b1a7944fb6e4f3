"""The Compare page: the class's numbers side by side, and what the team notices in them."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods

from classroom.access import TeamRequest
from design_challenges.forms.compare import NoticingForm
from design_challenges.models import Note
from design_challenges.services import saving
from design_challenges.services.compare import class_table
from design_challenges.services.entries import Author
from design_challenges.steps import Step
from design_challenges.views.seats import SENT_BEFORE, Seat, save_from, team_step

STARTERS = [
    _("We notice that …"),
    _("Teams with a bigger … have …"),
    _("It surprised us that …"),
    _("We can’t tell if … because …"),
]


@team_step(Step.COMPARE, whole_class=True)
@require_http_methods(["GET", "HEAD", "POST"])
def team_compare(request: TeamRequest, seat: Seat) -> HttpResponse:
    """Show the class table, and take in a noticing."""
    if request.method == "POST":
        return _notice(request, seat)
    held = request.held
    form = NoticingForm(initial={"noticing": held.get("noticing", "")} if held else None)
    return _page(request, seat, form, kept=held is not None)


def _notice(request: TeamRequest, seat: Seat) -> HttpResponse:
    form = NoticingForm(request.POST)
    if not form.is_valid():
        return _page(request, seat, form, status=422)
    text = form.cleaned_data["noticing"]

    def effect(author: Author) -> str:
        if not any(note.text == text for note in seat.round.noticings):
            saving.save_note(seat.round.iteration, Note.Prompt.NOTICING, text, author)
        return f"{request.path}#noticings"

    answer = save_from(request, seat, {"noticing": text}, effect)
    if not answer.text:
        form.add_error("noticing", SENT_BEFORE)
        return _page(request, seat, form, status=422)
    return redirect(answer.text)


def _page(
    request: TeamRequest, seat: Seat, form: NoticingForm, *, kept: bool = False, status: int = 200
) -> HttpResponse:
    number = seat.round.number + 1
    context = seat.context(
        form=form,
        kept=kept,
        table=class_table(seat.klass, seat.team, seat.round),
        starters=STARTERS,
        noticings=seat.round.noticings,
        next_round=number if number <= seat.challenge.rounds else None,
        next_open=seat.klass.is_open(seat.team.team.pk, number, Step.PLAN),
        next_begun=number in seat.team.rounds,
    )
    return render(request, "team/compare.html", context, status=status)

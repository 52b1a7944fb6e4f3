"""The Results page: the sums of the round one at a time, then slower or faster, then what came out."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Any

from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods

from classroom.access import TeamRequest
from design_challenges.forms.results import DirectionForm
from design_challenges.models import Note
from design_challenges.services import direction, drop_order, saving
from design_challenges.services.entries import Author
from design_challenges.services.record_types import RoundRecord
from design_challenges.services.working import Step as SumStep
from design_challenges.services.working import worked_lines
from design_challenges.steps import Step
from design_challenges.views.seats import Seat, save_from, team_step
from design_challenges.views.sums import sums_context, sums_page

TEMPLATE = "team/results.html"


@team_step(Step.RESULTS)
@require_http_methods(["GET", "HEAD", "POST"])
def team_results(request: TeamRequest, seat: Seat) -> HttpResponse:
    """Ask for the sums of the drops that count, check them, and show the figures."""
    if request.method == "POST" and request.POST.get("do") == "direction":
        return _say_direction(request, seat)
    return sums_page(request, seat, TEMPLATE, _steps, partial(_context, held=request.held))


def _steps(record: RoundRecord) -> Sequence[SumStep]:
    """Return the sums of the results; times that were left for later are rounded first."""
    if drop_order.unrounded(record) is None:
        return record.result_steps
    return [*record.rounding_steps.values(), *record.result_steps]


def _context(seat: Seat, form: DirectionForm | None = None, held: QueryDict | None = None) -> dict[str, Any]:
    record = seat.round
    asked = direction.is_asked(record)
    context = record.context()
    return {
        "drops": drop_order.list_drops(record),
        "count": len(record.counting),
        "worked": [(step, worked_lines(step, context)) for step in record.kind.worked_steps(record.values)],
        "direction_form": (form or _direction_form(record, held)) if asked else None,
        "direction_word": direction.word(record),
        "change": direction.size_of_change(record),
        "next_url": _address(seat, "team_results" if asked else "team_compare"),
        "kept": held is not None and "direction" in held,
        "next_label": _("One more question") if asked else _("On to Compare"),
    }


def _direction_form(record: RoundRecord, held: QueryDict | None) -> DirectionForm:
    return DirectionForm(record, initial={"direction": held.get("direction", "")} if held else None)


def _address(seat: Seat, name: str) -> str:
    return reverse(f"design_challenges:{name}", args=[seat.round.number])


def _say_direction(request: TeamRequest, seat: Seat) -> HttpResponse:
    """Take in slower or faster, where it fits the two figures."""
    record = seat.round
    if not direction.is_asked(record):
        return redirect(request.path)
    form = DirectionForm(record, request.POST)
    if not form.is_valid():
        context = {**sums_context(record, _steps(record)), **_context(seat, form)}
        return render(request, TEMPLATE, seat.context(**context), status=422)
    chosen = form.cleaned_data["direction"]

    def effect(author: Author) -> str:
        saving.save_note(record.iteration, Note.Prompt.DIRECTION, chosen, author)
        return request.path

    save_from(request, seat, {"do": "direction", "direction": chosen}, effect)
    return redirect(request.path)

"""The Build page: the made thing is measured, a few spots a screen, and then stands beside its plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods

from classroom.access import TeamRequest
from classroom.whole import whole_number
from design_challenges.forms.build import BuildForm, spot_name
from design_challenges.models import Measurement
from design_challenges.services import made, saving
from design_challenges.services.entries import Author, Conflict
from design_challenges.services.made import Part
from design_challenges.services.record_types import RoundRecord
from design_challenges.services.turns import next_part
from design_challenges.steps import Step
from design_challenges.views.seats import SENT_BEFORE, Seat, save_from, team_step
from design_challenges.views.sums import reseat
from design_challenges.views.team_build_twice import ask_turn, save_turn

UNKEPT = ("csrfmiddlewaretoken", "entry_id")


@team_step(Step.BUILD)
@require_http_methods(["GET", "HEAD", "POST"])
def team_build(request: TeamRequest, seat: Seat) -> HttpResponse:
    """Ask for what is not measured yet, or show the made thing beside its plan."""
    parts = made.parts(seat.round)
    if request.method == "POST":
        sent = _part(parts, request.POST.get("part", "")) or parts[0]
        return save_turn(request, seat, sent) if sent.twice else _measure(request, seat, sent)
    held = request.held
    part = _part(parts, (held or request.GET).get("part", "")) or next_part(seat.round)
    if part is None:
        return _show_made(request, seat)
    if part.twice:
        return ask_turn(request, seat, part)
    form = _form(seat, part, typed=held.dict() if held else _standing(seat.round, part))
    return _ask(request, seat, part, form, kept=held is not None, seen=_seen_then(part, held))


def _part(parts: Sequence[Part], number: str) -> Part | None:
    return next((part for part in parts if str(part.number) == number), None)


def _measure(request: TeamRequest, seat: Seat, part: Part) -> HttpResponse:
    """Save one screen's measurements; what another tablet saved meanwhile is shown beside them."""
    form = _form(seat, part, data=request.POST, asked=request.POST.getlist("asked"))
    seen = _seen_then(part, request.POST)
    if not form.is_valid():
        return _ask(request, seat, part, form, seen=seen, status=422)
    student = next(
        (child for child in seat.team.members(seat.round.number) if child.pk == form.student_id), None
    )

    def effect(author: Author) -> str:
        iteration = saving.lock_round(seat.round.iteration.pk)
        for (quantity, spot), length in form.lengths().items():
            standing = seat.round.built.get((quantity, spot))
            if standing is not None and standing.typed == length.typed and student is None:
                # Written again as it stands: nothing new was measured.
                continue
            saving.save_size(
                iteration,
                Measurement.Stage.BUILT,
                quantity,
                length,
                author,
                spot=spot,
                student=student,
                seen=seen[f"{quantity}_{spot}"],
            )
        return reverse("design_challenges:team_build", args=[seat.round.number])

    body = {name: values for name, values in request.POST.lists() if name not in UNKEPT}
    try:
        answer = save_from(request, seat, body, effect)
    except Conflict:
        answer = None
    if answer is not None and answer.text:
        return redirect(answer.text)
    fresh = reseat(seat)
    return _ask_which(request, fresh, part, _saved_meanwhile(fresh.round, form, seen))


def _saved_meanwhile(record: RoundRecord, form: BuildForm, seen: Mapping[str, int]) -> list[str]:
    """Return the fields that another tablet has filled in differently since the form was shown."""
    unit = record.kind.length_unit(record.values)
    differing = []
    for (quantity, spot), length in form.lengths().items():
        standing, name = record.built.get((quantity, spot)), f"{quantity}_{spot}"
        if standing is not None and standing.row_id != seen[name] and standing.value != length.in_unit(unit):
            differing.append(name)
    return differing


def _ask_which(request: TeamRequest, seat: Seat, part: Part, asked: Sequence[str]) -> HttpResponse:
    """Show both values of every field that another tablet saved first."""
    form = _form(seat, part, data=request.POST, asked=asked)
    form.is_valid()
    standing = _standing(seat.round, part)
    if not asked:
        form.add_error(None, SENT_BEFORE)
    for name in asked:
        form.errors.pop(f"keep_{name}", None)
        form.add_error(
            f"keep_{name}",
            format_lazy(
                _("Another tablet saved {theirs} a moment ago. You typed {ours}. Look at the tape. Choose."),
                theirs=standing.get(name, ""),
                ours=form[name].data or "",
            ),
        )
    return _ask(request, seat, part, form, status=422)


def _form(
    seat: Seat,
    part: Part,
    *,
    data: QueryDict | None = None,
    typed: Mapping[str, Any] | None = None,
    asked: Sequence[str] = (),
) -> BuildForm:
    values = seat.round.values
    return BuildForm(
        part.spots,
        seat.team.members(seat.round.number),
        unit=seat.klass.kind.length_unit(values),
        division=Fraction(values["tape_division"]),
        data=data,
        typed=typed,
        standing=_standing(seat.round, part),
        asked=asked,
    )


def _standing(record: RoundRecord, part: Part) -> dict[str, str]:
    sizes = {spot_name(spot): record.built.get((spot.quantity, spot.spot)) for spot in part.spots}
    return {name: size.typed for name, size in sizes.items() if size is not None}


def _seen_then(part: Part, sent: QueryDict | None) -> dict[str, int]:
    """Return the row ids that a sent form was shown with; none where nothing was sent."""
    if sent is None:
        return {}
    names = [spot_name(spot) for spot in part.spots]
    return {name: whole_number(sent.get(f"seen_{name}", "")) or 0 for name in names}


def _ask(
    request: TeamRequest,
    seat: Seat,
    part: Part,
    form: BuildForm,
    *,
    seen: Mapping[str, int] | None = None,
    kept: bool = False,
    status: int = 200,
) -> HttpResponse:
    form.seen = seen or {
        f"{quantity}_{spot}": size.row_id for (quantity, spot), size in seat.round.built.items()
    }
    context = seat.context(form=form, part=part, parts=made.parts(seat.round), kept=kept)
    return render(request, "team/build.html", context, status=status)


def _show_made(request: TeamRequest, seat: Seat) -> HttpResponse:
    context = seat.context(
        rows=made.compare_with_plan(seat.round),
        material=made.material(seat.round),
        parts=made.parts(seat.round),
    )
    return render(request, "team/build_made.html", context)

"""The Build page where sizes are measured twice: two children apart, then one mark that both agree on."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.cache import add_never_cache_headers
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from classroom.access import TeamRequest
from classroom.whole import whole_number
from design_challenges.forms.build import spot_name
from design_challenges.forms.lengths import LengthInput
from design_challenges.forms.turns import AgreeForm, TurnForm
from design_challenges.kinds.base import Spot
from design_challenges.models import Measurement
from design_challenges.services import saving
from design_challenges.services.entries import Author, Conflict
from design_challenges.services.lengths import Length
from design_challenges.services.made import Part, parts
from design_challenges.services.pairs import Pattern
from design_challenges.services.turns import (
    PartTurn,
    Turn,
    find_pattern,
    meetings,
    pair_of,
    part_turn,
)
from design_challenges.views.seats import SENT_BEFORE, Seat, save_from
from design_challenges.views.sums import reseat
from design_challenges.words import Words

if TYPE_CHECKING:
    from classroom.models import Student

UNKEPT = ("csrfmiddlewaretoken", "entry_id")


def ask_turn(request: TeamRequest, seat: Seat, part: Part) -> HttpResponse:
    """Ask the child whose turn it is, or the pair; neither sees the other's reading or the plan."""
    asked = part_turn(seat.round, part, again="again" in request.GET)
    held = request.held
    # What the first child typed is none of the second one's.
    mine = held if held is not None and held.get("turn") == str(asked.turn.value) else None
    return _show(request, seat, part, asked, _form(seat, asked, held=mine), kept=mine is not None)


def save_turn(request: TeamRequest, seat: Seat, part: Part) -> HttpResponse:
    """Save one child's readings, or what the pair agreed on."""
    asked = _asked_then(request.POST, part) or part_turn(seat.round, part)
    form = _form(seat, asked, data=request.POST)
    if not form.is_valid():
        return _show(request, seat, part, asked, form, status=422)

    def effect(author: Author) -> str:
        saving.lock_round(seat.round.iteration.pk)
        if len(form.lengths()) < len(asked.spots):
            # Agreed on meanwhile, or chosen by the teacher.
            raise Conflict(spot_name(asked.spots[0]), "")
        for spot, length in form.lengths():
            _save(seat, asked.turn, spot, length, form, author, _seen(request.POST, spot))
        return reverse("design_challenges:team_build", args=[seat.round.number])

    body = {name: values for name, values in request.POST.lists() if name not in UNKEPT}
    told: Words = SENT_BEFORE
    try:
        answer = save_from(request, seat, body, effect)
        if answer.text:
            return redirect(answer.text)
    except Conflict:
        told = _("Another tablet of your team saved this first.")
    told = format_lazy(
        _("{told} You typed {typed}. It is kept."), told=told, typed=_typed_words(request.POST, asked)
    )
    return _show_now(request, reseat(seat), part.number, told)


def _show_now(request: TeamRequest, seat: Seat, number: int, told: Words) -> HttpResponse:
    """Show what a part asks now, and why what was sent does not count."""
    part = next(one for one in parts(seat.round) if one.number == number)
    if part.done:
        messages.warning(request, str(told))
        return redirect("design_challenges:team_build", seat.round.number)
    now = part_turn(seat.round, part)
    return _show(request, seat, part, now, _form(seat, now), told=told, status=422)


def _typed_words(sent: QueryDict, asked: PartTurn) -> str:
    names = map(spot_name, asked.spots)
    return ", ".join(str(LengthInput().value_from_datadict(sent, {}, name) or "") for name in names)


def _asked_then(sent: QueryDict, part: Part) -> PartTurn | None:
    """Return what the sent form was about; None where it does not say."""
    spots = [spot for spot in part.spots if spot_name(spot) in sent.getlist("asks")]
    turn = sent.get("turn", "")
    known = {str(one.value): one for one in Turn}
    return PartTurn(known[turn], spots) if spots and turn in known else None


def _save(
    seat: Seat,
    turn: Turn,
    spot: Spot,
    length: Length,
    form: TurnForm | AgreeForm,
    author: Author,
    seen: int,
) -> None:
    """Add one row; two readings that say the same are agreed on at once."""
    iteration, built = seat.round.iteration, Measurement.Stage.BUILT
    pair = pair_of(seat.round, spot)
    if isinstance(form, AgreeForm):
        if not pair.waits_for_both:
            raise Conflict(spot_name(spot), "")
        saving.save_size(iteration, built, spot.quantity, length, author, spot=spot.spot, seen=seen)
        return
    if turn is Turn.SECOND and not pair.waits_for_second:
        raise Conflict(spot_name(spot), "")
    saving.save_size(
        iteration,
        built,
        spot.quantity,
        length,
        author,
        spot=spot.spot,
        student=_child(seat, form.student_id),
        seen=seen,
        turn=turn.value,
        reader=form.reader,
    )
    if turn is Turn.SECOND and pair.first is not None:
        unit = seat.klass.kind.length_unit(seat.round.values)
        if find_pattern(seat.round, spot, pair.first.size.value, length.in_unit(unit)) is Pattern.SAME:
            saving.save_size(iteration, built, spot.quantity, length, author, spot=spot.spot)


def _child(seat: Seat, student_id: int | None) -> Student | None:
    return next((child for child in _members(seat) if child.pk == student_id), None)


def _members(seat: Seat) -> Sequence[Student]:
    return seat.team.members(seat.round.number)


def _seen(sent: QueryDict, spot: Spot) -> int:
    return whole_number(sent.get(f"seen_{spot_name(spot)}", "")) or 0


def _form(
    seat: Seat, asked: PartTurn, *, data: QueryDict | None = None, held: QueryDict | None = None
) -> TurnForm | AgreeForm:
    values = seat.round.values
    unit, division = seat.klass.kind.length_unit(values), Fraction(values["tape_division"])
    if asked.turn is Turn.AGREE:
        return AgreeForm(meetings(seat.round, asked.spots), unit=unit, division=division, data=data)
    before = _before(seat, asked)
    suggested = _suggested(seat, before)
    typed: dict[str, Any] = {"who": str(suggested.pk) if suggested else ""}
    if held is not None:
        typed |= held.dict()
    return TurnForm(
        asked.spots, _members(seat), unit=unit, division=division, before=before, data=data, typed=typed
    )


def _before(seat: Seat, asked: PartTurn) -> list[int]:
    """Return the children of the team who took the first readings, where the second ones are asked."""
    if asked.turn is not Turn.SECOND:
        return []
    firsts = [pair_of(seat.round, spot).first for spot in asked.spots]
    return [first.student_id for first in firsts if first is not None and first.student_id is not None]


def _suggested(seat: Seat, before: Sequence[int]) -> Student | None:
    """Return who could measure now: whose job it is, or the next child who has not."""
    there = list(seat.team.present(seat.round.number))
    turn = seat.round.iteration.job_turn % len(there) if there else 0
    return next((child for child in there[turn:] + there[:turn] if child.pk not in before), None)


def _show(
    request: TeamRequest,
    seat: Seat,
    part: Part,
    asked: PartTurn,
    form: TurnForm | AgreeForm,
    *,
    told: Words = "",
    kept: bool = False,
    status: int = 200,
) -> HttpResponse:
    before = _before(seat, asked)
    context = seat.context(
        form=form,
        part=part,
        parts=parts(seat.round),
        turn=asked.turn.value,
        asks=[
            {"name": spot_name(spot), "seen": pair_of(seat.round, spot).newest_row} for spot in asked.spots
        ],
        give_to=_suggested(seat, before),
        told=told,
        kept=kept,
    )
    template = "team/build_agree.html" if asked.turn is Turn.AGREE else "team/build_turn.html"
    response = render(request, template, context, status=status)
    # Going back in the browser may not show the second child what the first one typed.
    add_never_cache_headers(response)
    return response

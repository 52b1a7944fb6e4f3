"""The Test page: each drop is called, timed and rounded, one after the other; what to do when it broke."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods

from classroom.access import TeamRequest
from design_challenges.forms.trials import GOOD, NEW, NO_MORE, OPENED, BrokeForm, CallForm, TimeForm
from design_challenges.models import Drop, Reading
from design_challenges.services import drop_order, saving
from design_challenges.services.drop_order import MARKS, Turn
from design_challenges.services.drop_queue import said_place
from design_challenges.services.entries import Author, Conflict
from design_challenges.services.record_types import DropRecord, RoundRecord
from design_challenges.services.station_state import queue_at
from design_challenges.services.working import Step as SumStep
from design_challenges.steps import Step
from design_challenges.views.seats import SENT_BEFORE, Seat, save_from, team_step
from design_challenges.views.sums import reseat, sums_page
from design_challenges.words import Words


def _is_time(request: TeamRequest) -> bool:
    return request.POST.get("do") == "time"


@team_step(Step.TEST, takes_late=_is_time)
@require_http_methods(["GET", "HEAD", "POST"])
def team_test(request: TeamRequest, seat: Seat) -> HttpResponse:
    """Show what comes next at the drop site, and take in what was called, timed, rounded or chosen."""
    if request.method == "POST":
        if "sum" in request.POST:
            return _round(request, seat, _trial_of(seat.round, request.POST["sum"]))
        actions = {"call": _call, "time": _time, "settle": _settle}
        action = actions.get(request.POST.get("do", ""))
        return action(request, seat) if action else redirect(request.path)
    asked = request.held or request.GET
    second = _whole(asked.get("second"))
    disputed = drop_order.find_second(seat.round, second)
    if disputed is not None:
        chosen = _whole(asked.get("reading"))
        return _ask_which(request, seat, disputed, second, _mark(asked.get("mark", "")), chosen=chosen)
    return _show_turn(request, seat)


def _show_turn(request: TeamRequest, seat: Seat) -> HttpResponse:
    held = request.held
    turn = drop_order.find_turn(seat.round, drop_first=request.GET.get("next") == "drop")
    if turn.screen == "round":
        return _round(request, seat, turn.trial)
    if turn.screen == "call":
        form = CallForm(may_void=drop_order.voids_left(seat.round) > 0, initial=held.dict() if held else None)
        return _page(request, seat, turn, form=form, kept=held is not None)
    if turn.screen == "time":
        time_form = _time_form(seat, turn.trial, initial=held)
        return _page(request, seat, turn, form=time_form, kept=held is not None)
    return _page(request, seat, turn)


def _page(request: TeamRequest, seat: Seat, turn: Turn, *, status: int = 200, **more: Any) -> HttpResponse:
    return render(request, f"team/test_{turn.screen}.html", _context(seat, turn, **more), status=status)


def _context(seat: Seat, turn: Turn, **more: Any) -> dict[str, Any]:
    return seat.context(
        turn=turn,
        drops=drop_order.list_drops(seat.round),
        voids_left=drop_order.voids_left(seat.round),
        wanted=seat.round.trials_wanted,
        place=_place(seat),
        **more,
    )


def _place(seat: Seat) -> Words:
    """Return what the page says about the team's turn at the drop site; its poll says it from then on."""
    return said_place(queue_at(seat.challenge).place_of(seat.team.team.pk))


# --- the call ------------------------------------------------------------------------------------


def _call(request: TeamRequest, seat: Seat) -> HttpResponse:
    """Take in whether a drop counts, before its time is seen."""
    record = seat.round
    trial, attempt = _whole(request.POST.get("trial")), _whole(request.POST.get("attempt"))
    drop = _attempt(record, trial, attempt)
    turn = drop_order.find_turn(record, drop_first=True)
    if drop is None and (turn.screen, turn.trial, turn.attempt) != ("call", trial, attempt):
        return redirect(request.path)
    form = CallForm(request.POST, may_void=drop is not None or drop_order.voids_left(record) > 0)
    if not form.is_valid():
        return _page(request, seat, turn, form=form, status=422)
    call = form.cleaned_data["call"]
    if drop is not None:
        return _called_already(request, drop, call)

    def effect(author: Author) -> str:
        iteration = saving.lock_round(record.iteration.pk)
        if Drop.objects.filter(iteration=iteration, trial=trial, attempt=attempt).exists():
            # Another tablet of the team was a moment faster; its call stands.
            raise Conflict("call", "")
        if call == GOOD:
            saving.call_drop(iteration, trial, attempt, author)
        else:
            saving.void_drop(iteration, trial, call, author)
        return request.path

    body = {"do": "call", "trial": trial, "attempt": attempt, "call": call}
    try:
        answer = save_from(request, seat, body, effect)
    except Conflict:
        drop = _attempt(reseat(seat).round, trial, attempt)
        return _called_already(request, drop, call) if drop else redirect(request.path)
    if not answer.text:
        return _page(request, seat, turn, form=form, told=SENT_BEFORE, status=422)
    return redirect(answer.text)


def _attempt(record: RoundRecord, trial: int, attempt: int) -> DropRecord | None:
    return next((drop for drop in record.drops if (drop.trial, drop.attempt) == (trial, attempt)), None)


def _called_already(request: TeamRequest, drop: DropRecord, call: str) -> HttpResponse:
    """Go on where a drop was called the same before; else say what was said first, and that it stands."""
    if (call == GOOD and drop.counts) or call == drop.mark:
        return redirect(request.path)
    said: Words = _("it counts") if drop.counts else drop.mark_label
    sentence = format_lazy(
        _("Drop {trial} was called before: {said}. That stands. If it is not right, ask your teacher."),
        trial=drop.trial,
        said=said,
    )
    messages.warning(request, str(sentence))
    return redirect(request.path)


# --- the time ------------------------------------------------------------------------------------


def _time_form(seat: Seat, trial: int, data: Any = None, initial: Any = None) -> TimeForm:
    filled = {name: initial[name] for name in ("time", "mark") if name in initial} if initial else None
    others = [
        drop.reading.seconds
        for drop in seat.round.counting
        if drop.trial != trial and drop.opened and drop.reading is not None
    ]
    return TimeForm(seat.klass.kind, seat.round.values, data, initial=filled, others=others)


def _time(request: TeamRequest, seat: Seat) -> HttpResponse:
    """Take in a stopwatch reading of a drop that was called good."""
    drop = drop_order.find_drop(seat.round, _whole(request.POST.get("drop")))
    if drop is None:
        return redirect(request.path)
    form = _time_form(seat, drop.trial, request.POST)
    if not form.is_valid():
        turn = Turn("time", drop.trial, drop.attempt, drop)
        return _page(request, seat, turn, form=form, status=422)

    def effect(author: Author) -> str:
        iteration = saving.lock_round(seat.round.iteration.pk)
        reading = saving.save_reading(
            iteration,
            drop.trial,
            form.hundredths,
            author,
            confirmed=bool(form.question),
            mark=form.shown_mark,
            seen=0,
            called=saving.find_drop(drop.row_id),
        )
        if not saving.stands(reading):
            return f"{request.path}?second={reading.pk}&mark={form.shown_mark}"
        return request.path

    body = {"do": "time", "drop": drop.row_id, "time": form.cleaned_data["time"], "mark": form.shown_mark}
    answer = save_from(request, seat, body, effect)
    if not answer.text:
        turn = Turn("time", drop.trial, drop.attempt, drop)
        return _page(request, seat, turn, form=form, told=SENT_BEFORE, status=422)
    if _was_marked_otherwise(drop, form):
        sentence = _(
            "Another tablet saved this time first: {mark}. That stands. If not right, ask your teacher."
        )
        marks = dict(form.fields["mark"].choices)  # type: ignore[attr-defined]
        messages.warning(request, sentence.format(mark=marks[drop.mark or OPENED]))
    return redirect(answer.text)


def _was_marked_otherwise(drop: DropRecord, form: TimeForm) -> bool:
    """Whether the same time had been saved already, with another word on how the drop came down."""
    if drop.reading is None or drop.reading.hundredths != form.hundredths or not drop.counts:
        return False
    return drop.mark in ("", *dict(MARKS)) and drop.mark != form.shown_mark


def _ask_which(
    request: TeamRequest,
    seat: Seat,
    drop: DropRecord,
    second: int,
    mark: str,
    *,
    status: int = 200,
    **more: Any,
) -> HttpResponse:
    """Tell the later of two tablets that the other saved first, and show both times."""
    late = next(reading for reading in drop.readings if reading.row_id == second)
    turn = Turn("time", drop.trial, drop.attempt, drop)
    label = dict(MARKS).get(mark)
    context = _context(seat, turn, first=drop.reading, late=late, mark=mark, mark_label=label, **more)
    return render(request, "team/test_which.html", context, status=status)


def _settle(request: TeamRequest, seat: Seat) -> HttpResponse:
    """Make the chosen one of two readings the one that stands."""
    second, chosen = _whole(request.POST.get("second")), _whole(request.POST.get("reading"))
    drop = drop_order.find_second(seat.round, second)
    if drop is None or drop.reading is None:
        return redirect(request.path)
    mark = _mark(request.POST.get("mark", ""))
    if chosen not in (second, drop.reading.row_id):
        problem = _("Tap the time that the stopwatch showed.")
        return _ask_which(request, seat, drop, second, mark, problem=problem, status=422)

    def effect(author: Author) -> str:
        saving.lock_round(seat.round.iteration.pk)
        saving.settle_reading(Reading.objects.get(pk=chosen), author)
        if chosen == second and mark and drop.counts:
            saving.judge_drop(Drop.objects.get(pk=drop.row_id), True, mark, author)
        return request.path

    body = {"do": "settle", "second": second, "reading": chosen, "mark": mark}
    answer = save_from(request, seat, body, effect)
    if not answer.text:
        return _ask_which(request, seat, drop, second, mark, problem=SENT_BEFORE, status=422)
    return redirect(answer.text)


# --- the rounding --------------------------------------------------------------------------------


def _round(request: TeamRequest, seat: Seat, trial: int) -> HttpResponse:
    """Ask for one time rounded, or take the answer in."""

    def steps_of(record: RoundRecord) -> Sequence[SumStep]:
        return [record.rounding_steps[trial]] if trial in record.rounding_steps else []

    def context_of(fresh: Seat) -> dict[str, Any]:
        done = fresh.round.next_trial is None
        return {
            "turn": Turn("round", trial, drop=fresh.round.trials.get(trial)),
            "drops": drop_order.list_drops(fresh.round),
            "wanted": fresh.round.trials_wanted,
            "place": _place(fresh),
            "more_drops": not done,
            "next_url": request.path,
            "next_label": _("Go on") if done else _("Next drop"),
        }

    return sums_page(request, seat, "team/test_round.html", steps_of, context_of)


def _trial_of(record: RoundRecord, slug: str) -> int:
    return next((trial for trial, step in record.rounding_steps.items() if step.slug == slug), 0)


# --- it broke ------------------------------------------------------------------------------------


@team_step(Step.TEST)
@require_http_methods(["GET", "HEAD", "POST"])
def team_broke(request: TeamRequest, seat: Seat) -> HttpResponse:
    """Ask how the team goes on after its thing broke."""
    drops = len(seat.round.counting)
    if request.method != "POST":
        held = request.held
        form = BrokeForm(drops=drops, initial=held.dict() if held else None)
        return render(request, "team/broke.html", seat.context(form=form, drops=drops, kept=held is not None))
    form = BrokeForm(request.POST, drops=drops)
    if not form.is_valid():
        return render(request, "team/broke.html", seat.context(form=form, drops=drops), status=422)
    outcome = form.cleaned_data["outcome"]
    onward = {NEW: "team_build", NO_MORE: "team_results"}.get(outcome, "team_test")

    def effect(author: Author) -> str:
        saving.lock_round(seat.round.iteration.pk)
        # Read again: another tablet may have saved a drop since this page was shown.
        saving.save_breakage(saving.reload_round(seat.round), outcome, author)
        return reverse(f"design_challenges:{onward}", args=[seat.round.number])

    answer = save_from(request, seat, {"do": "broke", "outcome": outcome}, effect)
    if not answer.text:
        form.add_error(None, SENT_BEFORE)
        return render(request, "team/broke.html", seat.context(form=form, drops=drops), status=422)
    return redirect(answer.text)


def _whole(text: str | None) -> int:
    """Return a row id or a number from a form, 0 where it is none."""
    return int(text) if text and text.isascii() and text.isdigit() and len(text) < 16 else 0


def _mark(text: str) -> str:
    return text if text in dict(MARKS) else ""

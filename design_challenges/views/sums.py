"""The sums on a team's page: asking one, checking and saving the answer, showing the steps when asked.

A page with sums is `sums_page` with a template that includes `team/_sums.html`; the sums come in order,
and a later one waits for those before it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext_lazy as _

from classroom.access import TeamRequest
from design_challenges.forms.sums import LONGEST_ANSWER, SumForm
from design_challenges.services import records, saving
from design_challenges.services.entries import Author
from design_challenges.services.record_types import RoundRecord, WorkingRecord
from design_challenges.services.working import (
    OTHERWISE,
    TRIES_BEFORE_STEPS,
    Step,
    Verdict,
    check,
    worked_lines,
)
from design_challenges.views.seats import Seat, save_from
from design_challenges.words import Words


@dataclass(frozen=True)
class SumCard:
    """One sum as `team/_sum.html` shows it.

    `state` is "right" (answered), "asked" (its turn), "waiting" (an earlier one is missing) or "given"
    (the software does the sums). `verdict` is what the check said of the last try, if there was one.
    """

    step: Step
    state: str
    work: WorkingRecord
    basis: str
    given: Sequence[tuple[Words, Words]] = ()
    table: Sequence[tuple[str, str]] = ()
    form: SumForm | None = None
    verdict: Verdict | None = None
    lines: Sequence[str] = ()
    theirs: str = ""
    just_answered: bool = False

    @property
    def answer(self) -> str:
        """Return the team's accepted answer as text."""
        return "" if self.work.accepted is None else f"{self.work.accepted:f}"

    @property
    def offer_steps(self) -> bool:
        """Return whether the page offers to show the steps."""
        return _may_show(self.work) and not self.work.shown and not self.theirs


@dataclass(frozen=True)
class Answered:
    """What became of a posted answer: saved or not, and what the page must say of it."""

    slug: str
    outcome: str
    typed: str = ""
    message: Words = ""

    @property
    def status(self) -> int:
        return 422 if self.outcome in ("unreadable", "moved", "other_first") else 200


def sums_context(
    record: RoundRecord, steps: Sequence[Step], answered: Answered | None = None, held: str = ""
) -> dict[str, Any]:
    """Return `sums` (a card each), `sums_done`, and `sum_form` where an answer needs mending.

    `held` is an answer that was typed before the tablet was signed out.
    """
    cards: list[SumCard] = []
    waiting = False
    for step in steps:
        card = _card(record, step, waiting=waiting, answered=answered, held=held)
        if card.state == "asked" and card.form is not None and answered is not None:
            # The sum before it was answered a moment ago: the next thing to do is to type this one.
            card.form.fields["answer"].widget.attrs["autofocus"] = answered.slug != step.slug
        waiting = waiting or card.state == "asked"
        cards.append(card)
    return {
        "sums": cards,
        "sums_done": all(card.state in ("right", "given") for card in cards),
        "just_answered": answered is not None,
        "sum_form": next((card.form for card in cards if card.form is not None and card.form.errors), None),
        "software_sums": not record.sums_by_children,
    }


def _card(record: RoundRecord, step: Step, *, waiting: bool, answered: Answered | None, held: str) -> SumCard:
    work, context = record.working(step), record.context()
    mine = answered if answered is not None and answered.slug == step.slug else None
    card = SumCard(step, "waiting", work, step.basis(context), given=record.kind.given(step.slug, context))
    if not record.sums_by_children:
        return replace(card, state="given", lines=worked_lines(step, context))
    if work.accepted is not None:
        if mine is not None and mine.outcome == "other_first":
            form = _form(step, mine)
            return replace(card, state="asked", form=form, theirs=f"{work.accepted:f}")
        return replace(card, state="right", just_answered=mine is not None)
    if waiting:
        return card
    verdict = None
    if mine is None or mine.outcome in ("not_yet", "shown", "picked"):
        again = work.last_typed, work.tries - 1, work.picked
        verdict = check(step, context, *again) if work.tries else None
    return replace(
        card,
        state="asked",
        form=_form(step, mine, held or work.last_typed),
        verdict=verdict,
        table=record.kind.table(step.slug, context),
        lines=worked_lines(step, context) if work.shown else (),
        just_answered=mine is not None,
    )


def _form(step: Step, mine: Answered | None, typed: str = "") -> SumForm:
    if mine is None or not mine.message:
        return SumForm(step, initial={"answer": typed})
    form = SumForm(step, {"answer": mine.typed})
    form.add_error("answer", str(mine.message))
    return form


def answer_sum(request: TeamRequest, seat: Seat, steps: Sequence[Step]) -> Answered:
    """Check and save the posted answer (`sum` names the step, `answer` is what was typed).

    With `show` in place of an answer the steps are shown, once they may be. An answer worked from numbers
    that another tablet has changed since, or to a sum that another tablet has answered otherwise, is not
    saved but handed back with both.
    """
    record = seat.round
    slug = request.POST.get("sum", "")
    step = next((step for step in steps if step.slug == slug), None)
    typed = request.POST.get("answer", "")[:LONGEST_ANSWER]
    if step is None or not record.sums_by_children:
        return Answered(slug, "gone")
    work, context = record.working(step), record.context()
    if "show" in request.POST:
        return _show(request, seat, step, work)
    if "how" in request.POST:
        return _pick(request, seat, step, work)
    if request.POST.get("basis", step.basis(context)) != step.basis(context):
        return Answered(
            slug,
            "moved",
            typed,
            _("The numbers changed on another tablet. Look at them, then work it again."),
        )
    verdict = check(step, context, typed, work.tries)
    if verdict.outcome == "unreadable":
        return Answered(slug, "unreadable", typed, verdict.message)
    if work.accepted is not None and work.accepted == verdict.value:
        return Answered(slug, "right", typed)
    if work.accepted is not None and not _saw(request, work):
        return Answered(
            slug, "other_first", typed, _("Another tablet of your team has this one already. Look at both.")
        )

    def effect(author: Author) -> str:
        saving.save_working(
            record.iteration,
            step.slug,
            step.basis(context),
            typed.strip(),
            verdict.outcome,
            author,
            value=verdict.value,
            slips=list(verdict.slips),
        )
        return verdict.outcome

    body = {"sum": slug, "answer": typed, "basis": step.basis(context)}
    saved = save_from(request, seat, body, effect)
    if not saved.text:
        return Answered(slug, "unreadable", typed, _("This form was sent before. Press Check it once more."))
    return Answered(slug, saved.text, typed)


def _saw(request: TeamRequest, work: WorkingRecord) -> bool:
    """Whether the form was shown after the answer that stands was saved."""
    return request.POST.get("seen", "0") == str(work.row_id)


def _show(request: TeamRequest, seat: Seat, step: Step, work: WorkingRecord) -> Answered:
    if not _may_show(work) or work.accepted is not None:
        return Answered(step.slug, "not_yet")
    basis = seat.round.basis(step)

    def effect(author: Author) -> str:
        saving.save_working(seat.round.iteration, step.slug, basis, "", "shown", author)
        return "shown"

    save_from(request, seat, {"sum": step.slug, "show": True, "basis": basis}, effect)
    return Answered(step.slug, "shown")


def _pick(request: TeamRequest, seat: Seat, step: Step, work: WorkingRecord) -> Answered:
    """Keep how the team got its last answer, one of the ways it was asked about."""
    basis, how = seat.round.basis(step), request.POST.get("how", "")
    if not work.tries or work.accepted is not None or request.POST.get("basis", basis) != basis:
        return Answered(step.slug, "not_yet")
    asked = check(step, seat.round.context(), work.last_typed, work.tries - 1).picks
    if not asked or how not in (*(slug for slug, _how in asked), OTHERWISE):
        return Answered(step.slug, "not_yet")

    def effect(author: Author) -> str:
        saving.save_working(seat.round.iteration, step.slug, basis, "", "picked", author, slips=[how])
        return "picked"

    save_from(request, seat, {"sum": step.slug, "how": how, "basis": basis}, effect)
    return Answered(step.slug, "picked")


def _may_show(work: WorkingRecord) -> bool:
    return work.tries >= TRIES_BEFORE_STEPS


def reseat(seat: Seat) -> Seat:
    """Return the seat with everything read again, after an entry was saved."""
    klass = records.load_team(seat.challenge, seat.team.team)
    team = klass.team(seat.team.team.pk)
    return replace(seat, klass=klass, team=team, round=team.rounds[seat.round.number])


def sums_page(
    request: TeamRequest,
    seat: Seat,
    template: str,
    steps_of: Callable[[RoundRecord], Sequence[Step]],
    context_of: Callable[[Seat], dict[str, Any]],
) -> HttpResponse:
    """Answer a page with sums: htmx gets the sums alone, a plain form goes back to the page.

    `steps_of` gives the sums of a round in order; `context_of` what else the template needs, `next_url` and
    `next_label` among it: where to go once all sums are done.
    """
    if request.method != "POST":
        held = request.held.get("answer", "") if request.held else ""
        sums = sums_context(seat.round, steps_of(seat.round), held=held)
        return render(request, template, seat.context(**sums, **context_of(seat)))
    answered = answer_sum(request, seat, steps_of(seat.round))
    if not request.htmx and answered.status == 200:
        return redirect(f"{request.path}#sum-{answered.slug}")
    fresh = reseat(seat)
    sums = sums_context(fresh.round, steps_of(fresh.round), answered)
    context = fresh.context(**sums, **context_of(fresh))
    return render(request, "team/_sums.html" if request.htmx else template, context, status=answered.status)

"""The Plan step on a team's tablet, one thing a screen; the sums and the drawing have views of their own."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.text import format_lazy
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods, require_safe

from classroom.access import TeamRequest
from design_challenges.forms import plan as forms
from design_challenges.forms.entries import EntryForm
from design_challenges.kinds.base import PlanWords
from design_challenges.services import plan_flow, progress
from design_challenges.services.entries import Author, Conflict
from design_challenges.services.made import is_measuring, write_size
from design_challenges.services.readiness import check_readiness, judge_material
from design_challenges.services.record_types import RoundRecord
from design_challenges.services.rounding import format_figure
from design_challenges.services.working import Step as SumStep
from design_challenges.steps import Step
from design_challenges.views.seats import Seat, save_from, team_step
from design_challenges.views.sums import reseat, sums_page
from design_challenges.words import Words


@dataclass(frozen=True)
class PartPage:
    """One screen of the plan: its form, its template, and the starters that help with one of its fields."""

    form: type[EntryForm]
    template: str
    starters: Callable[[PlanWords], Sequence[Words]] | None = None
    starts: str = ""
    letter: str = ""


PAGES = {
    "purpose": PartPage(
        forms.PurposeForm, "team/plan_purpose.html", lambda words: words.purpose_starters, "purpose"
    ),
    "idea-a": PartPage(forms.IdeaAForm, "team/plan_idea.html", letter="a"),
    "idea-b": PartPage(forms.IdeaBForm, "team/plan_idea.html", letter="b"),
    "limit": PartPage(forms.LimitForm, "team/plan_limit.html"),
    "slower": PartPage(forms.SlowerForm, "team/plan_slower.html"),
    "choose": PartPage(forms.ChooseForm, "team/plan_choose.html"),
    "change": PartPage(
        forms.ChangeForm, "team/plan_change.html", lambda words: words.change_starters, "change_why"
    ),
    "sizes": PartPage(forms.NewSizesForm, "team/plan_sizes.html"),
    "change-two": PartPage(
        forms.ChangeTwoForm, "team/plan_change_two.html", lambda words: words.two_starters, "change_two"
    ),
}
# Once an idea is chosen, what was guessed before stands as it was.
ONLY_BEFORE_CHOOSING = ("idea-a", "idea-b", "limit", "slower")


def is_locked(record: RoundRecord) -> bool:
    """Return whether the plan stands for good: the made thing is being measured or was dropped."""
    return bool(record.turns or record.drops)


@team_step(Step.PLAN)
@require_safe
def team_plan(request: TeamRequest, seat: Seat) -> HttpResponse:
    """Go to the first part of the plan that is missing; show the whole plan when there is none."""
    part = plan_flow.next_part(seat.round)
    if part is not None and not is_locked(seat.round):
        return redirect("design_challenges:team_plan_part", seat.round.number, part.slug)
    following = progress.next_step(seat.round)
    context = plan_context(seat) | {
        "locked": is_locked(seat.round),
        "measuring": is_measuring(seat.round),
        "next_url": reverse("design_challenges:team_now"),
        "next_label": following.label if following is not None else "",
    }
    return render(request, "team/plan.html", seat.context(**context))


@team_step(Step.PLAN)
@require_http_methods(["GET", "HEAD", "POST"])
def team_plan_part(request: TeamRequest, seat: Seat, part: str) -> HttpResponse:
    """Show or save one part of the plan."""
    page = PAGES.get(part)
    if page is None or not _is_its_turn(seat.round, part):
        return redirect("design_challenges:team_plan", seat.round.number)
    if request.method != "POST":
        form = page.form(seat.round, held=request.held)
        return _show(request, seat, page, form, held=request.held is not None)
    if "start" in request.POST and page.starters is not None:
        return _show(request, seat, page, page.form(seat.round, held=_started(request, seat, page)))
    form = page.form(seat.round, request.POST)
    if not form.is_valid():
        return _show(request, seat, page, form, status=422)
    address = _after(seat.round, part)

    def effect(author: Author) -> str:
        form.save(author)
        return address

    try:
        answer = save_from(request, seat, form.body(), effect)
    except Conflict:
        fresh = reseat(seat)
        again = page.form(fresh.round, request.POST)
        return _show(request, fresh, page, again, status=422, clash=form.two_answers(fresh.round))
    if not answer.text:
        form.add_error(None, gettext("This form was sent before with other answers. Look, then save again."))
        return _show(request, reseat(seat), page, form, status=422)
    return redirect(answer.text)


@team_step(Step.PLAN)
@require_http_methods(["GET", "HEAD", "POST"])
def team_plan_sums(request: TeamRequest, seat: Seat) -> HttpResponse:
    """Work the sums of the plan, or show them worked where the software does them."""
    if not seat.round.plan_complete or is_measuring(seat.round):
        return redirect("design_challenges:team_plan", seat.round.number)
    return sums_page(request, seat, "team/plan_sums.html", _plan_steps, _after_sums)


def _plan_steps(record: RoundRecord) -> Sequence[SumStep]:
    return record.kind.plan_steps(record.values) if record.plan_complete else ()


def _after_sums(seat: Seat) -> dict[str, Any]:
    """Return where the sums lead: on with a plan inside the limit, back to the sizes with one over it."""
    number = seat.round.number
    judgement = judge_material(seat.round)
    if judgement is not None and not judgement.within and not is_locked(seat.round):
        next_url = reverse("design_challenges:team_plan_part", args=[number, "sizes"])
        next_label: Words = _("Change the sizes")
    else:
        next_url, next_label = reverse("design_challenges:team_now"), _("Go on")
        if plan_flow.next_part(seat.round) is not None:
            next_url = reverse("design_challenges:team_plan", args=[number])
    limit = next(item for item in check_readiness(seat.round) if item.slug == "limit")
    return plan_context(seat) | {"next_url": next_url, "next_label": next_label, "limit_item": limit}


def plan_context(seat: Seat) -> dict[str, Any]:
    """Return what every page of the plan shows: its parts, the two ideas, the prices."""
    record = seat.round
    return {
        "words": record.kind.plan_words,
        "parts": plan_flow.plan_parts(record),
        "quantities": record.kind.quantities(record.values),
        "ideas": [
            {
                "letter": letter.upper(),
                "sizes": _named_sizes(record, record.ideas[stage]),
                "inside": plan_flow.idea_inside(record, letter),
            }
            for letter, stage in plan_flow.IDEAS.items()
        ],
        "plan_sizes": _named_sizes(record, record.plan),
        "before_figures": _figures(record.before) if record.before else [],
        "before_sizes": _named_sizes(record.before, record.before.plan) if record.before else [],
        "rules": record.kind.rules(record.values),
        "shown_words": _words_of_notes(record),
    }


def _named_sizes(record: RoundRecord, sizes: Any) -> list[tuple[Words, Any]]:
    quantities = record.kind.quantities(record.values)
    return [(quantity.label, sizes[quantity.slug].value) for quantity in quantities if quantity.slug in sizes]


def _figures(record: RoundRecord) -> list[tuple[Words, Words]]:
    """Return what a round came to: what was made otherwise than planned, its material, its performance."""
    kind, values = record.kind, record.values
    system = kind.system(values)
    lines: list[tuple[Words, Words]] = []
    for variable in kind.variables(values):
        value = record.variable(variable.slug)
        planned = record.plan_figures.variables[variable.slug] if record.plan_figures else None
        if value is not None and value != planned:
            size = write_size(value, variable, kind.length_unit(values))
            text = f"{size}\N{NO-BREAK SPACE}{variable.unit(system)}"
            lines.append((format_lazy(_("{name}, as built"), name=variable.label), text))
    if record.material_used is not None:
        points = format_lazy(_("{points} points"), points=f"{record.material_used:f}")
        lines.append((_("Material used"), points))
    if record.figure is not None:
        performance = record.performance
        figure = format_figure(record.figure, performance.places)
        lines.append((performance.label, f"{figure}\N{NO-BREAK SPACE}{performance.unit}"))
    return lines


def _words_of_notes(record: RoundRecord) -> dict[str, str]:
    """Return the notes that are choices in the words of their choices."""
    asked = {
        "meets_limit": forms.LimitForm,
        "slower": forms.SlowerForm,
        "chosen": forms.ChooseForm,
        "change": forms.ChangeForm,
    }
    return {
        prompt: form(record).in_words(prompt, record.notes[prompt].text)
        for prompt, form in asked.items()
        if prompt in record.notes
    }


def _is_its_turn(record: RoundRecord, part: str) -> bool:
    """Return whether a part may be shown: all before it are done, and what comes after leaves it open."""
    if is_locked(record):
        return False
    if part == "sizes" and record.plan_complete:
        return True
    parts = plan_flow.plan_parts(record)
    slugs = [found.slug for found in parts]
    if part not in slugs:
        return False
    place = slugs.index(part)
    if part in ONLY_BEFORE_CHOOSING and "chosen" in record.notes and parts[place].done:
        return False
    return all(found.done for found in parts[:place])


def _after(record: RoundRecord, part: str) -> str:
    """Return where a saved part leads; where the software does the sums they are shown once."""
    if part in ("choose", "sizes") and not record.sums_by_children:
        return reverse("design_challenges:team_plan_sums", args=[record.number])
    return reverse("design_challenges:team_plan", args=[record.number])


def _started(request: TeamRequest, seat: Seat, page: PartPage) -> QueryDict:
    """Return what was typed with a starter added to it, for a tablet without scripts."""
    typed = request.POST.copy()
    starters = list(page.starters(seat.round.kind.plan_words)) if page.starters else []
    try:
        starter = str(starters[int(request.POST["start"])]).rstrip(" …")
    except (ValueError, IndexError):
        return typed
    typed[page.starts] = f"{typed.get(page.starts, '')} {starter} ".lstrip()
    return typed


def _show(
    request: TeamRequest,
    seat: Seat,
    page: PartPage,
    form: EntryForm,
    *,
    status: int = 200,
    held: bool = False,
    clash: Sequence[Any] = (),
) -> HttpResponse:
    starters = page.starters(seat.round.kind.plan_words) if page.starters else ()
    context = seat.context(
        form=form, held=held, clash=clash, starters=starters, letter=page.letter.upper(), **plan_context(seat)
    )
    return render(request, page.template, context, status=status)

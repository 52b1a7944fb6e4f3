"""The Ready step on a team's tablet: the checklist with its numbers, and being cleared to build."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from classroom.access import TeamRequest
from design_challenges.models import Clearance
from design_challenges.services import progress, saving
from design_challenges.services.entries import Author
from design_challenges.services.made import is_measuring
from design_challenges.services.readiness import CheckItem, check_readiness, is_ready, judge_material
from design_challenges.services.record_types import RoundRecord
from design_challenges.steps import Step
from design_challenges.views.seats import Seat, save_from, team_step

# Where each line of the checklist is mended.
MENDED_AT = {
    "purpose": "purpose",
    "ideas": "idea-a",
    "chosen": "choose",
    "sizes": "sizes",
    "change": "change",
    "change_two": "change-two",
    "limit": "sizes",
}


@team_step(Step.READY)
@require_http_methods(["GET", "HEAD", "POST"])
def team_ready(request: TeamRequest, seat: Seat) -> HttpResponse:
    """Show the checklist; a POST clears a team for which every line holds."""
    if request.method != "POST":
        return _show(request, seat)
    if seat.round.clearance is None:
        if not is_ready(seat.round):
            return _show(request, seat, status=422)
        save_from(request, seat, {"ready": True}, lambda author: _clear(seat.round, author))
    return redirect("design_challenges:team_ready", seat.round.number)


def _clear(record: RoundRecord, author: Author) -> str:
    judgement = judge_material(record)
    saving.clear_team(
        record,
        Clearance.By.CHECK,
        author,
        figure=judgement.figure if judgement else None,
        figure_from=judgement.figure_from if judgement else "",
    )
    return reverse("design_challenges:team_ready", args=[record.number])


def _show(request: TeamRequest, seat: Seat, *, status: int = 200) -> HttpResponse:
    record = seat.round
    items = check_readiness(record)
    following = progress.next_step(record)
    context = seat.context(
        items=[_line(item, record.number) for item in items],
        missing=[item for item in items if not item.passed] if status == 422 else [],
        ready=all(item.passed for item in items),
        measuring=is_measuring(record),
        cautions=record.kind.plan_words.cautions,
        next_url=reverse("design_challenges:team_now"),
        next_label=following.label if following is not None else "",
    )
    return render(
        request, "team/cleared.html" if record.clearance else "team/ready.html", context, status=status
    )


def _line(item: CheckItem, number: int) -> dict[str, Any]:
    """Return one line of the checklist as the page shows it, with the place where it is mended."""
    if item.passed:
        return {"passed": True, "text": item.label, "figures": item.detail if item.slug == "limit" else ""}
    if item.slug == "drawing":
        url = reverse("design_challenges:team_drawing", args=[number])
    elif item.slug in MENDED_AT:
        url = reverse("design_challenges:team_plan_part", args=[number, MENDED_AT[item.slug]])
    else:
        url = reverse("design_challenges:team_plan_sums", args=[number])
    return {"passed": False, "text": item.label, "next_step": item.detail, "url": url}

"""The children's page for the projector about changes, twins, the day, and how sure a few drops are."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from classroom.access import TeacherRequest, teacher_of_class
from design_challenges.services import boards, number_lines
from design_challenges.services.class_analysis import class_analysis
from design_challenges.services.record_types import ClassRecord
from design_challenges.services.records import find_challenge, load_class
from design_challenges.services.reference import readings_by_day
from design_challenges.views.live import board_token, has_it_already, nothing_new

CHANGES, TWINS, SURE, DAY = "changes", "twins", "sure", "day"


@require_GET
@never_cache
@teacher_of_class(substitute=True)
def changes(request: TeacherRequest) -> HttpResponse:
    """The page, or for a poll its live part, or nothing where nothing is new."""
    token = board_token(request)
    if has_it_already(request, token):
        return nothing_new()
    challenge = find_challenge(request.classroom)
    context: dict[str, Any] = {"classroom": request.classroom, "challenge": challenge, "token": token}
    if challenge is None:
        return render(request, "board/changes.html", context)
    context |= _lines(request, load_class(challenge))
    return render(request, "board/_changes_live.html" if request.htmx else "board/changes.html", context)


def _lines(request: TeacherRequest, klass: ClassRecord) -> dict[str, Any]:
    letters = request.GET.get("letters") == "yes"
    if letters:
        boards.call_by_letter(klass)
    views = [
        (CHANGES, _("Each team’s change")),
        (TWINS, _("Twins")),
        (SURE, _("How sure?")),
        (DAY, _("The day")),
    ]
    view = request.GET.get("view", CHANGES)
    view = view if view in dict(views) else CHANGES
    covered = number_lines.is_covered(klass)
    found = class_analysis(klass, letters=letters)
    lines: list[Any] = []
    ticks: list[number_lines.Tick] = []
    sentences: list[str] = []
    most = number_lines.TEAMS_A_PAGE
    if covered:
        pass
    elif view == CHANGES:
        axis = number_lines.change_axis(klass, found)
        lines, ticks = number_lines.change_lines(klass, found, axis), number_lines.ticks_of(axis)
    elif view == TWINS:
        lines, twin_axis = number_lines.twin_pairs(klass, found)
        ticks, most = number_lines.ticks_of(twin_axis), number_lines.TWINS_A_PAGE
    elif view == DAY:
        lines, day_axis = number_lines.day_lines(found, readings_by_day(klass.challenge))
        ticks = number_lines.ticks_of(day_axis)
    else:
        lines, ticks = number_lines.sure_lines(found)
        sentences = [sentence.text for sentence in found.of(found.children.how_sure)]
        most = max(1, len(lines))
    page = Paginator(lines, number_lines.pages_of(len(lines), most)).get_page(request.GET.get("page"))
    own = {"letters": "yes"} if letters else {}
    return {
        "kind": klass.kind,
        "covered": covered,
        "view": view,
        "views": [(slug, label, urlencode({"view": slug, **own})) for slug, label in views],
        "page": page,
        "ticks": ticks,
        "sentences": sentences,
        "letters": letters,
        "other_names": urlencode({"view": view} if letters else {"view": view, "letters": "yes"}),
        "here_query": urlencode({"view": view, **own}),
    }

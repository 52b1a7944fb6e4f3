"""The class board for the projector, and the taps that cover, sort and time it."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST

from classroom.access import TeacherRequest, teacher_of_class
from classroom.whole import whole_number
from design_challenges.models import ClassChallenge
from design_challenges.services import boards, charts, switches
from design_challenges.services.covers import covers_of, known_names
from design_challenges.services.record_types import ClassRecord
from design_challenges.services.records import find_challenge, load_class
from design_challenges.views.live import (
    TIMER_MINUTES,
    after_a_tap,
    board_token,
    covers_context,
    has_it_already,
    nothing_new,
)

PAGE = "design_challenges:board"
ALL, TABLE = "all", "table"


@require_GET
@never_cache
@teacher_of_class(substitute=True)
def board(request: TeacherRequest) -> HttpResponse:
    """The board, or for a poll its live part, or nothing where nothing is new."""
    token = board_token(request)
    if has_it_already(request, token):
        return nothing_new()
    challenge = find_challenge(request.classroom)
    context: dict[str, Any] = {
        "classroom": request.classroom,
        "substitute": request.substitute,
        "challenge": challenge,
        "token": token,
    }
    if challenge is None:
        return render(request, "board/board.html", context)
    context |= _board(request, load_class(challenge))
    return render(request, "board/_board_live.html" if request.htmx else "board/board.html", context)


def _board(request: TeacherRequest, klass: ClassRecord) -> dict[str, Any]:
    letters, line = request.GET.get("letters") == "yes", request.GET.get("line") == "yes"
    if letters:
        boards.call_by_letter(klass)
    columns, covers = boards.columns_of(klass), covers_of(klass.challenge)
    views = [
        (ALL, _("Side by side")),
        (TABLE, _("Table")),
        *(
            # Where the axes are to be guessed, a view's name may not tell them.
            (column.slug, _("Chart {n}").format(n=place) if covers.axes else str(column.label))
            for place, column in enumerate(columns[1:], start=1)
        ),
    ]
    view = request.GET.get("view", ALL)
    view = view if view in dict(views) else ALL
    rounds = sorted({number for team in klass.teams for number in team.rounds})
    number = whole_number(request.GET.get("round", ""))
    round_number = number if number in rounds else 0
    page = Paginator(boards.board_rows(klass, round_number), boards.TEAMS_A_VIEW).get_page(
        request.GET.get("page")
    )
    shown = [row.team_id for row in page]
    # On half the wall names are a crowd: there each team has its number, which stands in the table beside.
    size = charts.BOARD_HALF if view == ALL else charts.BOARD_WHOLE
    drawn = (
        []
        if view == TABLE
        else boards.board_charts(
            klass, size, number=round_number, team_ids=shown, by_number=view == ALL, line=line
        )
    )
    named = {"letters": "yes"} if letters else {}
    lined = {"line": "yes"} if line else {}
    ends_at = klass.challenge.timer_ends_at
    return {
        "kind": klass.kind,
        "columns": columns,
        "covered": [column for column in columns if column.covered],
        "page": page,
        "notes": [row for row in page if row.note],
        "view": view,
        "numbered": view == ALL,
        "letters": letters,
        "line": line,
        "named": _more({**named, **lined}),
        "named_otherwise": _more({**({} if letters else {"letters": "yes"}), **lined}),
        "lined_otherwise": _more({**named, **({} if line else {"line": "yes"})}),
        **covers_context(klass),
        "views": views,
        "rounds": rounds if len(rounds) > 1 else [],
        "round_number": round_number,
        "charts": [chart for chart in drawn if view in (ALL, chart.slug)],
        "by_figure": klass.challenge.board_order == ClassChallenge.BoardOrder.FIGURE,
        "timer_minutes": TIMER_MINUTES,
        "ends_at": int(ends_at.timestamp() * 1000) if ends_at else None,
        "now": int(timezone.now().timestamp() * 1000),
    }


def _more(query: dict[str, str]) -> str:
    """Return what is added to an address that has a query already."""
    return f"&{urlencode(query)}" if query else ""


@require_POST
@teacher_of_class(substitute=True)
def cover(request: TeacherRequest) -> HttpResponse:
    """Cover a column, the axes or a team until the children guessed, or show it; "all" is every column."""
    challenge = _challenge(request)
    klass = load_class(challenge)
    columns = [column.slug for column in boards.columns_of(klass)]
    wanted = request.POST.get("column", "")
    if wanted not in (*known_names(columns, [team.team.pk for team in klass.teams]), "all"):
        raise Http404
    for name in columns if wanted == "all" else [wanted]:
        switches.cover(challenge, name, request.POST.get("covered") == "yes")
    return after_a_tap(request, PAGE)


@require_POST
@teacher_of_class(substitute=True)
def order(request: TeacherRequest) -> HttpResponse:
    """Sort the board by the figure, or put it back into team order."""
    wanted = request.POST.get("order", "")
    if wanted not in ClassChallenge.BoardOrder.values:
        raise Http404
    switches.order_board(_challenge(request), wanted)
    return after_a_tap(request, PAGE)


@require_POST
@teacher_of_class(substitute=True)
def timer(request: TeacherRequest) -> HttpResponse:
    """Start the discussion timer for some minutes, or (0) take it off."""
    minutes = request.POST.get("minutes", "")
    if not (minutes.isascii() and minutes.isdigit()):
        raise Http404
    switches.set_timer(_challenge(request), timedelta(minutes=int(minutes[:2])))
    return after_a_tap(request, PAGE)


def _challenge(request: TeacherRequest) -> ClassChallenge:
    challenge = find_challenge(request.classroom)
    if challenge is None:
        raise Http404
    return challenge

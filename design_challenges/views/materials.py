"""What to lay out before the lesson: the materials list, on the screen and on paper, and area-table cards."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_safe

from classroom.access import TeacherRequest, teacher_of_class
from classroom.models import Team
from design_challenges.forms.materials import MaterialsForm
from design_challenges.kinds import get_kind
from design_challenges.kinds.base import Needs, Values
from design_challenges.models import ClassChallenge
from design_challenges.services.cutting_plan import draw_cutting
from design_challenges.services.exports import plain_digits
from design_challenges.services.lengths import format_with_unit
from design_challenges.services.materials import FromStock, Materials, work_out
from design_challenges.services.records import find_challenge, latest_settings, settings_values
from design_challenges.services.rounding import round_half_up
from design_challenges.services.units import UnitSystem, convert
from design_challenges.views.printing import paper_context

ROWS_A_COLUMN = 9
"""So few that two teams' cards fit on a sheet, of A4 and of letter alike."""


@require_safe
@teacher_of_class(substitute=True)
def materials(request: TeacherRequest) -> HttpResponse:
    """The form, and the list worked out from it."""
    return _answer(request, "teacher/materials.html")


@require_safe
@teacher_of_class(substitute=True)
def materials_sheet(request: TeacherRequest) -> HttpResponse:
    """The same list to print."""
    return _answer(request, "print/materials.html")


@require_safe
@teacher_of_class(substitute=True)
def area_table(request: TeacherRequest) -> HttpResponse:
    """The printed table that a sum is read from, a card a team."""
    challenge, values = _settings(request)
    table = get_kind(challenge.kind).reference_table(values)
    head, rows = (table[0], table[1:]) if table else (None, [])
    columns = [rows[start : start + ROWS_A_COLUMN] for start in range(0, len(rows), ROWS_A_COLUMN)]
    teams = Team.objects.filter(classroom=request.classroom, retired_at__isnull=True)
    context = _context(request, challenge, head=head, columns=columns, teams=list(teams) if table else [])
    return render(request, "print/area_table.html", context)


def _answer(request: TeacherRequest, template: str) -> HttpResponse:
    challenge, values = _settings(request)
    kind = get_kind(challenge.kind)
    system, needs = kind.system(values), kind.needs(values)
    if needs is None:
        return render(request, "teacher/materials.html", _context(request, challenge, impossible=True))
    teams = Team.objects.filter(classroom=request.classroom, retired_at__isnull=True).count()
    form = MaterialsForm(request.GET, needs, system, teams, challenge.rounds)
    if not form.is_valid():
        context = _context(request, challenge, form=form, needs=needs)
        return render(request, "teacher/materials.html", context, status=422)
    found = work_out(form.order(), form.stocks())
    context = _context(request, challenge, form=form, needs=needs, found=found, **_told(found, needs, system))
    return render(request, template, context)


def _told(found: Materials, needs: Needs, system: UnitSystem) -> dict[str, Any]:
    """Return the list as it is read: lengths with their units, things by number."""
    unit, order = system.length, found.order
    counts = {"device": order.devices, "team": order.teams, "class": 1}
    long = convert(found.string, unit, system.height)
    return {
        "across": format_with_unit(order.across, unit, Fraction(1)),
        "line": format_with_unit(order.line, unit, Fraction(1)),
        "string": f"{round_half_up(long, 1):f}\N{NO-BREAK SPACE}{system.height.symbol}",
        "lines": order.devices * order.line_count,
        "cuts": [_cut(stock, order.across, order.gap, system) for stock in found.stocks],
        "things": [(thing.label, thing.count * counts[thing.each]) for thing in needs.things],
        "unit": unit.symbol,
    }


def _cut(stock: FromStock, across: Fraction, gap: Fraction, system: UnitSystem) -> dict[str, Any]:
    size = stock.stock
    return {
        "stock": stock,
        "size": _("{width} × {length} {unit}").format(
            width=plain_digits(size.width), length=plain_digits(size.length), unit=system.length.symbol
        ),
        "way": _how(stock),
        "per_cent": f"{round_half_up(Fraction(stock.used) * 100, 0):f}",
        "drawing": draw_cutting(stock.best, across, gap, size.width, size.length),
    }


def _how(stock: FromStock) -> str:
    """Return in words how one sheet is cut."""
    best = stock.best
    if not best.count:
        return _("No piece fits on this sheet.")
    if best.way == "squares":
        return _("In squares: {rows} of {across}.").format(
            rows=ngettext("{n} row", "{n} rows", len(best.rows)).format(n=len(best.rows)), across=best.rows[0]
        )
    side = _("the length") if best.turned else _("the width")
    rows = (
        ", ".join(map(str, best.rows))
        if len(best.rows) <= 12
        else _("{a} and {b} in turn").format(a=best.rows[0], b=best.rows[1])
    )
    return _("In staggered rows along {side}, each moved on by half a piece: {rows}.").format(
        side=side, rows=rows
    )


def _settings(request: TeacherRequest) -> tuple[ClassChallenge, Values]:
    challenge = find_challenge(request.classroom)
    if challenge is None:
        raise Http404
    return challenge, settings_values(latest_settings(challenge), get_kind(challenge.kind))


def _context(request: TeacherRequest, challenge: ClassChallenge, **more: Any) -> dict[str, Any]:
    return {
        "classroom": request.classroom,
        "substitute": request.substitute,
        "back_url": reverse("design_challenges:paper", args=[request.classroom.code]),
        "query": request.GET.urlencode(),
        **paper_context(request, latest_settings(challenge).unit_system),
        **more,
    }

"""The drawn tape beside a length's field, fetched anew while the field is typed into."""

from __future__ import annotations

from fractions import Fraction

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from classroom.access import TeamRequest, team_tablet
from design_challenges.forms.lengths import LengthInput, draw_typed
from design_challenges.services.tape import Tape
from design_challenges.services.units import UNITS


@require_safe
@team_tablet
def team_tape(request: TeamRequest) -> HttpResponse:
    """Answer with the tape: no length is marked on it where none stands in the box yet."""
    return render(request, "team/_tape.html", {"tape": _tape(request)})


def _tape(request: TeamRequest) -> Tape | None:
    unit = UNITS.get(request.GET.get("unit", ""))
    try:
        division = Fraction(request.GET.get("division", "")[:8])
    except (ValueError, ZeroDivisionError):
        return None
    typed = LengthInput().value_from_datadict(request.GET, {}, request.GET.get("name", ""))
    return draw_typed(str(typed or ""), unit, division) if unit is not None else None

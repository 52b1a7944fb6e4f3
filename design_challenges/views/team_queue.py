"""What a team's tablet says about its turn at the drop site."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from classroom.access import TeamRequest, team_tablet
from design_challenges.services.drop_queue import said_place
from design_challenges.services.records import find_challenge
from design_challenges.services.station_state import queue_at


@never_cache
@team_tablet
@require_safe
def team_queue(request: TeamRequest) -> HttpResponse:
    """Say how many turns are before the team's; a part of the Test page, and a page where nothing polls."""
    if request.htmx and request.GET.get("revision") == str(request.revision):
        return HttpResponse(status=204)
    challenge = find_challenge(request.classroom)
    if challenge is None:
        return redirect("design_challenges:team_now")
    queue = queue_at(challenge)
    context = {
        "revision": challenge.revision.number,
        "place": said_place(queue.place_of(request.team.pk)),
        "open": queue.open,
        "turns": queue.turns if queue.open else (),
    }
    return render(request, "team/_queue.html" if request.htmx else "team/queue.html", context)

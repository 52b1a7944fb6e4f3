"""The first screen of a team's next lesson: last time you …, next you …"""

from __future__ import annotations

from django.http import HttpResponseBase
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from classroom.access import TeamRequest, team_tablet
from design_challenges.services.lessons import has_ended_one, place_of
from design_challenges.services.records import find_challenge, load_team


@never_cache
@require_GET
@team_tablet
def welcome(request: TeamRequest) -> HttpResponseBase:
    """Say where the team was and what comes next; in a class's first lesson go straight on."""
    challenge = find_challenge(request.classroom)
    if challenge is None or not has_ended_one(request.classroom):
        return redirect("design_challenges:team_now")
    place = place_of(load_team(challenge, request.team).teams[0], challenge.rounds)
    return render(request, "team/welcome.html", {"place": place})

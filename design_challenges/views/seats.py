"""Seats a team at its place in the challenge: what every team page finds before it does anything."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import wraps
from typing import Any, Concatenate, ParamSpec

from django.http import HttpRequest, HttpResponse, HttpResponseBase, QueryDict
from django.shortcuts import redirect, render
from django.utils.translation import gettext_lazy as _

from classroom import held
from classroom.access import TeamRequest, team_tablet
from classroom.entry_head import head_of
from classroom.models import Team
from design_challenges.models import ClassChallenge
from design_challenges.services import progress, records
from design_challenges.services.entries import Answer, Author, Result, save_entry
from design_challenges.services.jobs import Job, share_jobs
from design_challenges.services.record_types import ClassRecord, RoundRecord, TeamRecord
from design_challenges.services.watch import watch
from design_challenges.steps import Step
from design_challenges.views.arrivals import sender_of

Rest = ParamSpec("Rest")


@dataclass(frozen=True)
class Seat:
    """A team's place: the class challenge, the team, and the round that the page is about."""

    challenge: ClassChallenge
    klass: ClassRecord
    team: TeamRecord
    round: RoundRecord
    step: Step

    @property
    def jobs(self) -> list[Job]:
        """Return who does what on this screen."""
        there = [str(student) for student in self.team.present(self.round.number)]
        return share_jobs(there, self.round.iteration.job_turn)

    def context(self, **more: Any) -> dict[str, Any]:
        """Return the context that every team page needs, and more."""
        return {
            "seat": self,
            "challenge": self.challenge,
            "kind": self.klass.kind,
            "values": self.round.values,
            "system": self.klass.kind.system(self.round.values),
            "team": self.team,
            "round": self.round,
            "step": self.step,
            "trail": progress.step_states(self.klass, self.team, self.round, self.step),
            "members": self.team.members(self.round.number),
            "jobs": self.jobs,
            "revision": self.challenge.revision.number,
            "watched": watch(self.klass, self.team).as_text(),
            "entry_id": uuid.uuid4(),
            **more,
        }


SeatView = Callable[Concatenate[TeamRequest, Seat, Rest], HttpResponseBase]


def team_step(
    step: Step,
    *,
    whole_class: bool = False,
    takes_late: Callable[[TeamRequest], bool] = lambda _request: False,
) -> Callable[[SeatView[Rest]], Callable[..., HttpResponseBase]]:
    """Open a team page of one step of a round: signed in, not paused, open, and reachable.

    A closed or paused step still takes nothing away: a GET shows why it waits, a
    POST answers with the same page and what was typed (422, so that htmx shows it).
    `takes_late` says of an outbox's entry that it is taken although the step waits:
    what was timed while it was open may arrive when it is not.
    """

    def decorate(view: SeatView[Rest]) -> Callable[..., HttpResponseBase]:
        @team_tablet
        @wraps(view)
        def inner(request: TeamRequest, number: int, *args: Any, **kwargs: Any) -> HttpResponseBase:
            challenge = records.find_challenge(request.classroom)
            if challenge is None:
                return redirect("design_challenges:team_now")
            klass = _load(challenge, request.team, whole_class=whole_class)
            team = klass.team(request.team.pk)
            if number not in team.rounds:
                return redirect("design_challenges:team_now")
            seat = Seat(challenge, klass, team, team.rounds[number], step)
            waiting = _why_wait(seat)
            if waiting and not (head_of(request) is not None and takes_late(request)):
                return _wait(request, seat, waiting)
            return view(request, seat, *args, **kwargs)

        return inner

    return decorate


def _load(challenge: ClassChallenge, team: Team, *, whole_class: bool) -> ClassRecord:
    return records.load_class(challenge) if whole_class else records.load_team(challenge, team)


SENT_BEFORE = _("This form was sent before, with something else in it. Look at it, then send it again.")

# What a form carries beside what the children typed.
_HIDDEN = ("csrfmiddlewaretoken", "entry_id")
_SILENT = (
    *(
        "asked",
        "asks",
        "turn",
        "who",
        "attempt",
        "basis",
        "call",
        "direction",
        "do",
        "drop",
        "how",
        "keep_",
        "mark",
        "outcome",
    ),
    *("part", "reading", "second", "seen", "start", "student", "sum", "sure", "trial"),
)


def _wait(request: TeamRequest, seat: Seat, waiting: str) -> HttpResponse:
    """Show why the page waits, with what was typed; it is held until the page is open again."""
    entry = head_of(request)
    if entry is not None:
        entry.stopped = waiting
    typed = request.POST.copy() if request.method == "POST" else (request.held or QueryDict()).copy()
    for name in _HIDDEN:
        typed.pop(name, None)
    if typed and entry is None:
        held.keep(request, typed, owner=f"team {request.team.pk}")
    context = seat.context(
        waiting=waiting,
        kept=list(typed.items()),
        shown=[value for name, value in typed.items() if not name.startswith(_SILENT) and str(value).strip()],
        photo_kept_back=bool(request.FILES),
    )
    return render(request, "team/waiting.html", context, status=422 if request.method == "POST" else 200)


def _why_wait(seat: Seat) -> str:
    """Return why this page must wait: "paused", "closed", "earlier" or ""."""
    if seat.challenge.paused_at is not None:
        return "paused"
    if not seat.klass.is_open(seat.team.team.pk, seat.round.number, seat.step):
        return "closed"
    before = progress.ORDER[: progress.ORDER.index(seat.step)]
    if not all(progress.is_done(seat.round, step) for step in before):
        return "earlier"
    return ""


def save_from(
    request: TeamRequest, seat: Seat, body: Mapping[str, Any], effect: Callable[[Author], str]
) -> Answer:
    """Save an entry of a team's round under the id its form carried."""
    return save_team_entry(request, seat.challenge, body, effect)


def save_team_entry(
    request: TeamRequest,
    challenge: ClassChallenge,
    body: Mapping[str, Any],
    effect: Callable[[Author], Result],
) -> Answer:
    """Save a team's entry under the id its form carried; a form without one gets a new id."""
    entry = head_of(request)
    whole = {"sent": entry.digest} if entry is not None else {}
    answer = save_entry(
        challenge,
        sender_of(request, device=request.device),
        read_entry_id(request),
        {**body, "page": request.path, **whole},
        effect,
    )
    held.drop(request)
    return answer


def read_entry_id(request: HttpRequest) -> uuid.UUID:
    """Return the entry's id from the form, or a fresh one where it is missing or unreadable."""
    try:
        return uuid.UUID(request.POST.get("entry_id", ""))
    except ValueError:
        return uuid.uuid4()

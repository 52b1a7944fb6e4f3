"""The timing station: its page, its queue for a phone that goes on alone, and the entries that come in."""

from __future__ import annotations

import json
import logging
import uuid
from collections.abc import Mapping

from django.contrib import messages
from django.core import signing
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from classroom.access import (
    StationRequest,
    find_station,
    find_station_by_id,
    is_live_station,
    pass_of,
    timing_station,
)
from classroom.models import Device
from design_challenges.forms.station import TypedForm
from design_challenges.models import ClassChallenge, Revision
from design_challenges.services import station_entries
from design_challenges.services.entries import Answer, save_entry
from design_challenges.services.records import find_challenge_of
from design_challenges.services.station_state import StationState, as_json, load_for_phone
from design_challenges.views.arrivals import answer_of, entry_answer, is_foreign, sender_of
from design_challenges.words import Words

log = logging.getLogger(__name__)

PAGE = "design_challenges:station"
TICKET = "timing-station"
MOST_AT_ONCE = 100
"""Longer lists are sent in parts; static/js/outbox/sender.js sends at most 20."""
_NOT_BODY = ("csrfmiddlewaretoken", "entry_id")


@never_cache
@timing_station
@require_http_methods(["GET", "HEAD", "POST"])
def station(request: StationRequest) -> HttpResponse:
    """The station's page; without scripts its form takes typed times."""
    challenge = find_challenge_of(request.classroom, request.station.kind)
    if challenge is None:
        return render(request, "station/not_in.html", status=403)
    state, arrived = load_for_phone(challenge, request.device)
    places = places_of(state)
    form = TypedForm(request.POST if request.method == "POST" else None, places=places)
    if request.method == "POST" and form.is_valid():
        answer = _save(request, request.POST, request.device, challenge)
        if answer.outcome == "saved":
            messages.success(
                request, _("Saved: {place}.").format(place=dict(places)[form.cleaned_data["place"]])
            )
        else:
            messages.warning(request, answer.text or _("Sent before with something else in it: not used."))
        return redirect(PAGE)
    context = {
        "classroom": request.classroom,
        "challenge": challenge,
        "live": request.live,
        "station": request.station,
        "form": form,
        "queue": state.queue,
        "turn": state.queue.turns[0] if state.queue.turns else None,
        "state_json": json.dumps({**as_json(state, arrived), "live": request.live}),
        "ticket": make_ticket(request.device),
        "entry_id": uuid.uuid4(),
    }
    return render(request, "station/station.html", context, status=422 if request.method == "POST" else 200)


def places_of(state: StationState) -> list[tuple[str, Words]]:
    """Return the drops that a time may be typed for, those whose turn it is first."""
    places: list[tuple[str, Words]] = []
    if state.queue.reference_due:
        places.append((station_entries.REFERENCE, _("The reference device")))
    for turn in (*state.queue.turns, *state.queue.building):
        key = f"{turn.team_id}-{turn.round}-{turn.trial}-{turn.attempt}"
        said = _("{team}, round {round}, drop {trial}")
        places.append((key, said.format(team=turn.name, round=turn.round, trial=turn.trial)))
    return places


@never_cache
@timing_station
@require_safe
def queue(request: StationRequest) -> HttpResponse:
    """The queue as it is now, for a phone that shows another state of it."""
    rows = Revision.objects.filter(
        class_challenge__classroom=request.classroom, class_challenge__kind=request.station.kind
    )
    number = rows.values_list("number", flat=True).first()
    if number is None:
        return entry_gone()
    if request.GET.get("revision") == f"{number}-{int(request.live)}":
        return HttpResponse(status=204)
    challenge = find_challenge_of(request.classroom, request.station.kind)
    if challenge is None:
        return entry_gone()
    state = as_json(*load_for_phone(challenge, request.device))
    return JsonResponse({**state, "live": request.live})


def entry_gone() -> HttpResponse:
    """Answer where the class challenge itself is not there."""
    return HttpResponse(status=404)


@never_cache
@require_POST
def entry(request: HttpRequest) -> HttpResponse:
    """Take in what a station's outbox sends; a time is kept whatever has become of the station."""
    return _take(request, request.POST)


@never_cache
@require_POST
def entries(request: HttpRequest) -> HttpResponse:
    """Take in several entries at once, as they wait when the network is back.

    They come as JSON in `entries`. Each is saved by itself, in their order, and has an answer of its own.
    """
    found = _entries_of(request.POST.get("entries", ""))
    if found is None:
        return JsonResponse({"reason": _("These entries cannot be read.")}, status=400)
    told: list[dict[str, object]] = []
    for fields in found:
        try:
            answer = _take(request, fields)
        except Exception:
            if not told:
                raise
            # Those behind it may need this one, and what is saved is to be told: it comes first next time.
            log.exception("An entry among several failed.")
            break
        told.append({"status": answer.status_code, **json.loads(answer.content)})
    is_nobody = all(answer["status"] == 403 for answer in told)
    response = JsonResponse({"told": told}, status=403 if is_nobody else 200)
    response.headers["Cache-Control"] = "no-store"
    return response


def _entries_of(text: str) -> list[dict[str, str]] | None:
    """Return the fields of each entry of a list, None where it is no such list."""
    try:
        entries = json.loads(text)
    except ValueError:
        return None
    if not isinstance(entries, list) or not 0 < len(entries) <= MOST_AT_ONCE:
        return None
    if not all(isinstance(fields, dict) for fields in entries):
        return None
    return [{str(name): str(value) for name, value in fields.items()} for fields in entries]


def _take(request: HttpRequest, fields: Mapping[str, str]) -> JsonResponse:
    """Save one entry.

    It names its station by a signed ticket, so that what one class's station timed never becomes another's
    that was opened on the same phone later.
    """
    device = _device_of(request, fields)
    if device is None:
        return JsonResponse({"reason": _("This phone is no timing station any more.")}, status=403)
    challenge = find_challenge_of(device.classroom, pass_of(device).kind)
    if challenge is None:
        return entry_answer("refused", reason=_("The class has no challenge any more."))
    answer = _save(request, fields, device, challenge)
    return answer_of(answer.outcome, answer.text)


def make_ticket(device: Device) -> str:
    """Return what a station's entries carry to say whose they are."""
    return signing.dumps(device.pk, salt=TICKET)


def _device_of(request: HttpRequest, fields: Mapping[str, str]) -> Device | None:
    try:
        return find_station_by_id(signing.loads(fields.get("station", ""), salt=TICKET))
    except signing.BadSignature:
        # Typed into another installation's page, or a plain form: whose phone it is now.
        return find_station(request)


def _save(
    request: HttpRequest, fields: Mapping[str, str], device: Device, challenge: ClassChallenge
) -> Answer:
    sender = sender_of(request, device=device, fields=fields)
    body = {name: str(value) for name, value in fields.items() if name not in _NOT_BODY}
    why = station_entries.why_no_drop(
        challenge,
        device,
        live=is_live_station(device),
        foreign=is_foreign(fields) or body.get("challenge", str(challenge.pk)) != str(challenge.pk),
        taken_at=sender.taken_at,
    )
    return save_entry(
        challenge,
        sender,
        _entry_id(fields),
        body,
        lambda author: station_entries.carry_out(challenge, body, author, why=why),
    )


def _entry_id(fields: Mapping[str, str]) -> uuid.UUID:
    try:
        return uuid.UUID(fields.get("entry_id", ""))
    except ValueError:
        return uuid.uuid4()

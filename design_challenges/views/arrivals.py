"""Entries that a page's outbox sends: who sent them, when they were made, and the answer in JSON."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta

from django.conf import settings
from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from django.utils.dateparse import parse_datetime

from classroom.access import find_device
from classroom.context_processors import installation_id
from classroom.models import Device
from design_challenges.models import Submission
from design_challenges.services.entries import Sender

MOST = 2**53
# Longer than a tablet keeps anything; a clock that was set in between says nonsense.
LONGEST_WAIT = timedelta(days=60)


def is_entry(request: HttpRequest) -> bool:
    """Say whether an outbox sent this and wants its answer in JSON."""
    return request.headers.get("X-Entry") == "1"


def sender_of(
    request: HttpRequest,
    *,
    device: Device | None,
    user: object = None,
    fields: Mapping[str, str] | None = None,
) -> Sender:
    """Return who sent an entry and what its device says of it; what cannot be read is left out.

    `fields` are those of one entry where several came in one request.
    """
    fields = request.POST if fields is None else fields
    device_time = _moment(fields.get("device_time", ""))
    return Sender(
        device=device,
        user=user,  # type: ignore[arg-type]
        counter=_counter(fields.get("counter", "")),
        device_time=device_time,
        installation=_installation(fields),
        taken_at=_taken_at(request, device_time),
    )


def senders_of(request: HttpRequest) -> list[str]:
    """Return everybody for whom this browser may send: its team, its station, its signed-in adult."""
    found: list[str] = []
    team = find_device(request, settings.TEAM_COOKIE_NAME)
    if team is not None and team.team_id is not None:
        found.append(f"team-{team.team_id}")
    station = find_device(request, settings.STATION_COOKIE_NAME)
    if station is not None and station.role == Device.Role.STATION:
        found.append(f"station-{station.pk}")
    if request.user.is_authenticated:
        found.append(f"user-{request.user.pk}")
    return found


def is_foreign(fields: Mapping[str, str]) -> bool:
    """Say whether an entry was typed into another installation's page: its ids mean nothing here."""
    named = _installation(fields)
    return named is not None and named != installation_id()


def entry_answer(outcome: str, answer: str = "", reason: str = "", page: str = "") -> JsonResponse:
    """Tell an outbox what became of an entry; only this lets it stop sending.

    `page` is what the page that sent it shows now, where that page asked for it.
    """
    told = {"outcome": outcome, "answer": answer, "reason": reason}
    response = JsonResponse(told | ({"page": page} if page else {}))
    response.headers["Cache-Control"] = "no-store"
    return response


def answer_of(outcome: str, text: str) -> JsonResponse:
    """Answer with a submission's outcome; the text of a refused one is its reason."""
    if outcome == Submission.Outcome.SAVED:
        return entry_answer(outcome, answer=text)
    return entry_answer(outcome, reason=text)


def _counter(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 17 and int(text) < MOST else None


def _installation(fields: Mapping[str, str]) -> uuid.UUID | None:
    try:
        return uuid.UUID(fields.get("installation", ""))
    except ValueError:
        return None


def _moment(text: str) -> datetime | None:
    try:
        moment = parse_datetime(text)
    except ValueError:
        return None
    if moment is None:
        return None
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


def _taken_at(request: HttpRequest, device_time: datetime | None) -> datetime | None:
    """Return when it happened by our clock: now less the wait, both ends of which the device's clock says."""
    sent = _counter(request.headers.get("X-Sent", ""))
    if sent is None or device_time is None:
        return None
    try:
        waited = datetime.fromtimestamp(sent / 1000, tz=UTC) - device_time
    except (OverflowError, OSError, ValueError):
        return None
    return timezone.now() - waited if timedelta(0) <= waited <= LONGEST_WAIT else None

"""Opening a timing station: on this phone, or by a link for a helper that works for a while."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from classroom.access import TeacherRequest, let_station_in, teacher_of_class
from classroom.codes import hash_token, make_token
from classroom.models import StationPass
from classroom.qr import opens_elsewhere, qr_svg
from design_challenges.forms.station import HoursForm
from design_challenges.models import ClassChallenge, QueueMove
from design_challenges.services import station
from design_challenges.services.entries import Author, teacher_change
from design_challenges.services.records import find_challenge, find_challenge_of
from design_challenges.services.rounding import format_figure
from design_challenges.services.station_state import class_thumbs, load_station

PAGE = "design_challenges:stations"
ONE_DAY_HOURS = 8


@require_GET
@teacher_of_class(substitute=True)
def stations(request: TeacherRequest) -> HttpResponse:
    """The links there are, the form that makes one, and the queue as it stands."""
    challenge = _challenge(request)
    state = load_station(challenge)
    thumbs = class_thumbs(state.klass)
    context = {
        "classroom": request.classroom,
        "substitute": request.substitute,
        "cards": request.classroom.station_passes.filter(kind=challenge.kind),
        "form": HoursForm(),
        "queue": state.queue,
        "thumbs": thumbs,
        "sd": _seconds(thumbs.sd_s) if thumbs else "",
        "widest": _seconds(thumbs.widest_s) if thumbs else "",
    }
    return render(request, "teacher/stations.html", context)


def _seconds(value: float) -> str:
    return format_figure(Decimal(repr(value)), 2)


@require_POST
@teacher_of_class(substitute=True)
def make_link(request: TeacherRequest) -> HttpResponse:
    """Make a link for a helper and show it once: only its digest is kept."""
    challenge = _challenge(request)
    form = HoursForm(request.POST)
    if not form.is_valid():
        messages.error(request, _("Choose for how long the link should work."))
        return redirect(PAGE, request.classroom.code)
    card, token = _make_pass(request, challenge, int(form.cleaned_data["hours"]))
    address = request.build_absolute_uri(reverse("design_challenges:station_in", args=[token]))
    context = {
        "classroom": request.classroom,
        "substitute": request.substitute,
        "card": card,
        "address": address,
        "qr": qr_svg(address, _("Link for the timing station")),
        "opens_elsewhere": opens_elsewhere(request),
    }
    return render(request, "teacher/station_link.html", context)


@require_POST
@teacher_of_class(substitute=True)
def open_here(request: TeacherRequest) -> HttpResponse:
    """Make the phone in the teacher's hand a timing station for today."""
    challenge = _challenge(request)
    card, _token = _make_pass(request, challenge, ONE_DAY_HOURS)
    return _let_in(challenge, card)


@require_POST
@teacher_of_class(substitute=True)
def withdraw(request: TeacherRequest, pk: int) -> HttpResponse:
    """Withdraw a link; what its phones timed before still comes in, to the unplaced readings."""
    card = get_object_or_404(request.classroom.station_passes, pk=pk)
    StationPass.objects.filter(pk=card.pk, revoked_at__isnull=True).update(revoked_at=timezone.now())
    messages.success(request, _("The link is withdrawn. What was timed with it before is not lost."))
    return redirect(PAGE, request.classroom.code)


@never_cache
@require_http_methods(["GET", "POST"])
def come_in(request: HttpRequest, token: str) -> HttpResponse:
    """Open a station's link: say what it is for, then let in on a tap (a link preview lets nobody in)."""
    card = StationPass.objects.filter(token_hash=hash_token(token)).select_related("classroom").first()
    if card is None:
        raise Http404
    challenge = find_challenge_of(card.classroom, card.kind)
    if challenge is None or not card.works or card.classroom.archived_at is not None:
        return render(request, "station/over.html", {"card": card}, status=410)
    if request.method == "GET":
        return render(request, "station/in.html", {"card": card})
    return _let_in(challenge, card)


def _challenge(request: TeacherRequest) -> ClassChallenge:
    challenge = find_challenge(request.classroom)
    if challenge is None:
        raise Http404
    return challenge


def _make_pass(request: TeacherRequest, challenge: ClassChallenge, hours: int) -> tuple[StationPass, str]:
    token = make_token()
    card = StationPass.objects.create(
        classroom=request.classroom,
        kind=challenge.kind,
        token_hash=hash_token(token),
        made_by=request.by_user,
        expires_at=timezone.now() + timedelta(hours=hours),
    )
    return card, token


def _let_in(challenge: ClassChallenge, card: StationPass) -> HttpResponse:
    """Give this browser the station's cookie; from now on the tablets say whose turn it is."""
    teacher_change(challenge.pk, lambda: _start(challenge))
    response = redirect("design_challenges:station")
    let_station_in(response, card)
    return response


def _start(challenge: ClassChallenge) -> None:
    station.move_queue(challenge, QueueMove.Move.START, Author())

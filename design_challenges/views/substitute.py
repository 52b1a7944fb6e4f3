"""A substitute's card: a link that runs the lessons of one class without an account, until a time."""

from __future__ import annotations

from datetime import timedelta

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from classroom.access import TeacherRequest, let_substitute_in, teacher_of_class
from classroom.codes import hash_token, make_token
from classroom.models import Device, SubstitutePass
from classroom.qr import opens_elsewhere, qr_svg
from design_challenges.services.lessons import last_report
from design_challenges.services.records import find_challenge
from design_challenges.views.printing import paper_context

DAYS = (1, 2, 5)


@require_GET
@teacher_of_class
def cards(request: TeacherRequest) -> HttpResponse:
    """The cards there are, and the form that makes one."""
    context = {
        "classroom": request.classroom,
        "cards": request.classroom.substitute_passes.all(),
        "days": DAYS,
        "now": timezone.now(),
    }
    return render(request, "teacher/substitute_cards.html", context)


@require_POST
@teacher_of_class
def make_card(request: TeacherRequest) -> HttpResponse:
    """Make a card and show it once: only its digest is kept, so it is printed now."""
    days = request.POST.get("days", "")
    if days not in {str(day) for day in DAYS}:
        messages.error(request, _("Choose for how many days the card should work."))
        return redirect("design_challenges:substitute_cards", request.classroom.code)
    token = make_token()
    card = SubstitutePass.objects.create(
        classroom=request.classroom,
        token_hash=hash_token(token),
        made_by=request.by_user,
        expires_at=timezone.now() + timedelta(days=int(days)),
    )
    address = request.build_absolute_uri(reverse("design_challenges:substitute_in", args=[token]))
    challenge = find_challenge(request.classroom)
    settings = challenge.newest_settings if challenge is not None else None
    context = {
        "classroom": request.classroom,
        "card": card,
        "address": address,
        "qr": qr_svg(address, _("Link for the substitute")),
        "opens_elsewhere": opens_elsewhere(request),
        "last": last_report(request.classroom),
        "back_url": reverse("design_challenges:substitute_cards", args=[request.classroom.code]),
        **paper_context(request, settings.unit_system if settings is not None else None),
    }
    return render(request, "print/substitute_card.html", context)


@require_POST
@teacher_of_class
def withdraw(request: TeacherRequest, pk: int) -> HttpResponse:
    """Withdraw a card; who came in with it is out at once."""
    card = get_object_or_404(request.classroom.substitute_passes, pk=pk)
    now = timezone.now()
    SubstitutePass.objects.filter(pk=card.pk, revoked_at__isnull=True).update(revoked_at=now)
    Device.objects.filter(substitute_pass=card, revoked_at__isnull=True).update(revoked_at=now)
    messages.success(request, _("The card is withdrawn."))
    return redirect("design_challenges:substitute_cards", request.classroom.code)


@require_http_methods(["GET", "POST"])
def come_in(request: HttpRequest, token: str) -> HttpResponse:
    """Open a card's link: say whose class it is, then let in on a tap (a link preview lets nobody in)."""
    card = SubstitutePass.objects.filter(token_hash=hash_token(token)).select_related("classroom").first()
    if card is None:
        raise Http404
    if not card.works or card.classroom.archived_at is not None:
        return render(request, "teacher/substitute_over.html", {"card": card}, status=410)
    if request.method == "GET":
        return render(request, "teacher/substitute_in.html", {"card": card})
    response = redirect("design_challenges:lessons", card.classroom.code)
    let_substitute_in(response, card)
    return response

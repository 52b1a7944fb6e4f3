"""The reference device: the teacher's own, dropped on each day that is tested."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from classroom.access import TeacherRequest, teacher_of_class
from design_challenges.forms.reference import ReferenceForm
from design_challenges.models import ClassChallenge
from design_challenges.services import reference as service
from design_challenges.services.analysis.speech import seconds
from design_challenges.services.entries import Author, Sender, save_entry
from design_challenges.services.lessons import open_lesson
from design_challenges.services.records import find_challenge

PAGE = "design_challenges:reference"


@require_http_methods(["GET", "POST"])
@teacher_of_class(substitute=True)
def reference(request: TeacherRequest) -> HttpResponse:
    """The drops of every day, and the form for today's."""
    challenge = _challenge(request)
    lesson = open_lesson(request.classroom)
    sent = request.POST if request.method == "POST" else request.held
    form = ReferenceForm(sent) if sent is not None else ReferenceForm()
    if request.method == "POST" and lesson is not None and form.is_valid():

        def save(author: Author) -> str:
            service.save_reference_drops(challenge, lesson, form.hundredths, author)
            return ""

        save_entry(challenge, _sender(request), _entry_id(request), request.POST.dict(), save)
        messages.success(request, _("Saved the reference device’s drops."))
        return redirect(PAGE, request.classroom.code)
    if request.method == "POST" and lesson is None:
        messages.warning(request, _("No lesson is on. Start one: its day is the day of the drops."))
    days: dict[str, list[dict[str, object]]] = {}
    for row in service.reference_rows(challenge):
        days.setdefault(row.day, []).append({"pk": row.row_id, "said": seconds(row.hundredths / 100)})
    context = {
        "classroom": request.classroom,
        "substitute": request.substitute,
        "lesson": lesson,
        "form": form,
        "days": days,
        "entry_id": uuid.uuid4(),
        "held": request.method == "GET" and request.held is not None,
    }
    refused = request.method == "POST" and (bool(form.errors) or lesson is None)
    return render(request, "teacher/reference.html", context, status=422 if refused else 200)


@require_POST
@teacher_of_class(substitute=True)
def take_out(request: TeacherRequest, pk: int) -> HttpResponse:
    """Take a mistyped drop out; its row stays, and no longer counts."""
    challenge = _challenge(request)

    def save(author: Author) -> str:
        if not service.take_out(challenge, pk, author):
            raise Http404  # undoes the entry: what is not there keeps no row and raises no revision
        return "taken out"

    # Pressed twice it is one entry: a drop is taken out once.
    entry_id = uuid.uuid5(uuid.NAMESPACE_OID, f"reference-{challenge.pk}-{pk}")
    save_entry(challenge, _sender(request), entry_id, {"takes_out": pk}, save)
    messages.success(request, _("Taken out. It no longer counts."))
    return redirect(PAGE, request.classroom.code)


def _challenge(request: TeacherRequest) -> ClassChallenge:
    challenge = find_challenge(request.classroom)
    if challenge is None:
        raise Http404
    return challenge


def _sender(request: TeacherRequest) -> Sender:
    return Sender(device=request.substitute, user=request.by_user)


def _entry_id(request: TeacherRequest) -> uuid.UUID:
    try:
        return uuid.UUID(request.POST.get("entry_id", ""))
    except ValueError:
        return uuid.uuid4()

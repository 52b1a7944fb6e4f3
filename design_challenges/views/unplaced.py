"""The teacher's unplaced readings, and giving any reading to the drop that it is of."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Sequence
from decimal import Decimal

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from classroom.access import TeacherRequest, teacher_of_class
from design_challenges.forms.unplaced import AsideForm, Groups, PlaceForm
from design_challenges.models import ClassChallenge, Reading
from design_challenges.services import unplaced as service
from design_challenges.services.entries import Author, Sender, save_entry
from design_challenges.services.record_types import ClassRecord, DropRecord, RoundRecord
from design_challenges.services.records import find_challenge, load_class
from design_challenges.services.unplaced import Place
from design_challenges.words import Words

PAGE = "design_challenges:unplaced"


@require_GET
@teacher_of_class(substitute=True)
def unplaced(request: TeacherRequest) -> HttpResponse:
    """The readings that wait for a drop, with what their devices said of them."""
    challenge = _challenge(request)
    context = {
        "classroom": request.classroom,
        "substitute": request.substitute,
        "waiting": [_said(reading) for reading in service.waiting_readings(challenge)],
    }
    return render(request, "teacher/unplaced.html", context)


def _said(reading: Reading) -> dict[str, object]:
    """Return a reading with what its entry says, which is words only: it may come from elsewhere."""
    body = reading.submission.body if reading.submission is not None else {}
    team = reading.team.name if reading.team is not None else str(body.get("team_name", ""))[:80]
    return {
        "reading": reading,
        "seconds": Decimal(reading.hundredths).scaleb(-2),
        "team": team,
        "round": str(body.get("round", ""))[:3],
        "trial": str(body.get("trial", ""))[:3],
        "called": service.called(reading),
        "why": Reading.Unplaced(reading.unplaced).label if reading.unplaced else "",
        "taken_at": (reading.submission and reading.submission.taken_at) or reading.made_at,
    }


@require_http_methods(["GET", "POST"])
@teacher_of_class(substitute=True)
def give(request: TeacherRequest, pk: int) -> HttpResponse:
    """Give a reading, unplaced or on a wrong drop, to the drop it is of."""
    challenge = _challenge(request)
    reading = _reading(challenge, pk)
    groups, places = _places(load_class(challenge), reading)
    form = PlaceForm(request.POST if request.method == "POST" else request.held, places=groups)
    if request.method == "POST" and form.is_valid():
        place = places[form.cleaned_data["place"]]
        _save(
            request,
            challenge,
            {"give": pk, "place": place.key},
            lambda author: service.give(reading, place, author),
        )
        messages.success(request, _("Given to that drop. The row it came in is kept."))
        if reading.drop_id is not None:
            return redirect("design_challenges:team_work", request.classroom.code, reading.team_id)
        return redirect(PAGE, request.classroom.code)
    context = {
        "classroom": request.classroom,
        "substitute": request.substitute,
        "form": form,
        "aside": AsideForm(),
        "entry_id": uuid.uuid4(),
        **_said(reading),
    }
    return render(
        request, "teacher/unplaced_give.html", context, status=422 if request.method == "POST" else 200
    )


@require_POST
@teacher_of_class(substitute=True)
def set_aside(request: TeacherRequest, pk: int) -> HttpResponse:
    """Set a reading aside, with a reason; it is kept, and counts nowhere."""
    challenge = _challenge(request)
    reading = _reading(challenge, pk)
    form = AsideForm(request.POST)
    if not form.is_valid():
        groups, _places_by_key = _places(load_class(challenge), reading)
        context = {
            "classroom": request.classroom,
            "substitute": request.substitute,
            "form": PlaceForm(places=groups),
            "aside": form,
            "entry_id": uuid.uuid4(),
            **_said(reading),
        }
        return render(request, "teacher/unplaced_give.html", context, status=422)
    reason = form.cleaned_data["reason"]
    _save(
        request,
        challenge,
        {"aside": pk, "reason": reason},
        lambda author: service.set_aside(reading, reason, author),
    )
    messages.success(request, _("Set aside. It is kept, and counts nowhere."))
    return redirect(PAGE, request.classroom.code)


def _places(klass: ClassRecord, reading: Reading) -> tuple[Groups, dict[str, Place]]:
    """Return where a reading may go: free drops, and drops with room for one more stopwatch."""
    groups: list[tuple[Words, Sequence[tuple[str, Words]]]] = []
    places: dict[str, Place] = {}
    for team in klass.teams:
        for number, record in sorted(team.rounds.items(), reverse=True):
            choices: list[tuple[str, Words]] = []
            for place, words in _of_round(record, reading):
                places[place.key] = place
                choices.append((place.key, words))
            if choices:
                label = _("{team}, round {number}").format(team=team.team.name, number=number)
                groups.append((label, choices))
    return groups, places


def _of_round(record: RoundRecord, reading: Reading) -> list[tuple[Place, Words]]:
    found: list[tuple[Place, Words]] = []
    for trial in range(1, record.trials_wanted + 1):
        drop = record.trials.get(trial)
        if drop is not None and drop.row_id == reading.drop_id:
            continue
        if drop is None or not drop.counted:
            found.append((Place(record.iteration, trial), _("Drop {trial}").format(trial=trial)))
        elif service.has_room(drop):
            found.append((Place(record.iteration, trial, drop), _beside(drop)))
    return found


def _beside(drop: DropRecord) -> str:
    time = drop.reading.seconds if drop.reading is not None else ""
    return _("Drop {trial}: one more stopwatch beside {time} s").format(trial=drop.trial, time=time)


def _challenge(request: TeacherRequest) -> ClassChallenge:
    challenge = find_challenge(request.classroom)
    if challenge is None:
        raise Http404
    return challenge


def _reading(challenge: ClassChallenge, pk: int) -> Reading:
    """Return a reading that nobody has given away or set aside; 404 for any other."""
    readings = Reading.objects.filter(class_challenge=challenge, pk=pk)
    found = readings.select_related("team", "submission", "drop").first()
    if found is None or service.is_dealt_with(found):
        raise Http404
    return found


def _save(
    request: TeacherRequest,
    challenge: ClassChallenge,
    body: dict[str, object],
    effect: Callable[[Author], object],
) -> None:
    def save(author: Author) -> str:
        effect(author)
        return ""

    try:
        entry_id = uuid.UUID(request.POST.get("entry_id", ""))
    except ValueError:
        entry_id = uuid.uuid4()
    save_entry(challenge, Sender(device=request.substitute, user=request.by_user), entry_id, body, save)

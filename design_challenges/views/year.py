"""The year's round: settings for another class, sharing and handing over, and erasing for good."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.contrib.auth.models import User
from django.db import transaction
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST

from classroom.access import (
    AdultRequest,
    TeacherRequest,
    classrooms_of,
    owner_of_class,
    signed_in,
    teacher_of_class,
)
from classroom.forms.base import sent
from classroom.models import Classroom, Membership, Student
from classroom.whole import whole_number
from design_challenges.forms.year import BeforeForm, ColleagueForm, CopySettingsForm, EraseForm
from design_challenges.kinds import get_kind
from design_challenges.models import ClassChallenge
from design_challenges.services.erasing.children import erase_child, mentions_of
from design_challenges.services.erasing.classes import erase_class, erase_old, find_old, owned_by
from design_challenges.services.erasing.copies import child_zip, class_zip
from design_challenges.services.records import find_challenge, latest_settings
from design_challenges.services.setup import (
    StaleSettingsError,
    differences,
    last_round_begun,
    save_first,
    save_version,
    texts_of,
)
from design_challenges.steps import Step

STAND_IN = timedelta(days=2)


# --- one child, one class, everything old ------------------------------------------------------------


@owner_of_class
def child_erase(request: TeacherRequest, pk: int) -> HttpResponse:
    """Ask with all that goes and stays, then erase a child for good."""
    student = get_object_or_404(Student, pk=pk, classroom=request.classroom)
    mentions = mentions_of(student)
    form = EraseForm(sent(request), str(student), mentions)
    if request.method == "POST" and form.is_valid():
        name = str(student)
        erase_child(student, form.cleaned_data.get("mentions", ()))
        messages.success(request, _("%(name)s is erased.") % {"name": name})
        return redirect("classroom:students", request.classroom.code)
    places = student.team_places.filter(team__isnull=False)
    context = {
        "classroom": request.classroom,
        "student": student,
        "form": form,
        "teams": sorted(set(places.values_list("team__name", flat=True))),
        "copy_url": reverse("design_challenges:child_copy", args=[request.classroom.code, pk]),
        "cancel_url": reverse("classroom:students", args=[request.classroom.code]),
    }
    return render(request, "teacher/child_erase.html", context, status=_status(request))


@require_GET
@never_cache
@owner_of_class
def child_copy(request: TeacherRequest, pk: int) -> HttpResponse:
    """Everything that is stored of one child."""
    student = get_object_or_404(Student, pk=pk, classroom=request.classroom)
    return _zip(child_zip(student), student)


@owner_of_class
def class_erase(request: TeacherRequest) -> HttpResponse:
    """Ask with all that goes, then erase a class for good."""
    classroom = request.classroom
    form = EraseForm(sent(request), classroom.name)
    if request.method == "POST" and form.is_valid():
        name = classroom.name
        erase_class(classroom)
        messages.success(request, _("%(name)s is erased, with all that was in it.") % {"name": name})
        return redirect("classroom:classes")
    context = {
        "classroom": classroom,
        "form": form,
        "children": classroom.students.count(),
        "copy_url": reverse("design_challenges:class_copy", args=[classroom.code]),
        "cancel_url": reverse("classroom:class_home", args=[classroom.code]),
    }
    return render(request, "teacher/class_erase.html", context, status=_status(request))


@require_GET
@never_cache
@owner_of_class
def class_copy(request: TeacherRequest) -> HttpResponse:
    """Everything that is stored of the class."""
    return _zip(class_zip(request.classroom), request.classroom)


@signed_in
def erase_older(request: AdultRequest) -> HttpResponse:
    """Choose a date, look at what is older, then erase it for good."""
    asked = request.GET if "before" in request.GET else None
    chosen = BeforeForm(asked)
    context: dict[str, Any] = {"chosen": chosen}
    if asked is None or not chosen.is_valid():
        return render(request, "teacher/erase_older.html", context, status=200 if asked is None else 422)
    old = find_old(owned_by(request.user), chosen.moment())
    form = EraseForm(sent(request), chosen.cleaned_data["before"].isoformat())
    if request.method == "POST" and form.is_valid():
        erase_old(old)
        messages.success(request, _("Everything older is erased."))
        return redirect("classroom:classes")
    context |= {"old": old, "form": form}
    return render(request, "teacher/erase_older.html", context, status=_status(request))


# --- sharing and handing over --------------------------------------------------------------------------


@owner_of_class
def people(request: TeacherRequest) -> HttpResponse:
    """Who runs the class, and a form that lets a colleague in or hands it over."""
    form = ColleagueForm(sent(request), request.by_user)
    if request.method == "POST" and form.is_valid() and form.colleague is not None:
        what = form.cleaned_data["role"]
        if what == "hand" and request.POST.get("sure") != "yes":
            asked = {"classroom": request.classroom, "colleague": form.colleague}
            return render(request, "teacher/class_hand_over.html", asked)
        return _let_in(request, form.colleague, what)
    now = timezone.now()
    memberships = request.classroom.memberships.select_related("user").order_by("pk")
    context = {
        "classroom": request.classroom,
        "form": form,
        "rows": [row for row in memberships if row.until is None or row.until > now],
    }
    return render(request, "teacher/class_people.html", context, status=_status(request))


def _let_in(request: TeacherRequest, colleague: User, what: str) -> HttpResponse:
    classroom = request.classroom
    hand = what == "hand"
    role = Membership.Role.TEACHER if hand else Membership.Role.COLLEAGUE
    until = timezone.now() + STAND_IN if what == "day" else None
    with transaction.atomic():
        Classroom.objects.select_for_update().get(pk=classroom.pk)
        standing = classroom.memberships.filter(user=colleague).first()
        if standing is not None and standing.role == Membership.Role.TEACHER and not hand:
            messages.info(request, _("%(name)s is a teacher of this class already.") % {"name": colleague})
            return redirect("design_challenges:class_people", classroom.code)
        Membership.objects.update_or_create(
            user=colleague, classroom=classroom, defaults={"role": role, "until": until}
        )
        if hand:
            classroom.memberships.filter(user=request.by_user).delete()
    if hand:
        messages.success(request, _("%(name)s has the class now.") % {"name": colleague.get_username()})
        return redirect("classroom:classes")
    messages.success(request, _("%(name)s may run the class.") % {"name": colleague.get_username()})
    return redirect("design_challenges:class_people", classroom.code)


@require_POST
@owner_of_class
def people_out(request: TeacherRequest, pk: int) -> HttpResponse:
    """Take a colleague out of the class again."""
    row = get_object_or_404(request.classroom.memberships, pk=pk, role=Membership.Role.COLLEAGUE)
    row.delete()
    messages.success(request, _("%(name)s no longer runs the class.") % {"name": row.user.get_username()})
    return redirect("design_challenges:class_people", request.classroom.code)


# --- settings for another class --------------------------------------------------------------------------


@teacher_of_class
def copy_settings(request: TeacherRequest) -> HttpResponse:
    """Choose one of one's other classes, look at what differs, and give it this class's settings."""
    challenge = find_challenge(request.classroom)
    if challenge is None or request.by_user is None:
        raise Http404
    others = {room.code: room for room in classrooms_of(request.by_user).exclude(pk=request.classroom.pk)}
    form = CopySettingsForm(sent(request), [(code, room.name) for code, room in others.items()])
    context: dict[str, Any] = {"classroom": request.classroom, "form": form, "others": others}
    if request.method != "POST" or not form.is_valid():
        return render(request, "teacher/settings_copy.html", context, status=_status(request))
    target = others[form.cleaned_data["target"]]
    found = find_challenge(target)
    seen = whole_number(request.POST.get("seen", ""))
    if request.POST.get("sure") == "yes" and seen is not None:
        if _copy(challenge, target, found, seen, request.by_user):
            messages.success(request, _("%(name)s has these settings now.") % {"name": target.name})
            return redirect("design_challenges:challenge_settings", target.code)
        messages.info(request, _("The settings there were changed meanwhile. Look once more."))
        found = find_challenge(target)
    kind = get_kind(challenge.kind)
    texts = texts_of(challenge, latest_settings(challenge))
    context |= {
        "target": target,
        "exists": found is not None,
        "changes": differences(kind, texts_of(found, latest_settings(found)), texts) if found else [],
        "begun": last_round_begun(found) if found else 0,
        "seen": latest_settings(found).version if found else 0,
    }
    return render(request, "teacher/settings_copy.html", context)


def _copy(
    source: ClassChallenge, target: Classroom, found: ClassChallenge | None, seen: int, user: Any
) -> bool:
    """Give the target the source's settings; False where its own were changed since they were shown."""
    texts = texts_of(source, latest_settings(source))
    if found is None:
        save_first(target, get_kind(source.kind), texts, Step.values, user)
        return True
    # Rounds that have begun there are not taken away.
    texts["rounds"] = str(max(int(texts["rounds"]), last_round_begun(found)))
    try:
        save_version(found, texts, seen, user)
    except StaleSettingsError:
        return False
    return True


# --- small things ----------------------------------------------------------------------------------------


def _status(request: AdultRequest | TeacherRequest) -> int:
    return 422 if request.method == "POST" else 200


def _zip(content: bytes, named_after: object) -> HttpResponse:
    """Return a copy to be saved, its name the class's or the child's without what could be part of a path."""
    words = " ".join(re.sub(r"[^\w -]", "", str(named_after)).split())
    name = f"{words} {timezone.localdate()}.zip".strip()
    response = HttpResponse(content, content_type="application/zip")
    response.headers["Content-Disposition"] = content_disposition_header(True, name) or "attachment"
    return response

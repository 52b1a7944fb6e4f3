"""A teacher's classes: the list, a class's own page, making, renaming, archiving, open joining."""

from __future__ import annotations

from django.contrib import messages
from django.db import IntegrityError, transaction
from django.db.models import Max
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from classroom import throttle
from classroom.access import AdultRequest, TeacherRequest, classrooms_of, signed_in, teacher_of_class
from classroom.addresses import recent_change
from classroom.codes import make_class_code
from classroom.forms.base import sent
from classroom.forms.classes import ClassForm
from classroom.models import Classroom, Membership
from classroom.overview import class_overview, class_rows
from classroom.ways import safe_path


@signed_in
def classes(request: AdultRequest) -> HttpResponse:
    archived = "archived" in request.GET
    context = {
        "rows": class_rows(classrooms_of(request.user, archived=archived)),
        "archived": archived,
        "archived_count": classrooms_of(request.user, archived=True).count(),
        "changed": recent_change(),
    }
    return render(request, "teacher/classes.html", context)


@signed_in
def class_new(request: AdultRequest) -> HttpResponse:
    form = ClassForm(sent(request))
    if request.method != "POST" or not form.is_valid():
        newest = request.POST.get("newest") or _newest(request)
        status = 422 if request.method == "POST" else 200
        return render(request, "teacher/class_new.html", {"form": form, "newest": newest}, status=status)
    name = form.cleaned_data["name"]
    classroom = _made_already(name, request) or _make_class(name, request)
    messages.success(request, _("The class %(name)s is made.") % {"name": classroom.name})
    return redirect("classroom:class_home", classroom.code)


def _newest(request: AdultRequest) -> int:
    """Return the teacher's newest class, by which a form that is sent twice is told from another class."""
    return request.user.memberships.aggregate(newest=Max("pk"))["newest"] or 0


def _made_already(name: str, request: AdultRequest) -> Classroom | None:
    """Return the class that this very form made when it was sent before."""
    seen = request.POST.get("newest", "")
    if not (seen.isascii() and seen.isdigit() and len(seen) < 18):
        return None
    made = request.user.memberships.filter(pk__gt=int(seen), classroom__name=name)
    membership = made.select_related("classroom").first()
    return membership.classroom if membership else None


def _make_class(name: str, request: AdultRequest) -> Classroom:
    for _turn in range(10):
        try:
            with transaction.atomic():
                classroom = Classroom.objects.create(name=name, code=make_class_code())
                Membership.objects.create(user=request.user, classroom=classroom)
        except IntegrityError:
            continue  # the code was taken: the next one will not be
        return classroom
    raise RuntimeError("No free class code in ten tries")


@teacher_of_class
def class_home(request: TeacherRequest) -> HttpResponse:
    context = {"classroom": request.classroom, "overview": class_overview(request.classroom)}
    context["turned_away"] = throttle.has_turned_away(request.classroom)
    return render(request, "teacher/class_home.html", context)


@teacher_of_class
def class_rename(request: TeacherRequest) -> HttpResponse:
    classroom = request.classroom
    form = ClassForm(sent(request), initial={"name": classroom.name})
    if request.method != "POST" or not form.is_valid():
        context = {"classroom": classroom, "form": form}
        status = 422 if request.method == "POST" else 200
        return render(request, "teacher/class_rename.html", context, status=status)
    classroom.name = form.cleaned_data["name"]
    classroom.save(update_fields=["name"])
    messages.success(request, _("The class is now called %(name)s.") % {"name": classroom.name})
    return redirect("classroom:class_home", classroom.code)


@teacher_of_class(archived=True)
def class_archive(request: TeacherRequest) -> HttpResponse:
    """Put a class away, or bring it back."""
    classroom = request.classroom
    away = classroom.archived_at is not None
    if request.method != "POST":
        context = {"classroom": classroom, "away": away, "cancel_url": reverse("classroom:classes")}
        return render(request, "teacher/class_archive.html", context)
    wanted = request.POST.get("archived") == "yes"
    if wanted != away:
        classroom.archived_at = timezone.now() if wanted else None
        classroom.joining_open = False
        classroom.save(update_fields=["archived_at", "joining_open"])
    if wanted:
        messages.success(
            request, _("%(name)s is in the archive. Nothing is lost.") % {"name": classroom.name}
        )
        return redirect("classroom:classes")
    messages.success(request, _("%(name)s is back.") % {"name": classroom.name})
    return redirect("classroom:class_home", classroom.code)


@teacher_of_class(substitute=True)
def joining(request: TeacherRequest) -> HttpResponse:
    """Open or close joining; opening begins the count of wrong codes anew."""
    classroom = request.classroom
    back = safe_path(request.POST.get("next", ""))
    if not back:
        place = "design_challenges:lessons" if request.substitute else "classroom:class_home"
        back = reverse(place, args=[classroom.code])
    if request.method == "POST":
        wanted = request.POST.get("open") == "yes"
        if wanted:
            throttle.unlock(classroom)
        if wanted != classroom.joining_open:
            classroom.joining_open = wanted
            if wanted:
                classroom.wrong_codes = 0
            classroom.save(update_fields=["joining_open", "wrong_codes"])
        messages.success(
            request,
            _("Joining is open: tablets can come in.") if wanted else _("Joining is closed."),
        )
    return redirect(back)

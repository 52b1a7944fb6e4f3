"""The children of a class: pasting and previewing names, typing one, editing, marking as left."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.db.models import Max
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from classroom import roster
from classroom.access import TeacherRequest, teacher_of_class
from classroom.forms.base import sent
from classroom.forms.students import OneStudentForm, PasteForm, Rows, StudentForm
from classroom.models import Classroom, Student
from classroom.teaming import seating, tell_everyone


def _known(request: TeacherRequest, *, but: int = 0) -> list[roster.Name]:
    """Return the names of the children who are in the class now."""
    rows = request.classroom.students.filter(left_at__isnull=True).exclude(pk=but)
    return [roster.Name(*row) for row in rows.values_list("given_name", "initial")]


def _student(request: TeacherRequest, pk: int) -> Student:
    return get_object_or_404(Student, pk=pk, classroom=request.classroom)


@teacher_of_class
def students(request: TeacherRequest) -> HttpResponse:
    seats = seating(request.classroom)
    names = {team.pk: team.name for team in seats.teams}
    here = request.classroom.students.filter(left_at__isnull=True)
    context = {
        "classroom": request.classroom,
        "to_seat": bool(seats.without),
        "rows": [(student, names.get(seats.team_of.get(student.pk) or 0, "")) for student in here],
        "gone": request.classroom.students.filter(left_at__isnull=False),
        "paste": PasteForm(),
        "one": OneStudentForm(auto_id="one_%s"),
        "newest": _newest(request),
    }
    return render(request, "teacher/students.html", context)


@teacher_of_class
def students_paste(request: TeacherRequest) -> HttpResponse:
    """Show what was read from a pasted list, for the teacher to check."""
    form = PasteForm(sent(request))
    context: dict[str, Any] = {"classroom": request.classroom, "form": form}
    if not form.is_valid():
        status = 422 if request.method == "POST" else 200
        return render(request, "teacher/students_paste.html", context, status=status)
    marks = roster.doubles(form.found, _known(request))
    rows = Rows(
        initial=[
            {"given_name": name.given_name, "initial": name.initial, "add": mark != "known"}
            for name, mark in zip(form.found, marks, strict=True)
        ]
    )
    return _preview(request, rows, marks, skipped=form.skipped)


def _preview(
    request: TeacherRequest, rows: Any, marks: list[str], *, skipped: Sequence[str] = (), status: int = 200
) -> HttpResponse:
    context = {
        "classroom": request.classroom,
        "rows": rows,
        "pairs": list(zip(rows.forms, marks, strict=True)),
        "known": marks.count("known"),
        "twice": marks.count("twice"),
        "skipped": skipped,
        "newest": request.POST.get("newest") if rows.is_bound else _newest(request),
    }
    return render(request, "teacher/students_preview.html", context, status=status)


@teacher_of_class
def students_add(request: TeacherRequest) -> HttpResponse:
    """Add the rows of the preview that are ticked."""
    data = sent(request)
    if data is None:
        return redirect("classroom:students_paste", request.classroom.code)
    rows = Rows(data)
    valid = rows.is_valid()
    if not valid or request.method != "POST":
        typed = [
            roster.Name(row["given_name"].value() or "", roster.tidy_initial(row["initial"].value() or ""))
            for row in rows.forms
        ]
        marks = roster.doubles(typed, _known(request))
        return _preview(request, rows, marks, status=200 if valid else 422)
    ticked = [row.cleaned_data for row in rows.forms if row.cleaned_data.get("add")]
    wanted = [roster.Name(row["given_name"], row["initial"]) for row in ticked]
    added = len(_add(request, wanted))
    if added < len(wanted):
        messages.info(request, _("Some names were there already; those were not added a second time."))
    messages.success(
        request,
        ngettext("%(count)d child is added.", "%(count)d children are added.", added) % {"count": added},
    )
    return redirect("classroom:students", request.classroom.code)


def _newest(request: TeacherRequest) -> int:
    """Return the newest child's id, by which a form that is sent twice is told from another child."""
    return request.classroom.students.aggregate(newest=Max("pk"))["newest"] or 0


def _add(request: TeacherRequest, wanted: list[roster.Name]) -> list[Student]:
    """Add children, except those who were added since the form was shown: sent twice it counts once."""
    typed = request.POST.get("newest", "")
    newest = int(typed) if typed.isascii() and typed.isdigit() and len(typed) < 18 else 0
    with transaction.atomic():
        Classroom.objects.select_for_update().get(pk=request.classroom.pk)
        since = {
            roster.name_key(*row)
            for row in request.classroom.students.filter(pk__gt=newest).values_list("given_name", "initial")
        }
        made = [
            Student.objects.create(
                classroom=request.classroom, given_name=name.given_name, initial=name.initial
            )
            for name in wanted
            if name.key not in since
        ]
        tell_everyone(request.classroom)
    return made


@teacher_of_class
def student_new(request: TeacherRequest) -> HttpResponse:
    """Add one child; a name that is there already is asked about once."""
    form = OneStudentForm(sent(request))
    name = form.name() if form.is_valid() else None
    double = name is not None and name.key in {other.key for other in _known(request)}
    if name is not None and request.method == "POST" and (not double or form.cleaned_data["same_name"]):
        _add(request, [name])
        messages.success(request, _("%(name)s is in the class.") % {"name": name.shown})
        return redirect("classroom:students", request.classroom.code)
    context = {
        "classroom": request.classroom,
        "form": form,
        "double": name if double else None,
        "newest": request.POST.get("newest") or _newest(request),
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "teacher/student_new.html", context, status=status)


@teacher_of_class
def student_edit(request: TeacherRequest, pk: int) -> HttpResponse:
    student = _student(request, pk)
    initial = {"given_name": student.given_name, "initial": student.initial}
    form = StudentForm(sent(request), initial=initial)
    if request.method != "POST" or not form.is_valid():
        context = {"classroom": request.classroom, "student": student, "form": form}
        return render(
            request, "teacher/student_edit.html", context, status=422 if request.method == "POST" else 200
        )
    name = form.name()
    with transaction.atomic():
        student.given_name, student.initial = name.given_name, name.initial
        student.save(update_fields=["given_name", "initial"])
        tell_everyone(request.classroom)
    if name.key in {other.key for other in _known(request, but=student.pk)}:
        messages.warning(
            request,
            _("There are now two children called %(name)s. Add a second letter to tell them apart.")
            % {"name": name.shown},
        )
    else:
        messages.success(request, _("%(name)s is saved.") % {"name": name.shown})
    return redirect("classroom:students", request.classroom.code)


@teacher_of_class
def student_left(request: TeacherRequest, pk: int) -> HttpResponse:
    """Mark a child as having left the class, or as being back; the work stays either way."""
    student = _student(request, pk)
    if request.method != "POST":
        context = {
            "classroom": request.classroom,
            "student": student,
            "cancel_url": reverse("classroom:students", args=[request.classroom.code]),
        }
        return render(request, "teacher/student_left.html", context)
    left = request.POST.get("left") == "yes"
    if left != (student.left_at is not None):
        with transaction.atomic():
            student.left_at = timezone.now() if left else None
            student.save(update_fields=["left_at"])
            tell_everyone(request.classroom)
    said = _("%(name)s has left the class. The work stays.") if left else _("%(name)s is back in the class.")
    messages.success(request, said % {"name": student})
    return redirect("classroom:students", request.classroom.code)

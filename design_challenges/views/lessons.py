"""Lessons: start, who is here, end, and where everyone was."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from classroom.access import TeacherRequest, teacher_of_class
from classroom.whole import whole_number
from design_challenges.services import lessons as service
from design_challenges.services.records import find_challenge, load_class


@require_GET
@teacher_of_class(substitute=True)
def lessons(request: TeacherRequest) -> HttpResponse:
    """The lesson that is on, or the button that starts one, and the earlier ones."""
    classroom = request.classroom
    lesson = service.open_lesson(classroom)
    challenge = find_challenge(classroom)
    absent = service.absent_students(classroom)
    students = [
        {"student": student, "absent": student.pk in absent}
        for student in classroom.students.filter(left_at__isnull=True)
    ]
    context = {
        "classroom": classroom,
        "substitute": request.substitute,
        "lesson": lesson,
        "earlier": classroom.lessons.filter(ended_at__isnull=False).order_by("-number"),
        "last": service.last_report(classroom),
        "places": service.places(load_class(challenge)) if challenge is not None else [],
        "students": students,
        "attendance_taken": lesson is not None and lesson.attendance.exists(),
    }
    return render(request, "teacher/lessons.html", context)


@require_POST
@teacher_of_class(substitute=True)
def start(request: TeacherRequest) -> HttpResponse:
    """Start a lesson; joining is open from now on."""
    service.start_lesson(request.classroom, request.by_user)
    messages.success(request, _("The lesson has started. Teams can join."))
    return redirect("design_challenges:lessons", request.classroom.code)


@require_http_methods(["GET", "POST"])
@teacher_of_class(substitute=True)
def end(request: TeacherRequest) -> HttpResponse:
    """Ask, then end the lesson and show where each team is."""
    lesson = service.open_lesson(request.classroom)
    if lesson is None:
        return redirect("design_challenges:lessons", request.classroom.code)
    if request.method == "POST":
        service.end_lesson(lesson)
        return redirect("design_challenges:lesson_report", request.classroom.code, lesson.number)
    context = {"classroom": request.classroom, "substitute": request.substitute, "lesson": lesson}
    return render(request, "teacher/lesson_end.html", context)


@require_POST
@teacher_of_class(substitute=True)
def attendance(request: TeacherRequest) -> HttpResponse:
    """Note who is here."""
    lesson = service.open_lesson(request.classroom)
    if lesson is None:
        messages.warning(request, _("No lesson is on. Start one, then say who is here."))
        return redirect("design_challenges:lessons", request.classroom.code)
    typed = map(whole_number, request.POST.getlist("present"))
    present = {pk for pk in typed if pk is not None}
    service.save_attendance(lesson, present)
    messages.success(request, _("Saved who is here."))
    return redirect("design_challenges:lessons", request.classroom.code)


@require_GET
@teacher_of_class(substitute=True)
def report(request: TeacherRequest, number: int) -> HttpResponse:
    """Where each team was at the end of a lesson, and who drops first next; made to be printed."""
    lesson = get_object_or_404(
        request.classroom.lessons.filter(ended_at__isnull=False).select_related("started_by"), number=number
    )
    context = {"classroom": request.classroom, "substitute": request.substitute, "lesson": lesson}
    return render(request, "teacher/lesson_report.html", context)

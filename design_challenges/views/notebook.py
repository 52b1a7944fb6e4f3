"""Printed records of teams and children, letters to families, and the class report: the teacher's alone."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from classroom.access import TeacherRequest, teacher_of_class
from classroom.models import Student
from design_challenges.services.class_report import build_report
from design_challenges.services.notebook import ClassNotebook, Notebook
from design_challenges.services.records import find_challenge, load_class
from design_challenges.views.printing import paper_context


@require_safe
@never_cache
@teacher_of_class
def teams(request: TeacherRequest) -> HttpResponse:
    """Every team's record."""
    book = _book(request)
    return _notebooks(request, book, [book.of_team(team) for team in book.teams], _("Records of the teams"))


@require_safe
@never_cache
@teacher_of_class
def team(request: TeacherRequest, team_id: int) -> HttpResponse:
    """One team's record."""
    book = _book(request)
    found = next((record for record in book.teams if record.team.pk == team_id), None)
    if found is None:
        raise Http404
    return _notebooks(request, book, [book.of_team(found)], found.team.name)


@require_safe
@never_cache
@teacher_of_class
def children(request: TeacherRequest) -> HttpResponse:
    """Every child's record."""
    book = _book(request)
    found = [book.of_child(student) for student in book.children()]
    return _notebooks(request, book, found, _("Records of the children"))


@require_safe
@never_cache
@teacher_of_class
def child(request: TeacherRequest, student_id: int) -> HttpResponse:
    """One child's record."""
    book = _book(request)
    student = _student(book, student_id)
    return _notebooks(request, book, [book.of_child(student)], str(student))


@require_safe
@never_cache
@teacher_of_class
def letters(request: TeacherRequest) -> HttpResponse:
    """A letter for every child's family."""
    book = _book(request)
    return _letters(request, book, book.children(), _("Letters to families"))


@require_safe
@never_cache
@teacher_of_class
def letter(request: TeacherRequest, student_id: int) -> HttpResponse:
    """The letter for one child's family."""
    book = _book(request)
    student = _student(book, student_id)
    return _letters(request, book, [student], _("Letter about %(child)s") % {"child": student})


@require_safe
@never_cache
@teacher_of_class
def report(request: TeacherRequest) -> HttpResponse:
    """The class report for the teacher's file."""
    challenge = find_challenge(request.classroom)
    if challenge is None:
        raise Http404
    klass = load_class(challenge)
    context = {
        **_context(request, klass.settings.unit_system),
        "klass": klass,
        "report": build_report(klass),
    }
    return render(request, "print/class_report.html", context)


def _notebooks(
    request: TeacherRequest, book: ClassNotebook, notebooks: list[Notebook], title: str
) -> HttpResponse:
    context = {
        **_context(request, book.klass.settings.unit_system),
        "notebooks": notebooks,
        "heading": title,
        "kind": book.klass.kind,
    }
    return render(request, "print/notebook.html", context)


def _letters(
    request: TeacherRequest, book: ClassNotebook, students: list[Student], title: str
) -> HttpResponse:
    words, performance = book.klass.kind.family_words, book.klass.kind.performance(book.klass.values)
    context = {
        **_context(request, book.klass.settings.unit_system),
        "letters": [book.letter(student) for student in students],
        "heading": title,
        "words": words,
        "kind": book.klass.kind,
        "performance": performance,
        "figure_means": words.figure_lower if performance.lower_is_better else words.figure_higher,
    }
    return render(request, "print/letters.html", context)


def _book(request: TeacherRequest) -> ClassNotebook:
    challenge = find_challenge(request.classroom)
    if challenge is None:
        raise Http404
    return ClassNotebook(load_class(challenge, include_retired=True))


def _student(book: ClassNotebook, student_id: int) -> Student:
    """Return a child of the class who is, or was, in a team."""
    found = next((student for student in book.children() if student.pk == student_id), None)
    if found is None:
        raise Http404
    return found


def _context(request: TeacherRequest, unit_system: str) -> dict[str, Any]:
    return {
        "classroom": request.classroom,
        "back_url": reverse("design_challenges:paper", args=[request.classroom.code]),
        **paper_context(request, unit_system),
    }

"""The rubric of a class: begin with one, look at it, change it, keep it, and how two markers agree."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from classroom.access import TeacherRequest, teacher_of_class
from classroom.forms.base import sent
from design_challenges.forms.marking import NameForm, StartRubricForm, criteria_formset
from design_challenges.models import ClassChallenge, Rubric
from design_challenges.services.marking import rubrics
from design_challenges.services.marking.both import compare_markers
from design_challenges.services.marking.rules import RULES
from design_challenges.services.marking.standards import is_beyond, known
from design_challenges.services.marks import find_rubric
from design_challenges.services.records import find_challenge, load_class
from design_challenges.views.marking import teacher


@require_POST
@teacher_of_class
def rubric_begin(request: TeacherRequest) -> HttpResponse:
    """Begin with the usual rubric of a grade, or with one that the teacher keeps."""
    challenge = _challenge(request)
    form = StartRubricForm(request.POST, rubrics.kept_by(teacher(request)))
    if not form.is_valid():
        context = {"classroom": request.classroom, "form": form, "rubric": find_rubric(challenge)}
        return render(request, "teacher/marking_begin.html", context, status=422)
    sort, _dash, which = form.cleaned_data["start"].partition("-")
    if sort == "grade":
        rubrics.start_usual(challenge, int(which), request.by_user)
    else:
        kept = get_object_or_404(Rubric, pk=which, owner=teacher(request))
        rubrics.copy_rubric(challenge, kept, request.by_user)
    messages.success(request, _("The class has its rubric. You can change every word of it."))
    return redirect("design_challenges:rubric", request.classroom.code)


@require_GET
@never_cache
@teacher_of_class
def rubric(request: TeacherRequest) -> HttpResponse:
    """The rubric in words, with its standards and the rules that suggest a level."""
    challenge = find_challenge(request.classroom)
    found = find_rubric(challenge) if challenge else None
    if found is None:
        return redirect("design_challenges:marking", request.classroom.code)
    context = {
        "classroom": request.classroom,
        "rubric": found,
        "criteria": _told(found),
        "name_form": NameForm(initial={"name": found.name}),
        "start": StartRubricForm(None, rubrics.kept_by(teacher(request))),
    }
    return render(request, "teacher/rubric.html", context)


def _told(found: Rubric) -> list[dict[str, Any]]:
    """Return the criteria with what their codes are about and their rules, graded ones first."""
    told = []
    for criterion in found.criteria.all():
        codes, rule = criterion.codes.split(), RULES.get(criterion.evidence)
        told.append(
            {
                "criterion": criterion,
                "standards": known(codes),
                "own_codes": [code for code in codes if not known([code])],
                "beyond": is_beyond(codes, found.grade),
                "rule": rule,
                "left": rule.left_of(criterion.codes.split()) if rule else [],
            }
        )
    return sorted(told, key=lambda one: not one["criterion"].graded)


@require_http_methods(["GET", "POST"])
@teacher_of_class
def rubric_change(request: TeacherRequest) -> HttpResponse:
    """Change a rubric's words and weights; marks that were given stay."""
    challenge = _challenge(request)
    found = find_rubric(challenge)
    if found is None:
        return redirect("design_challenges:marking", request.classroom.code)
    drafts = [rubrics.draft_of(criterion) for criterion in found.criteria.all()]
    formset = criteria_formset(sent(request), drafts)
    if request.method == "POST" and formset.is_valid():
        rubrics.save_version(challenge, found.name, found.grade, formset.drafts(), request.by_user)
        messages.success(request, _("The rubric is saved. Marks that were given stay as they are."))
        return redirect("design_challenges:rubric", request.classroom.code)
    context = {
        "classroom": request.classroom,
        "rubric": found,
        "formset": formset,
        "forms": [formset],
        "held": request.held,
    }
    return render(
        request, "teacher/rubric_change.html", context, status=422 if request.method == "POST" else 200
    )


@require_POST
@teacher_of_class
def rubric_keep(request: TeacherRequest) -> HttpResponse:
    """Keep the class's rubric as the teacher's own."""
    found = find_rubric(_challenge(request))
    if found is None:
        raise Http404
    form = NameForm(request.POST)
    if not form.is_valid():
        context = {
            "classroom": request.classroom,
            "rubric": found,
            "criteria": _told(found),
            "name_form": form,
            "start": StartRubricForm(None, rubrics.kept_by(teacher(request))),
        }
        return render(request, "teacher/rubric.html", context, status=422)
    rubrics.keep(found, teacher(request), form.cleaned_data["name"])
    messages.success(
        request, _("“%(name)s” is kept. You can begin with it in any class.") % form.cleaned_data
    )
    return redirect("design_challenges:rubric", request.classroom.code)


@require_GET
@never_cache
@teacher_of_class
def agreement(request: TeacherRequest) -> HttpResponse:
    """How far the second marking agrees with the first."""
    challenge = find_challenge(request.classroom)
    compared = compare_markers(load_class(challenge)) if challenge else None
    if compared is None:
        return redirect("design_challenges:marking", request.classroom.code)
    context = {"classroom": request.classroom, "compared": compared}
    return render(request, "teacher/agreement.html", context)


def _challenge(request: TeacherRequest) -> ClassChallenge:
    challenge = find_challenge(request.classroom)
    if challenge is None:
        raise Http404
    return challenge

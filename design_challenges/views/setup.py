"""The set-up of a challenge for a class: the first version, later ones, and what each of them changed."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from classroom.access import TeacherRequest, teacher_of_class
from classroom.forms.base import sent
from design_challenges.forms.settings import SettingsForm, StartForm
from design_challenges.kinds import KINDS, get_kind
from design_challenges.kinds.base import Kind
from design_challenges.models import ClassChallenge
from design_challenges.services import setup
from design_challenges.services.records import find_challenge, latest_settings
from design_challenges.services.units import SYSTEMS
from design_challenges.steps import Step


@teacher_of_class
def challenge_settings(request: TeacherRequest) -> HttpResponse:
    """Show the settings as they stand; for a class without a challenge, set one up."""
    challenge = find_challenge(request.classroom)
    if challenge is None:
        return _first_setup(request)
    if request.method == "POST":
        return redirect("design_challenges:challenge_settings", request.classroom.code)  # sent twice
    kind = get_kind(challenge.kind)
    texts = setup.texts_of(challenge, latest_settings(challenge))
    context = {
        "classroom": request.classroom,
        "kind": kind,
        "settings": latest_settings(challenge),
        "system": SYSTEMS[texts["unit_system"]],
        "groups": setup.told_by_group(kind, texts),
        "history": setup.history(challenge),
        **_told(kind, texts),
    }
    return render(request, "teacher/settings.html", context)


def _told(kind: Kind, texts: setup.Texts) -> dict[str, Any]:
    """Return what the kind says about settings: advice, and what the limit allows."""
    values = setup.values_of(kind, texts)
    return {"advice": kind.advice(values), "allowance": kind.allowance(values)}


# --- the first version -----------------------------------------------------------------------


def _first_setup(request: TeacherRequest) -> HttpResponse:
    data = sent(request)
    kind = _chosen_kind(data)
    usual = {"kind": kind.slug, "unit_system": next(iter(SYSTEMS)), "preset": kind.presets[0].slug}
    start = StartForm(kind, data, initial=usual)
    context: dict[str, Any] = {"classroom": request.classroom, "kind": kind, "start": start, "first": True}
    if data is None or not start.is_valid():
        status = 422 if request.method == "POST" else 200
        return render(request, "teacher/settings_start.html", context, status=status)
    unit_system, preset = start.cleaned_data["unit_system"], start.cleaned_data["preset"]
    if "usual" in data and request.method == "POST":
        return _save_first(request, kind, setup.usual_texts(kind, unit_system, preset), Step.values)
    form = _filled_form(request, data, start, kind, first=True)
    if form.is_bound and form.is_valid() and "save" in data and request.method == "POST":
        return _save_first(request, kind, form.texts(), form.cleaned_data["open_steps"])
    return _show_form(request, form, start, context)


def _chosen_kind(data: QueryDict | None) -> Kind:
    wanted = data.get("kind", "") if data is not None else ""
    return KINDS.get(wanted) or next(iter(KINDS.values()))


def _save_first(
    request: TeacherRequest, kind: Kind, texts: setup.Texts, open_steps: list[str]
) -> HttpResponse:
    setup.save_first(request.classroom, kind, texts, open_steps, request.by_user)
    messages.success(request, _("The challenge is set up. Print the team cards next, or open joining."))
    return redirect("design_challenges:challenge_settings", request.classroom.code)


# --- the form itself -------------------------------------------------------------------------


def _filled_form(
    request: TeacherRequest, data: QueryDict, start: StartForm, kind: Kind, **options: Any
) -> SettingsForm:
    """Return the form as typed; where units or preset were switched, with the usual values instead."""
    unit_system, preset = start.cleaned_data["unit_system"], start.cleaned_data["preset"]
    if data.get("filled_for") == f"{unit_system} {preset}" and "refill" not in data:
        return SettingsForm(kind, unit_system, data, **options)
    typed = {name: data.get(name, "") for name in data}
    initial: dict[str, Any] = dict(setup.refill(kind, typed, unit_system, preset))
    if "filled_for" in data:
        initial["open_steps"] = data.getlist("open_steps")
    return SettingsForm(kind, unit_system, initial=initial, **options)


def _show_form(
    request: TeacherRequest, form: SettingsForm, start: StartForm, context: dict[str, Any]
) -> HttpResponse:
    """Show all settings: with what must be put right, or refilled, or with what they allow."""
    wrong = form.is_bound and not form.is_valid()
    texts = form.texts() if form.is_bound and not wrong else None if wrong else _initial_texts(form)
    context |= {
        "form": form,
        "start": start,
        "filled_for": f"{start['unit_system'].value()} {start['preset'].value()}",
        "refilled": not form.is_bound and request.POST.get("filled_for"),
    }
    if texts is not None:
        context |= _told(form.kind, texts)
    if request.htmx and "look" in request.POST:
        # Numbers half typed say nothing yet, and what was said before stays.
        if texts is None:
            return HttpResponse(status=204)
        return render(request, "teacher/_settings_allowance.html", context | {"live": True})
    status = 422 if wrong and request.method == "POST" else 200
    return render(request, "teacher/settings_form.html", context, status=status)


def _initial_texts(form: SettingsForm) -> dict[str, str]:
    """Return the settings a fresh form shows; a number typed badly before a switch is left to the form."""
    again = SettingsForm(form.kind, form.unit_system, {**form.initial, "open_steps": []})
    if again.is_valid():
        return again.texts()
    return setup.usual_texts(form.kind, form.unit_system, form.kind.presets[0].slug)


# --- later versions --------------------------------------------------------------------------


@teacher_of_class
def settings_change(request: TeacherRequest) -> HttpResponse:
    """Change the settings: what differs and for whom is shown first, and saved once it is confirmed."""
    challenge = find_challenge(request.classroom)
    if challenge is None:
        return redirect("design_challenges:challenge_settings", request.classroom.code)
    kind = get_kind(challenge.kind)
    newest = latest_settings(challenge)
    stored = setup.texts_of(challenge, newest)
    begun = setup.rounds_begun(challenge)
    least_rounds = max((row.number for row in begun), default=1)
    now = {"kind": kind.slug, "unit_system": newest.unit_system, "preset": setup.preset_of(kind, stored)}
    data = sent(request)
    start = StartForm(kind, data if data is not None else now)
    context: dict[str, Any] = {
        "classroom": request.classroom,
        "kind": kind,
        "start": start,
        "seen": data.get("seen", newest.version) if data is not None else newest.version,
        "begun": begun,
    }
    if not start.is_valid():
        form = SettingsForm(kind, newest.unit_system, initial=stored, least_rounds=least_rounds)
        return render(request, "teacher/settings_form.html", context | {"form": form}, status=422)
    if data is None:
        form = SettingsForm(kind, newest.unit_system, initial=stored, least_rounds=least_rounds)
        return _show_form(request, form, start, context)
    form = _filled_form(request, data, start, kind, least_rounds=least_rounds)
    ready = form.is_bound and form.is_valid() and request.method == "POST"
    if not ready or not ("save" in data or "confirm" in data):
        return _show_form(request, form, start, context)
    return _confirm_or_save(request, challenge, form, context)


def _confirm_or_save(
    request: TeacherRequest, challenge: ClassChallenge, form: SettingsForm, context: dict[str, Any]
) -> HttpResponse:
    texts, newest = form.texts(), latest_settings(challenge)
    changes = setup.differences(form.kind, setup.texts_of(challenge, newest), texts)
    overview = reverse("design_challenges:challenge_settings", args=[request.classroom.code])
    if not changes:
        messages.info(request, _("Nothing was changed: these are the settings as they stand."))
        return redirect(overview)
    stale = str(context["seen"]) != str(newest.version)
    if "confirm" in request.POST and not stale:
        try:
            setup.save_version(challenge, texts, newest.version, request.by_user)
        except setup.StaleSettingsError:
            challenge.newest_settings = None
            return _confirm_or_save(request, challenge, form, context)
        messages.success(request, _("Saved. Rounds that begin from now on use these settings."))
        return redirect(overview)
    context |= {
        "form": form,
        "filled_for": f"{texts['unit_system']} {context['start']['preset'].value()}",
        "changes": changes,
        "stale": stale,
        "seen": newest.version,
        "kept": [(name, value) for name, value in texts.items() if name != "unit_system"],
        **_told(form.kind, texts),
    }
    return render(request, "teacher/settings_confirm.html", context)

"""The technician's pages: a school's whole roster into many classes; for staff accounts alone."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.datastructures import MultiValueDict
from django.utils.translation import gettext as _

from classroom.access import AdultRequest, technician
from classroom.forms.base import sent
from classroom.forms.rosters import RosterFileForm
from classroom.forms.technician import PlacesForm
from classroom.rosters.carried import pack, unpack
from classroom.rosters.faults import RosterError
from classroom.rosters.oneroster import Package
from classroom.rosters.school import NEW, bring_in, likely_places, matches
from classroom.rosters.source import open_roster, too_large
from classroom.uploads import MOST_UPLOADED

NO_CLASS = 0
"""What a package is packed for that belongs to no class."""


@technician
def school_roster(request: AdultRequest) -> HttpResponse:
    """Take a school's package and show its classes."""
    if request.method != "POST":
        return _file_page(request, RosterFileForm())
    form = RosterFileForm(request.POST, request.FILES)
    try:
        if int(request.META.get("CONTENT_LENGTH") or 0) > MOST_UPLOADED:
            raise too_large()
        if not form.is_valid():
            return _file_page(request, form, status=422)
        with form.cleaned_data["file"] as file:
            found = open_roster(file.read(), timezone.localdate())
        if not isinstance(found, Package):
            raise RosterError(_("This is one list, not a OneRoster package. Its teacher brings it in."))
        if not found.classes:
            raise RosterError(_("There is no class in the package. Ask for one with classes.csv filled in."))
        return _places_page(request, found, PlacesForm(None, found, likely_places(found)))
    except RosterError as error:
        return _refused(request, error)


@technician
def school_places(request: AdultRequest) -> HttpResponse:
    """Show what the chosen places would change, and after one more button bring everything in."""
    data = sent(request)
    if data is None:
        return redirect("classroom:school_roster")
    try:
        package = unpack(data.get("carried", ""), NO_CLASS)
        if not isinstance(package, Package):
            return redirect("classroom:school_roster")
        form = PlacesForm(data, package, {})
        if not form.is_valid():
            return _places_page(request, package, form, status=422)
        found = matches(package, form.places())
        if request.method != "POST" or data.get("sure") != "yes":
            context = {
                "found": [match for match in found if match.place],
                "new": NEW,
                "hidden": [(name, data.get(name, "")) for name in form.fields],
                "faults": package.faults,
                "carried": pack(package, NO_CLASS),
            }
            return render(request, "teacher/school_check.html", context)
        classes, done = bring_in(found, form.cleaned_data["teacher"] or request.user)
    except RosterError as error:
        return _refused(request, error)
    messages.success(
        request,
        _("%(classes)d classes up to date: %(added)d added, %(changed)d changed, %(left)d marked as left.")
        % {"classes": classes, "added": done.added, "changed": done.changed, "left": done.left},
    )
    return redirect("classroom:school_roster")


def _file_page(request: AdultRequest, form: RosterFileForm, *, status: int = 200) -> HttpResponse:
    return render(request, "teacher/school_roster.html", {"form": form}, status=status)


def _refused(request: AdultRequest, error: RosterError) -> HttpResponse:
    form = RosterFileForm({}, MultiValueDict())
    form.errors.clear()
    form.add_error("file", str(error))
    return _file_page(request, form, status=422)


def _places_page(
    request: AdultRequest, package: Package, form: PlacesForm, *, status: int = 200
) -> HttpResponse:
    context: dict[str, Any] = {"form": form, "package": package, "carried": pack(package, NO_CLASS)}
    return render(request, "teacher/school_places.html", context, status=status)

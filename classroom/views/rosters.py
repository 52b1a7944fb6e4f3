"""A roster file brought into a class: choose it, match its columns or class, look, and one button."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.datastructures import MultiValueDict
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from classroom.access import TeacherRequest, teacher_of_class
from classroom.forms.base import sent
from classroom.forms.rosters import ColumnsForm, RosterFileForm, WhichClassForm
from classroom.rosters.apply import SourceIds, apply_roster, plan_for, source_of
from classroom.rosters.carried import Carried, Chosen, pack, unpack
from classroom.rosters.children import groups_of, read_children
from classroom.rosters.columns import Columns, guess
from classroom.rosters.faults import RosterError
from classroom.rosters.oneroster import Package, RosterClass
from classroom.rosters.source import open_roster, too_large
from classroom.rosters.table import Table
from classroom.uploads import MOST_UPLOADED

SHOWN = 300
"""As many names of a sort as a preview lists; a whole school in one class is told by its number."""
ALL_GROUPS = "*"
SAMPLE_ROWS = 4


@teacher_of_class
def roster_file(request: TeacherRequest) -> HttpResponse:
    """Take a file and show the next page that it needs."""
    if request.method != "POST":
        return _file_page(request, RosterFileForm())
    form = RosterFileForm(request.POST, request.FILES)
    try:
        if int(request.META.get("CONTENT_LENGTH") or 0) > MOST_UPLOADED:
            raise too_large()
        if not form.is_valid():
            return _file_page(request, form, status=422)
        # Closing it takes away what a large file has left in a temporary place.
        with form.cleaned_data["file"] as file:
            data = file.read()
        found = open_roster(data, timezone.localdate())
        if isinstance(found, Table):
            return _columns_page(request, found, ColumnsForm(None, found, guess(found)))
        return _package_page(request, found)
    except RosterError as error:
        return _refused(request, error)


@teacher_of_class
def roster_columns(request: TeacherRequest) -> HttpResponse:
    """Read a table by the columns that were matched."""
    data = sent(request)
    if data is None:
        return redirect("classroom:roster_file", request.classroom.code)
    try:
        table = _unpacked(request, data)
        if not isinstance(table, Table):
            return redirect("classroom:roster_file", request.classroom.code)
        form = ColumnsForm(data, table, Columns())
        if not form.is_valid():
            return _columns_page(request, table, form, status=422)
        columns, headed = form.columns(), form.headed_table()
        groups = groups_of(headed, columns)
        if groups:
            choices = [(name, _counted(name, count)) for name, count in groups]
            choices.append((ALL_GROUPS, _("All of them, as one class")))
            which = WhichClassForm(None, choices, _likely(request, dict(groups)))
            return _class_page(request, table, which, form)
        return _preview(request, _chosen_rows(headed, columns))
    except RosterError as error:
        return _refused(request, error)


@teacher_of_class
def roster_class(request: TeacherRequest) -> HttpResponse:
    """Take the class of a package, or the group of a table, that was chosen."""
    data = sent(request)
    if data is None:
        return redirect("classroom:roster_file", request.classroom.code)
    try:
        carried = _unpacked(request, data)
        if isinstance(carried, Package):
            which = WhichClassForm(data, _class_choices(carried))
            if not which.is_valid():
                return _class_page(request, carried, which, status=422)
            group = carried.find(which.cleaned_data["which"])[0]
            return _preview(request, _chosen_class(carried, group))
        if not isinstance(carried, Table):
            return redirect("classroom:roster_file", request.classroom.code)
        form = ColumnsForm(data, carried, Columns())
        if not form.is_valid():
            return _columns_page(request, carried, form, status=422)
        headed = form.headed_table()
        groups = groups_of(headed, form.columns())
        choices = [(name, _counted(name, count)) for name, count in groups]
        which = WhichClassForm(data, [*choices, (ALL_GROUPS, _("All of them, as one class"))])
        if not which.is_valid():
            return _class_page(request, carried, which, form, status=422)
        name = which.cleaned_data["which"]
        return _preview(request, _chosen_rows(headed, form.columns(), "" if name == ALL_GROUPS else name))
    except RosterError as error:
        return _refused(request, error)


@teacher_of_class
def roster_add(request: TeacherRequest) -> HttpResponse:
    """Bring the class up to what the preview showed."""
    data = sent(request)
    if data is None:
        return redirect("classroom:roster_file", request.classroom.code)
    try:
        chosen = _unpacked(request, data)
    except RosterError as error:
        return _refused(request, error)
    if not isinstance(chosen, Chosen):
        return redirect("classroom:roster_file", request.classroom.code)
    if request.method != "POST":
        return _preview(request, chosen, ticked=data)
    done = apply_roster(
        request.classroom,
        chosen.children,
        change=_numbers(data, "change"),
        leave=_numbers(data, "leave"),
        source=chosen.source,
    )
    parts = [
        ngettext("%(count)d child added", "%(count)d children added", done.added) % {"count": done.added},
        _("%(count)d changed") % {"count": done.changed},
        _("%(count)d marked as left") % {"count": done.left},
    ]
    messages.success(request, _("The class is up to date: %(what)s.") % {"what": ", ".join(parts)})
    return redirect("classroom:students", request.classroom.code)


# --- pages ---------------------------------------------------------------------------------------


def _file_page(request: TeacherRequest, form: RosterFileForm, *, status: int = 200) -> HttpResponse:
    context = {"classroom": request.classroom, "form": form}
    return render(request, "teacher/roster_file.html", context, status=status)


def _refused(request: TeacherRequest, error: RosterError) -> HttpResponse:
    """Show the first page again, with what is the matter with the file beside its field."""
    form = RosterFileForm({}, MultiValueDict())
    form.errors.clear()
    form.add_error("file", str(error))
    return _file_page(request, form, status=422)


def _columns_page(
    request: TeacherRequest, table: Table, form: ColumnsForm, *, status: int = 200
) -> HttpResponse:
    context = {
        "classroom": request.classroom,
        "form": form,
        "table": table,
        "sample": [
            [row.cell(place) for place in range(len(table.headings))] for row in table.rows[:SAMPLE_ROWS]
        ],
        "carried": pack(table, request.classroom.pk),
    }
    return render(request, "teacher/roster_columns.html", context, status=status)


def _package_page(request: TeacherRequest, package: Package) -> HttpResponse:
    """Show the preview of the class that came from this roster before, or ask which class it is."""
    known = source_of(request.classroom)
    same = [group for group in package.classes if known and group.source_id == known.source_id]
    if same or len(package.classes) == 1:
        return _preview(request, _chosen_class(package, (same or package.classes)[0]))
    if not package.classes:
        raise RosterError(_("There is no class in the package. Ask for one with classes.csv filled in."))
    titles = {group.title: group.source_id for group in package.classes}
    likely = titles.get(request.classroom.name, "")
    return _class_page(request, package, WhichClassForm(None, _class_choices(package), likely))


def _class_page(
    request: TeacherRequest,
    carried: Carried,
    form: WhichClassForm,
    columns: ColumnsForm | None = None,
    *,
    status: int = 200,
) -> HttpResponse:
    context = {
        "classroom": request.classroom,
        "form": form,
        "columns": _matched(columns) if columns is not None else (),
        "carried": pack(carried, request.classroom.pk),
    }
    return render(request, "teacher/roster_class.html", context, status=status)


def _preview(request: TeacherRequest, chosen: Chosen, *, ticked: QueryDict | None = None) -> HttpResponse:
    plan = plan_for(request.classroom, chosen.children)
    new_source = chosen.source is not None and chosen.source != source_of(request.classroom)
    if ticked is not None:
        change, leave = _numbers(ticked, "change"), _numbers(ticked, "leave")
    else:
        change = {match.known.pk for match in plan.changed}
        leave = set() if plan.mostly_unlisted else {known.pk for known in plan.unlisted}
    context: dict[str, Any] = {
        "classroom": request.classroom,
        "chosen": chosen,
        "plan": plan,
        "change": change,
        "leave": leave,
        "shown": SHOWN,
        "to_do": not plan.is_empty or new_source,
        "carried": pack(chosen, request.classroom.pk),
        "held": ticked is not None,
    }
    return render(request, "teacher/roster_check.html", context)


# --- small things --------------------------------------------------------------------------------


def _matched(form: ColumnsForm) -> list[tuple[str, str]]:
    """Return the fields of a valid form of columns as hidden fields carry them."""
    return [(name, "on" if value is True else value) for name, value in form.cleaned_data.items() if value]


def _unpacked(request: TeacherRequest, data: QueryDict) -> Carried:
    return unpack(data.get("carried", ""), request.classroom.pk)


def _chosen_rows(table: Table, columns: Columns, group: str = "") -> Chosen:
    reading = read_children(table, columns, group)
    return Chosen(reading.children, reading.faults, origin=group)


def _chosen_class(package: Package, group: RosterClass) -> Chosen:
    source = SourceIds(group.source_id, group.school_source_id, group.session_source_id)
    return Chosen(group.children, package.faults, source, _class_title(group))


def _class_title(group: RosterClass) -> str:
    return f"{group.title} · {group.school}" if group.school else group.title


def _class_choices(package: Package) -> list[tuple[str, str]]:
    return [
        (group.source_id, _counted(_class_title(group), len(group.children))) for group in package.classes
    ]


def _counted(name: str, count: int) -> str:
    said = ngettext("%(name)s (%(count)d child)", "%(name)s (%(count)d children)", count)
    return said % {"name": name, "count": count}


def _likely(request: TeacherRequest, groups: dict[str, int]) -> str:
    return request.classroom.name if request.classroom.name in groups else ""


def _numbers(data: QueryDict, name: str) -> set[int]:
    """Return the students that are ticked; whatever is no number is nobody."""
    typed = data.getlist(name)
    return {int(text) for text in typed if text.isascii() and text.isdigit() and len(text) < 18}

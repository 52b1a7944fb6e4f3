"""The teams of a class: shuffling, seating by hand, names, order, codes, merging."""

from __future__ import annotations

import secrets

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from classroom import teaming
from classroom.access import TeacherRequest, teacher_of_class
from classroom.forms.base import sent
from classroom.forms.teams import CountForm, MergeForm, PlacesForm, ShuffleForm, TeamNameForm
from classroom.models import Student, Team
from classroom.team_names import new_names


def _team(request: TeacherRequest, pk: int) -> Team:
    return get_object_or_404(Team, pk=pk, classroom=request.classroom, retired_at__isnull=True)


def _status(request: TeacherRequest) -> int:
    """Return how a form is answered that is shown (again): 422 where something must be put right."""
    return 422 if request.method == "POST" else 200


@teacher_of_class
def teams(request: TeacherRequest) -> HttpResponse:
    seats = teaming.seating(request.classroom)
    context = {
        "classroom": request.classroom,
        "seats": seats,
        "to_set_up": not request.classroom.challenges.exists(),
        "merged": request.classroom.teams.filter(merged_into__isnull=False).select_related("merged_into"),
        "shuffle": ShuffleForm(seats),
        "count": CountForm(),
        "ever": request.classroom.teams.count(),
    }
    return render(request, "teacher/teams.html", context)


@teacher_of_class
def teams_shuffle(request: TeacherRequest) -> HttpResponse:
    """Deal teams, show them, and seat them once the teacher says so."""
    seats = teaming.seating(request.classroom)
    form = ShuffleForm(seats, sent(request))
    if "use" in request.POST and not seats.without and request.POST.get("who") == "left_over":
        # Sent twice: the first one seated them.
        return redirect("classroom:teams", request.classroom.code)
    if not form.is_valid() or not form.choices:
        context = {"classroom": request.classroom, "form": form, "seats": seats}
        return render(request, "teacher/teams_shuffle.html", context, status=_status(request))
    everyone = form.cleaned_data["who"] == "everyone"
    children = _by_pk([*seats.without, *(child for team in seats.members.values() for child in team)])
    if not everyone:
        children = _by_pk(seats.without)
    seed = form.cleaned_data["seed"]
    if seed is None or "again" in request.POST:
        seed = secrets.randbelow(2**31)
    hands = teaming.shuffle(children, form.cleaned_data["size"], seed)
    if "use" in request.POST and request.POST.get("children") == _who(children):
        teaming.deal(request.classroom, hands, refill=everyone)
        messages.success(
            request,
            ngettext("%(count)d team is made.", "%(count)d teams are made.", len(hands))
            % {"count": len(hands)},
        )
        return redirect("classroom:teams", request.classroom.code)
    names = _names_to_be(request, seats, len(hands), everyone)
    context = {
        "classroom": request.classroom,
        "hands": list(zip(names, hands, strict=True)),
        "size": form.cleaned_data["size"],
        "who": form.cleaned_data["who"],
        "seed": seed,
        "children": _who(children),
        "changed": "use" in request.POST,
    }
    return render(request, "teacher/teams_dealt.html", context)


def _by_pk(children: list[Student]) -> list[Student]:
    # The same seed deals the same teams only from the same order.
    return sorted(children, key=lambda child: child.pk)


def _who(children: list[Student]) -> str:
    """Return which children were dealt, so that teams are seated only as they were shown."""
    return ".".join(str(child.pk) for child in children)


def _names_to_be(request: TeacherRequest, seats: teaming.Seating, count: int, everyone: bool) -> list[str]:
    kept = [team.name for team in seats.teams][:count] if everyone else []
    taken = request.classroom.teams.values_list("name", flat=True)
    return kept + new_names(count - len(kept), taken)


@teacher_of_class
def teams_add(request: TeacherRequest) -> HttpResponse:
    """Add empty teams, to be filled by hand."""
    form = CountForm(sent(request))
    if request.method != "POST" or not form.is_valid():
        context = {"classroom": request.classroom, "form": form, "ever": request.classroom.teams.count()}
        return render(request, "teacher/teams_add.html", context, status=_status(request))
    if request.POST.get("teams") in (None, str(request.classroom.teams.count())):
        # Sent twice, it adds once: the first one changed the number.
        teaming.make_teams(request.classroom, form.cleaned_data["count"])
    return redirect("classroom:teams_seat", request.classroom.code)


@teacher_of_class
def teams_seat(request: TeacherRequest) -> HttpResponse:
    """Put children into teams by hand."""
    seats = teaming.seating(request.classroom)
    form = PlacesForm(seats, sent(request))
    if request.method != "POST" or not form.is_valid():
        context = {"classroom": request.classroom, "form": form, "seats": seats}
        return render(request, "teacher/teams_seat.html", context, status=_status(request))
    moves = form.moves()
    if moves:
        teaming.seat(request.classroom, moves, form.holds_from)
    messages.success(
        request,
        ngettext("%(count)d child is moved.", "%(count)d children are moved.", len(moves))
        % {"count": len(moves)},
    )
    return redirect("classroom:teams", request.classroom.code)


@teacher_of_class
def team_rename(request: TeacherRequest, pk: int) -> HttpResponse:
    team = _team(request, pk)
    form = TeamNameForm(request.classroom, team, sent(request), initial={"name": team.name})
    if request.method != "POST" or not form.is_valid():
        context = {"classroom": request.classroom, "team": team, "form": form}
        return render(request, "teacher/team_rename.html", context, status=_status(request))
    teaming.rename(team, form.cleaned_data["name"])
    messages.success(request, _("The team is now called %(name)s.") % {"name": team.name})
    return redirect("classroom:teams", request.classroom.code)


@teacher_of_class
def team_order(request: TeacherRequest, pk: int) -> HttpResponse:
    team = _team(request, pk)
    if request.method == "POST":
        teaming.reorder(request.classroom, team, -1 if request.POST.get("to") == "up" else 1)
    return redirect(f"{reverse('classroom:teams', args=[request.classroom.code])}#team-{team.pk}")


@teacher_of_class
def team_code(request: TeacherRequest, pk: int) -> HttpResponse:
    """Give a team a new code, once the teacher knows that its tablets are signed out."""
    team = _team(request, pk)
    if request.method != "POST":
        context = {"classroom": request.classroom, "team": team, "cancel_url": _teams_url(request)}
        return render(request, "teacher/team_code.html", context)
    if request.POST.get("was") not in (None, team.code):
        return redirect("classroom:teams", request.classroom.code)  # sent twice: it has its new code
    out = teaming.give_new_code(team)
    said = ngettext(
        "%(team)s has the code %(code)s now. %(count)d tablet is signed out.",
        "%(team)s has the code %(code)s now. %(count)d tablets are signed out.",
        out,
    )
    messages.success(request, said % {"team": team, "code": team.code, "count": out})
    return redirect("classroom:teams", request.classroom.code)


@teacher_of_class
def teams_new_codes(request: TeacherRequest) -> HttpResponse:
    """Give the teams whose codes are an earlier version's new ones, with one tap."""
    if request.method != "POST":
        return redirect("classroom:teams", request.classroom.code)
    count = teaming.renew_old_codes(request.classroom)
    if count == 0:
        return redirect("classroom:teams", request.classroom.code)  # sent twice: it is done
    said = ngettext(
        "%(count)d team has a new code. Print its card.",
        "%(count)d teams have new codes. Print their cards.",
        count,
    )
    messages.success(request, said % {"count": count})
    return redirect("design_challenges:paper", request.classroom.code)


def _teams_url(request: TeacherRequest) -> str:
    return reverse("classroom:teams", args=[request.classroom.code])


@teacher_of_class
def team_merge(request: TeacherRequest, pk: int) -> HttpResponse:
    """Merge a team into another one, or close it while it has begun nothing."""
    team = get_object_or_404(Team, pk=pk, classroom=request.classroom)
    if team.retired_at is not None:
        return redirect("classroom:teams", request.classroom.code)  # sent twice: it is done
    seats = teaming.seating(request.classroom)
    form = MergeForm(team, seats, sent(request))
    if request.method != "POST" or not form.is_valid():
        context = {
            "classroom": request.classroom,
            "team": team,
            "members": seats.members[team.pk],
            "form": form,
            "others": len(seats.teams) > 1,
            "begun": team.pk in seats.began,
        }
        return render(request, "teacher/team_merge.html", context, status=_status(request))
    into = _team(request, form.cleaned_data["into"])
    teaming.merge(team, into, form.holds_from)
    messages.success(
        request,
        _("%(team)s is now part of %(into)s. Its rounds so far are kept.") % {"team": team, "into": into},
    )
    return redirect("classroom:teams", request.classroom.code)


@teacher_of_class
def team_close(request: TeacherRequest, pk: int) -> HttpResponse:
    team = get_object_or_404(Team, pk=pk, classroom=request.classroom)
    if team.retired_at is None and request.method == "POST":
        try:
            teaming.close_team(team)
        except ValueError:
            messages.error(request, _("%(team)s has begun a round. Merge it instead.") % {"team": team})
            return redirect("classroom:team_merge", request.classroom.code, team.pk)
        messages.success(request, _("%(team)s is taken out. Its children are in no team.") % {"team": team})
    return redirect("classroom:teams", request.classroom.code)

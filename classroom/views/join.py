"""The front door: teams come in with two codes or a team card's link, teachers go on to sign in."""

from __future__ import annotations

from django import forms
from django.db import transaction
from django.db.models import F
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext_lazy as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from classroom import held
from classroom.access import TEAM_COOKIE, find_device, let_team_in
from classroom.codes import tidy_code
from classroom.models import Classroom, Team
from design_challenges.services.entries import bump_revision
from design_challenges.services.records import find_challenge
from design_challenges.services.saving import start_round

CODE_ATTRS = {
    "class": "code-entry",
    "autocomplete": "off",
    "autocapitalize": "characters",
    "autocorrect": "off",
    "spellcheck": "false",
}
CODE_TOO_LONG = _("That is too long for a code. Look at your card, letter by letter.")
JOINING_CLOSED = _("Joining is closed just now. Ask your teacher to open joining, then press Join again.")


class JoinForm(forms.Form):
    """Class code and team code as children type them; finds the team or says what to look at again."""

    class_code = forms.CharField(
        label=_("Class code"),
        max_length=40,
        error_messages={
            "required": _("Type the class code from your team card."),
            "max_length": CODE_TOO_LONG,
        },
        widget=forms.TextInput(attrs=CODE_ATTRS),
    )
    team_code = forms.CharField(
        label=_("Team code"),
        max_length=40,
        error_messages={
            "required": _("Type the team code from your team card."),
            "max_length": CODE_TOO_LONG,
        },
        widget=forms.TextInput(attrs=CODE_ATTRS),
    )
    next = forms.CharField(required=False, widget=forms.HiddenInput)

    team: Team | None = None
    wrong_code_in: Classroom | None = None

    def clean(self) -> None:
        super().clean()
        if self.errors:
            return
        classroom = Classroom.objects.filter(
            code=tidy_code(self.cleaned_data["class_code"]), archived_at__isnull=True
        ).first()
        if classroom is None:
            self.add_error("class_code", _("No class has this code. Look at your card, letter by letter."))
            return
        if not classroom.joining_open:
            self.add_error(None, JOINING_CLOSED)
            return
        self.team = Team.objects.filter(
            classroom=classroom, code=tidy_code(self.cleaned_data["team_code"]), retired_at__isnull=True
        ).first()
        if self.team is None:
            self.wrong_code_in = classroom
            self.add_error(
                "team_code",
                _("No team of %(name)s has this code. Look at your card, letter by letter.")
                % {"name": classroom.name},
            )


def count_wrong_code(classroom: Classroom | None) -> None:
    """Count a wrong team code for the teacher to see; it never locks anybody out."""
    if classroom is None:
        return
    challenge = find_challenge(classroom)
    with transaction.atomic():
        Classroom.objects.filter(pk=classroom.pk).update(wrong_codes=F("wrong_codes") + 1)
        if challenge is not None:
            bump_revision(challenge.pk)


@never_cache
@require_safe
def home(request: HttpRequest) -> HttpResponse:
    """Show the two doors; whoever is in already goes on."""
    device = find_device(request, TEAM_COOKIE)
    signed_in = request.user.is_authenticated
    if device is not None and not signed_in:
        return redirect("design_challenges:team_now")
    if signed_in and device is None:
        return redirect("classroom:classes")
    return render(request, "team/home.html", {"form": JoinForm(), "device": device})


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def join(request: HttpRequest) -> HttpResponse:
    """Let a tablet into its team by class code and team code."""
    if request.method == "POST":
        form = JoinForm(request.POST)
        if form.is_valid() and form.team is not None:
            return _go_in(request, form.team, form.cleaned_data["next"])
        count_wrong_code(form.wrong_code_in)
        return render(request, "team/join.html", {"form": form}, status=422)
    form = JoinForm(initial={"next": request.GET.get("next", "")})
    kept = bool(held.waiting_path(request)) if request.GET.get("next") else False
    return render(request, "team/join.html", {"form": form, "kept": kept})


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def join_link(request: HttpRequest, class_code: str, team_code: str) -> HttpResponse:
    """Ask whether the tablet is this team's, as the link of a team card says, and let it in."""
    form = JoinForm({"class_code": class_code, "team_code": team_code})
    if not form.is_valid() or form.team is None:
        status = 422 if request.method == "POST" else 200
        return render(request, "team/join.html", {"form": form}, status=status)
    if request.method == "POST":
        return _go_in(request, form.team, "")
    device = find_device(request, TEAM_COOKIE)
    if device is not None and device.team_id == form.team.pk:
        return redirect("design_challenges:team_now")
    return render(request, "team/join_link.html", {"joining": form.team})


def _go_in(request: HttpRequest, team: Team, next_path: str) -> HttpResponse:
    """Begin the team's first round where there is a challenge, and give the browser its cookie."""
    _forget_device(request)
    challenge = find_challenge(team.classroom)
    if challenge is not None:
        with transaction.atomic():
            start_round(challenge, team, 1)
            bump_revision(challenge.pk)
    response = redirect(
        _safe_path(next_path) or _held_path(request) or reverse("design_challenges:team_welcome")
    )
    let_team_in(response, team)
    return response


def _safe_path(path: str) -> str:
    """Return a path of this site, or "" for anything else."""
    local = path.startswith("/") and url_has_allowed_host_and_scheme(path, allowed_hosts=None)
    return path if local else ""


def _held_path(request: HttpRequest) -> str:
    """Return the team page for which an entry is held, or ""."""
    path = held.waiting_path(request)
    return path if path.startswith(reverse("design_challenges:team_now")) else ""


def _forget_device(request: HttpRequest) -> None:
    device = find_device(request, TEAM_COOKIE)
    if device is not None:
        device.revoked_at = timezone.now()
        device.save(update_fields=["revoked_at"])


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def leave(request: HttpRequest) -> HttpResponse:
    """Take the tablet out of its team, after asking; what the team saved stays."""
    device = find_device(request, TEAM_COOKIE)
    if request.method != "POST" and device is not None and device.team is not None:
        return render(request, "team/leave.html", {"leaving": device.team})
    _forget_device(request)
    response = redirect("classroom:home")
    response.delete_cookie(TEAM_COOKIE, samesite="Lax")
    return response

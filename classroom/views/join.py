"""The front door: teams come in with two codes or a team card's link, teachers go on to sign in."""

from __future__ import annotations

from django import forms
from django.db import transaction
from django.db.models import F, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from classroom import held, throttle
from classroom.access import TEAM_COOKIE, find_device, let_team_in
from classroom.codes import OLD_TEAM_CODE_LENGTH, TEAM_CODE_LENGTH, tidy_code
from classroom.models import Classroom, Team
from classroom.ways import safe_path
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
TOO_MANY = _(
    "Very many wrong codes were typed from your school’s network. Ask your teacher to let you in: "
    "one tap on their class page does it. Then press Join again."
)
TOO_FAST = _("Very many codes came at once. Wait a moment, then press Join again.")
JOINING_CLOSED = _("Joining is closed just now. Ask your teacher to open joining, then press Join again.")


def _wrong_length(typed: int) -> str:
    said = gettext(
        "A team code has %(right)d letters and numbers, this has %(typed)d. "
        "Look at your card, letter by letter."
    ) % {"right": TEAM_CODE_LENGTH, "typed": typed}
    if typed == OLD_TEAM_CODE_LENGTH:
        more = gettext("If it shows no more, it is an old card: ask your teacher for a new one.")
        return f"{said} {more}"
    return said


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
    found: Classroom | None = None
    wrong_code_in: Classroom | None = None
    refused = False

    def clean(self) -> None:
        super().clean()
        if self.errors or self.refused:
            return
        classroom = Classroom.objects.filter(
            code=tidy_code(self.cleaned_data["class_code"]), archived_at__isnull=True
        ).first()
        self.found = classroom
        if classroom is None:
            self.add_error("class_code", _("No class has this code. Look at your card, letter by letter."))
            return
        if not classroom.joining_open:
            self.add_error(None, JOINING_CLOSED)
            return
        code = tidy_code(self.cleaned_data["team_code"])
        if len(code) != TEAM_CODE_LENGTH:
            # An earlier version's short ones are no way in any more, right or wrong: they could be guessed.
            self.wrong_code_in = classroom
            self.add_error("team_code", _wrong_length(len(code)))
            return
        self.team = Team.objects.filter(classroom=classroom, code=code, retired_at__isnull=True).first()
        if self.team is None:
            self.wrong_code_in = classroom
            self.add_error(
                "team_code",
                _("No team of %(name)s has this code. Look at your card, letter by letter.")
                % {"name": classroom.name},
            )

    def refuse(self, why: Promise) -> None:
        """Say one thing only, whatever the codes are, and look at them no more; what was typed stays."""
        self.refused = True
        self.errors.clear()
        self.team = None
        self.add_error(None, str(why))


def check_codes(request: HttpRequest, form: JoinForm) -> int:
    """Check the codes, count wrong ones, and return the answer's status: 200, 422 or 429.

    A wrong team code is counted for the teacher to see and locks nobody out of an open class.
    """
    if throttle.is_too_fast(request):
        form.refuse(TOO_FAST)
        return 429
    if throttle.is_locked(request):
        form.is_valid()
        _turn_away(request, form.found)
        form.refuse(TOO_MANY)
        return 429
    if form.is_valid():
        return 200
    if form.found is None or form.wrong_code_in is not None:
        throttle.note_wrong_code(request, str(form.data.get("class_code", "")))
    if form.wrong_code_in is not None:
        _tell_teacher(form.wrong_code_in, Classroom.objects.filter(pk=form.wrong_code_in.pk))
    return 422


def _turn_away(request: HttpRequest, classroom: Classroom | None) -> None:
    if classroom is not None and throttle.turn_away(request, classroom):
        _tell_teacher(classroom, None)


def _tell_teacher(classroom: Classroom, counted: QuerySet[Classroom] | None) -> None:
    """Let the class's live pages fetch what changed; `counted` has one more wrong code."""
    challenge = find_challenge(classroom)
    with transaction.atomic():
        if counted is not None:
            counted.update(wrong_codes=F("wrong_codes") + 1)
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
        status = check_codes(request, form)
        if form.team is not None:
            return _go_in(request, form.team, form.cleaned_data["next"])
        return render(request, "team/join.html", {"form": form}, status=status)
    form = JoinForm(initial={"next": request.GET.get("next", "")})
    kept = bool(held.waiting_path(request)) if request.GET.get("next") else False
    return render(request, "team/join.html", {"form": form, "kept": kept})


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def join_link(request: HttpRequest, class_code: str, team_code: str) -> HttpResponse:
    """Ask whether the tablet is this team's, as the link of a team card says, and let it in."""
    form = JoinForm({"class_code": class_code, "team_code": team_code})
    status = check_codes(request, form)
    if form.team is None:
        status = 200 if status == 422 and request.method != "POST" else status
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
        safe_path(next_path) or _held_path(request) or reverse("design_challenges:team_welcome")
    )
    let_team_in(response, team)
    return response


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

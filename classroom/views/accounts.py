"""Adults' accounts: the first teacher, a colleague's link, signing in and out, another password."""

from __future__ import annotations

import secrets
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import get_user_model, login, logout
from django.contrib.auth.models import User
from django.contrib.auth.tokens import default_token_generator
from django.contrib.auth.views import LoginView, PasswordChangeView
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse, reverse_lazy
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_decode, urlsafe_base64_encode
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from classroom import held, throttle
from classroom.access import AdultRequest, signed_in
from classroom.codes import hash_token
from classroom.forms.accounts import (
    ChangePasswordForm,
    ColleagueForm,
    FirstTeacherForm,
    NewPasswordForm,
    SignInForm,
)
from classroom.forms.base import sent
from classroom.models import Installation
from classroom.school_time import forget_zone

TOO_MANY_PASSWORDS = gettext_lazy(
    "Too many wrong passwords for this name. Wait a quarter of an hour, or use a browser in which you "
    "signed in before."
)


class SignIn(LoginView):
    """Sign in, and go back to where a form may be waiting with what was typed."""

    template_name = "teacher/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def get_default_redirect_url(self) -> str:
        return self.next_page or reverse("classroom:classes")

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(kept=bool(held.waiting_path(self.request)), **kwargs)

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if throttle.is_guessing(request, request.POST.get("username", "")):
            # Unread, so that even the right password is no answer to somebody who guesses.
            form = self.get_form()
            form.errors.clear()
            form.add_error(None, TOO_MANY_PASSWORDS)
            return self.render_to_response(self.get_context_data(form=form), status=429)
        return super().post(request, *args, **kwargs)

    def form_valid(self, form: Any) -> HttpResponse:
        response = super().form_valid(form)
        name = form.get_user().get_username()
        throttle.remember_browser(response, name, secure=settings.SESSION_COOKIE_SECURE)
        return response

    def form_invalid(self, form: Any) -> HttpResponse:
        if form.data.get("password"):
            throttle.note_wrong_password(self.request, form.data.get("username", ""))
        return self.render_to_response(self.get_context_data(form=form), status=422)


sign_in = SignIn.as_view()


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    logout(request)
    messages.success(request, _("You are signed out."))
    return redirect("classroom:sign_in")


class PasswordChange(PasswordChangeView):
    """Choose another password."""

    template_name = "teacher/password_change.html"
    form_class = ChangePasswordForm
    success_url = reverse_lazy("classroom:classes")

    def form_valid(self, form: Any) -> HttpResponse:
        messages.success(self.request, _("Your password is changed."))
        return super().form_valid(form)

    def form_invalid(self, form: Any) -> HttpResponse:
        return self.render_to_response(self.get_context_data(form=form), status=422)


password_change = PasswordChange.as_view()


# --- the first teacher -----------------------------------------------------------------------


def _link_works(token: str) -> bool:
    installation = Installation.get()
    stored = installation.first_teacher_token_hash
    return bool(stored) and secrets.compare_digest(stored, hash_token(token))


@sensitive_post_parameters("new_password1", "new_password2")
@never_cache
def first_teacher(request: HttpRequest, token: str) -> HttpResponse:
    if get_user_model().objects.exists() or not _link_works(token):
        return render(request, "teacher/link_used.html", {"first": True}, status=404)
    user = User()
    form = FirstTeacherForm(user, request.POST if request.method == "POST" else None)
    if request.method != "POST" or not form.is_valid():
        status = 422 if form.is_bound else 200
        return render(request, "teacher/first_teacher.html", {"form": form}, status=status)
    if not _make_first_teacher(form, token):
        return render(request, "teacher/link_used.html", {"first": True}, status=404)
    login(request, user)
    messages.success(request, _("Welcome! Your account is made. Now make your first class."))
    return redirect("classroom:classes")


def _make_first_teacher(form: FirstTeacherForm, token: str) -> bool:
    """Use the link up and make the account, both or neither; of two who send at once one gets it."""
    with transaction.atomic():
        taken = Installation.objects.filter(pk=1, first_teacher_token_hash=hash_token(token)).update(
            first_teacher_token_hash="", time_zone=form.cleaned_data["time_zone"]
        )
        if taken:
            # Who sets the computer up sees the technician's pages.
            form.user.is_staff = True
            form.save()
    forget_zone()
    return bool(taken)


# --- further teachers ------------------------------------------------------------------------


@signed_in
def teacher_new(request: AdultRequest) -> HttpResponse:
    form = ColleagueForm(sent(request))
    if request.method != "POST" or not form.is_valid():
        status = 422 if request.method == "POST" else 200
        return render(request, "teacher/teacher_new.html", {"form": form}, status=status)
    name = form.cleaned_data["username"]
    colleague = User.objects.filter(username__iexact=name).first() or User.objects.create_user(name)
    return render(
        request,
        "teacher/teacher_link.html",
        {"colleague": colleague, "link": _welcome_link(request, colleague)},
    )


def _welcome_link(request: HttpRequest, user: User) -> str:
    # The token is made from the password's hash, so it works until a password is chosen, and once.
    where = [urlsafe_base64_encode(force_bytes(user.pk)), default_token_generator.make_token(user)]
    return request.build_absolute_uri(reverse("classroom:teacher_welcome", args=where))


def _invited(who: str, token: str) -> User | None:
    try:
        user = User.objects.filter(pk=urlsafe_base64_decode(who).decode(), is_active=True).first()
    except ValueError:
        return None
    if user is None or user.has_usable_password() or not default_token_generator.check_token(user, token):
        return None
    return user


@sensitive_post_parameters("new_password1", "new_password2")
@never_cache
def teacher_welcome(request: HttpRequest, who: str, token: str) -> HttpResponse:
    user = _invited(who, token)
    if user is None:
        return render(request, "teacher/link_used.html", {"first": False}, status=404)
    form = NewPasswordForm(user, request.POST if request.method == "POST" else None)
    if request.method != "POST" or not form.is_valid():
        context = {"form": form, "colleague": user}
        return render(request, "teacher/teacher_welcome.html", context, status=422 if form.is_bound else 200)
    form.save()
    login(request, user)
    messages.success(request, _("Welcome! Your account is made. Now make your first class."))
    return redirect("classroom:classes")

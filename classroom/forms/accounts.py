"""Forms of an adult's account: the first teacher, a colleague, signing in, another password."""

from __future__ import annotations

from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.contrib.auth import get_user_model
from django.contrib.auth.forms import AuthenticationForm, PasswordChangeForm, SetPasswordForm
from django.contrib.auth.models import AbstractBaseUser
from django.utils.translation import gettext_lazy as _

from classroom.forms.base import code_free_attrs

USERNAME_ATTRS = code_free_attrs(autocomplete="username", autocapitalize="none", maxlength="60")
NEW_PASSWORD_ATTRS = {"autocomplete": "new-password"}
LONGEST_USERNAME = 60
GOOD_PASSWORD = _(
    "Eight characters or more: a few words are good. "
    "Not a common one, not digits alone, not like your user name."
)


def time_zones() -> list[tuple[str, str]]:
    """Return every named time zone, by region and town, UTC last."""
    named = sorted(zone for zone in available_timezones() if "/" in zone and not zone.startswith("Etc/"))
    return [(zone, zone.replace("_", " ").replace("/", " / ")) for zone in named] + [("UTC", "UTC")]


class SignInForm(AuthenticationForm):
    """User name and password."""

    error_messages = {
        "invalid_login": _(
            "That user name and password do not go together. Check both; capitals count in a password."
        ),
        "inactive": _("This account is switched off. Ask the teacher who looks after this computer."),
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["username"].label = _("User name")
        self.fields["username"].widget.attrs.update(USERNAME_ATTRS)
        self.fields["username"].error_messages["required"] = _("Type your user name.")
        self.fields["password"].error_messages["required"] = _("Type your password.")


def user_name_field() -> forms.CharField:
    """Return the field for a new account's user name."""
    return forms.CharField(
        label=_("User name"),
        max_length=LONGEST_USERNAME,
        validators=[get_user_model().username_validator],
        widget=forms.TextInput(attrs=dict(USERNAME_ATTRS)),
        error_messages={
            "required": _("Type a user name, like m.okafor."),
            "max_length": _("That is too long. Use %(limit_value)d letters at most."),
            "invalid": _("Use letters, digits and . - _ + @ only, without blanks."),
        },
    )


def check_free(name: str) -> str:
    """Return the user name, or raise ValidationError where somebody has it (in any case of letters)."""
    if get_user_model().objects.filter(username__iexact=name).exists():
        raise forms.ValidationError(
            _("Somebody has this user name already. Choose another one."), code="taken"
        )
    return name


class NewPasswordForm(SetPasswordForm):
    """A password typed twice."""

    error_messages = {"password_mismatch": _("The two passwords differ. Type the same one twice.")}

    def __init__(self, user: AbstractBaseUser, *args: Any, **kwargs: Any) -> None:
        super().__init__(user, *args, **kwargs)
        first, second = self.fields["new_password1"], self.fields["new_password2"]
        first.label, second.label = _("Password"), _("The same password again")
        first.help_text = GOOD_PASSWORD
        first.error_messages["required"] = _("Type a password.")
        second.error_messages["required"] = _("Type the password once more.")
        second.help_text = ""


class FirstTeacherForm(NewPasswordForm):
    """The first account of this installation, and the school's time zone."""

    username = user_name_field()
    time_zone = forms.ChoiceField(
        label=_("The school’s time zone"),
        help_text=_("So that a lesson belongs to the right day. It is set once, here."),
        error_messages={
            "required": _("Choose the time zone the school is in."),
            "invalid_choice": _("Choose a time zone from the list."),
        },
    )
    field_order = ["username", "new_password1", "new_password2", "time_zone"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices: Any = [("", _("Choose …")), *time_zones()]
        self.fields["time_zone"].choices = choices  # type: ignore[attr-defined]
        self.fields["time_zone"].widget.attrs["data-own-time-zone"] = ""

    def clean_username(self) -> str:
        name = check_free(self.cleaned_data["username"])
        # The password is compared with it.
        self.user.username = name
        return name


class ColleagueForm(forms.Form):
    """The user name of a colleague who gets a link to choose a password."""

    username = user_name_field()

    def clean_username(self) -> str:
        name: str = self.cleaned_data["username"]
        invited = get_user_model().objects.filter(username__iexact=name, is_active=True).first()
        # A link that was lost or ran out is made anew, as long as nobody has used one.
        if invited is not None and not invited.has_usable_password():
            return name
        return check_free(name)


class ChangePasswordForm(PasswordChangeForm):
    """The old password, and a new one twice."""

    error_messages = {
        "password_incorrect": _("That is not your present password. Type it once more."),
        "password_mismatch": _("The two new passwords differ. Type the same one twice."),
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["old_password"].label = _("Present password")
        self.fields["new_password1"].label = _("New password")
        self.fields["new_password1"].help_text = GOOD_PASSWORD
        self.fields["new_password2"].label = _("The same new password again")
        self.fields["new_password2"].help_text = ""
        for name, message in (
            ("old_password", _("Type your present password.")),
            ("new_password1", _("Type a new password.")),
            ("new_password2", _("Type the new password once more.")),
        ):
            self.fields[name].error_messages["required"] = message

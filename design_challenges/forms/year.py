"""Forms of the year's round: typed confirmations, a date, a colleague, the class to copy settings to."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, time
from typing import Any

from django import forms
from django.contrib.auth.models import User
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from classroom.forms.base import code_free_attrs
from design_challenges.services.erasing.children import Mention


class EraseForm(forms.Form):
    """The name typed once more, so that nothing irreversible happens by a slip."""

    copied = forms.BooleanField(
        label=_("I have saved a copy, or I need none."),
        error_messages={"required": _("Save a copy first, or tick that you need none.")},
    )
    typed = forms.CharField(
        label=_("Type the name once more"),
        max_length=200,
        widget=forms.TextInput(attrs=code_free_attrs()),
        error_messages={"required": _("Type the name as it stands above.")},
    )

    def __init__(self, data: Any, wanted: str, mentions: Sequence[Mention] = ()) -> None:
        super().__init__(data)
        self._wanted = wanted
        self.fields["typed"].help_text = wanted
        if mentions:
            keys = [mention.key for mention in mentions]
            self.fields = {
                "mentions": forms.MultipleChoiceField(
                    label=_("Take the name out of these texts"),
                    help_text=_("Take the tick away where it is another child, or just a word."),
                    choices=[(one.key, f"“{one.text}” ({one.what})") for one in mentions],
                    initial=keys,
                    required=False,
                    widget=forms.CheckboxSelectMultiple(attrs={"class": "choices-plain"}),
                ),
                **self.fields,
            }

    def clean_typed(self) -> str:
        typed = " ".join(self.cleaned_data["typed"].split())
        if typed.casefold() != " ".join(self._wanted.split()).casefold():
            raise forms.ValidationError(
                _("That is another name. Type “%(name)s”, or go back."), params={"name": self._wanted}
            )
        return typed


class BeforeForm(forms.Form):
    """A date; what was last used before it is old."""

    before = forms.DateField(
        label=_("Last used before"),
        help_text=_("Year, month and day, like 2026-07-31."),
        input_formats=["%Y-%m-%d"],
        widget=forms.DateInput(attrs={"class": "short", **code_free_attrs()}, format="%Y-%m-%d"),
        error_messages={
            "required": _("Choose a date."),
            "invalid": _("Choose a date, like 2026-07-31."),
        },
    )

    def clean_before(self) -> Any:
        day = self.cleaned_data["before"]
        if day > timezone.localdate():
            raise forms.ValidationError(_("Choose today or a day that is over."))
        return day

    def moment(self) -> datetime:
        """Return the beginning of the day, by the school's clock."""
        return timezone.make_aware(datetime.combine(self.cleaned_data["before"], time.min))


class ColleagueForm(forms.Form):
    """A colleague by user name, and for how long."""

    username = forms.CharField(
        label=_("Colleague’s user name"),
        max_length=150,
        widget=forms.TextInput(attrs=code_free_attrs(autocapitalize="none")),
        error_messages={"required": _("Type the user name with which your colleague signs in.")},
    )
    role = forms.ChoiceField(
        label=_("What for"),
        choices=[
            ("day", _("Stand in for today and tomorrow")),
            ("share", _("Run the class with me from now on")),
            ("hand", _("Take the class over: I am out")),
        ],
        initial="share",
        widget=forms.RadioSelect,
        error_messages={
            "required": _("Choose what for."),
            "invalid_choice": _("Choose one of these."),
        },
    )

    def __init__(self, data: Any, user: User | None) -> None:
        super().__init__(data)
        self._user = user
        self.colleague: User | None = None

    def clean_username(self) -> str:
        name = str(self.cleaned_data["username"]).strip()
        found = User.objects.filter(username__iexact=name, is_active=True).first()
        if found is None:
            raise forms.ValidationError(
                _("Nobody here signs in as “%(name)s”. Check the spelling, or add a teacher first."),
                params={"name": name},
            )
        if self._user is not None and found.pk == self._user.pk:
            raise forms.ValidationError(_("That is you. Type a colleague’s user name."))
        self.colleague = found
        return name


class CopySettingsForm(forms.Form):
    """The class that gets the settings."""

    target = forms.ChoiceField(
        label=_("Copy them to"),
        widget=forms.RadioSelect,
        error_messages={
            "required": _("Choose a class."),
            "invalid_choice": _("Choose one of your classes."),
        },
    )

    def __init__(self, data: Any, choices: Sequence[tuple[str, str]]) -> None:
        super().__init__(data)
        self.fields["target"].choices = choices  # type: ignore[attr-defined]

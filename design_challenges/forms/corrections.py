"""The forms with which a teacher sets an entry right; the old value is kept in every case."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from design_challenges.services.numbers import InputError
from design_challenges.services.trials_input import parse_stopwatch

LONGEST_REASON = 200
WHY = _("Why")


class ReasonField(forms.CharField):
    """Why it was done, in a few words; it stands beside the entry from then on."""

    def __init__(self, *, label: Any = WHY, message: Any, **kwargs: Any) -> None:
        super().__init__(
            label=label,
            max_length=LONGEST_REASON,
            error_messages={
                "required": message,
                "max_length": _("Keep it under 200 characters."),
            },
            widget=forms.TextInput(attrs={"class": "full", "autocomplete": "off"}),
            **kwargs,
        )


class TimeForm(forms.Form):
    """Another time for a drop."""

    time = forms.CharField(
        label=_("Time on the stopwatch"),
        required=False,
        help_text=_("Hundredths as the stopwatch showed them, like 4.62."),
        widget=forms.TextInput(
            attrs={
                "inputmode": "decimal",
                "autocomplete": "off",
                "unit": _("s"),
                "unit_name": _("seconds"),
                "quiet_optional": True,
            }
        ),
    )
    reason = ReasonField(message=_("Say in a few words why the time changes."))

    def clean_time(self) -> int:
        """Return the time in whole hundredths."""
        try:
            return parse_stopwatch(self.cleaned_data["time"])
        except InputError as error:
            raise forms.ValidationError(error.message, code=error.code) from None


class CountsForm(forms.Form):
    """Whether a drop counts, and why."""

    reason = ReasonField(message=_("Say in a few words why. It stands beside the drop from then on."))


class ClearForm(forms.Form):
    """Clearing a team by hand."""

    reason = ReasonField(
        label=_("Why may they build?"),
        message=_("Say in a few words why they may build. It is kept with the clearance."),
    )


class TextForm(forms.Form):
    """Another text for something that a team wrote."""

    text = forms.CharField(
        label=_("Text"),
        max_length=600,
        strip=True,
        error_messages={
            "required": _("Type the text. To keep it as it is, go back."),
            "max_length": _("Keep it under 600 characters."),
        },
        widget=forms.Textarea(attrs={"rows": 3, "class": "full"}),
    )

"""The forms of the timing station: a time typed from a stopwatch, and how long a station's link works."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from design_challenges.services.drop_order import VOID_REASONS
from design_challenges.services.numbers import LONGEST, InputError
from design_challenges.services.station import GOOD
from design_challenges.services.trials_input import parse_stopwatch
from design_challenges.words import Words

HOURS: Sequence[tuple[str, Words]] = (
    ("2", _("2 hours")),
    ("8", _("today (8 hours)")),
    ("48", _("2 days")),
    ("120", _("5 days")),
)
HOWS: Sequence[tuple[str, Words]] = (
    (GOOD, _("It opened")),
    ("not_open", _("It did not open: that counts")),
    ("tangled", _("It tangled: that counts")),
    *VOID_REASONS,
)


def _time(label: Words) -> forms.CharField:
    return forms.CharField(
        label=label,
        required=False,
        widget=forms.TextInput(
            attrs={
                "inputmode": "decimal",
                "autocomplete": "off",
                "spellcheck": "false",
                "class": "short",
                "unit": _("s"),
                "unit_name": _("seconds"),
                "quiet_optional": True,
            }
        ),
    )


class TypedForm(forms.Form):
    """A drop's time as a stopwatch shows it, with up to two more stopwatches beside it.

    `place` is a drop's key: team-round-trial-attempt, or "reference".
    """

    place = forms.ChoiceField(
        label=_("Whose drop?"),
        error_messages={
            "required": _("Choose whose drop it was."),
            "invalid_choice": _("Choose whose drop it was from the list."),
        },
    )
    how = forms.ChoiceField(
        label=_("How did it go?"),
        choices=HOWS,
        initial=GOOD,
        widget=forms.RadioSelect(attrs={"class": "choices-plain"}),
        error_messages={"required": _("Choose how it went."), "invalid_choice": _("Choose how it went.")},
    )
    time = _time(_("What does the stopwatch show?"))
    second = _time(_("A second stopwatch"))
    third = _time(_("A third stopwatch"))

    def __init__(self, *args: Any, places: Sequence[tuple[str, Words]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["place"].choices = places  # type: ignore[attr-defined]
        self.hundredths: dict[str, int] = {}

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        for name in ("time", "second", "third"):
            text = str(data.get(name, "")).strip()
            if not text and name != "time":
                continue
            try:
                if len(text) > LONGEST:
                    raise InputError("too_long", _("That is too long. Type just the number."))
                self.hundredths[name] = parse_stopwatch(text)
            except InputError as error:
                self.add_error(name, forms.ValidationError(error.message, code=error.code))
        return data


class HoursForm(forms.Form):
    """For how long a station's link works."""

    hours = forms.ChoiceField(
        label=_("Works for"),
        choices=HOURS,
        initial="8",
        widget=forms.RadioSelect,
        error_messages={
            "required": _("Choose for how long the link should work."),
            "invalid_choice": _("Choose for how long the link should work."),
        },
    )

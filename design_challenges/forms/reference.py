"""The form for the drops of the teacher's reference device: up to three times from the stopwatch."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from design_challenges.services.numbers import LONGEST, InputError
from design_challenges.services.trials_input import parse_stopwatch

DROPS = 3


class ReferenceForm(forms.Form):
    """Three times at once, of which one is enough."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for drop in range(1, DROPS + 1):
            self.fields[f"time_{drop}"] = forms.CharField(
                label=format_lazy(_("Drop {n}"), n=drop),
                required=False,
                widget=forms.TextInput(
                    attrs={
                        "inputmode": "decimal",
                        "autocomplete": "off",
                        "class": "short",
                        "unit": _("s"),
                        "unit_name": _("seconds"),
                        "quiet_optional": True,
                    }
                ),
            )
        self.hundredths: list[int] = []

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        for name in self.fields:
            text = str(data.get(name, "")).strip()
            if not text:
                continue
            try:
                if len(text) > LONGEST:
                    raise InputError("too_long", _("That is too long. Type just the number."))
                self.hundredths.append(parse_stopwatch(text))
            except InputError as error:
                self.add_error(name, forms.ValidationError(error.message, code=error.code))
        if not self.hundredths and not self.errors:
            self.add_error("time_1", _("Type at least one time from the stopwatch, like 4.62."))
        return data

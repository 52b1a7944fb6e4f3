"""The forms of the Test page: the call before the time is seen, the time itself, what to do when it broke."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from design_challenges.kinds.base import Kind, Values
from design_challenges.services.drop_order import MARKS, VOID_REASONS
from design_challenges.services.numbers import LONGEST, InputError
from design_challenges.services.trials_input import (
    check_rounds_to_something,
    parse_stopwatch,
    question_about,
    seconds_of,
)
from design_challenges.words import Words

GOOD = "yes"
OPENED = "opened"
NO_MORE_VOIDS = _("You called two drops void already. For one more, ask your teacher.")
SAME, NEW, NO_MORE = "same", "new", "no_more"


class CallForm(forms.Form):
    """Did the drop count? It is asked before anyone reads the stopwatch."""

    call = forms.ChoiceField(
        label=_("Did this drop count?"),
        widget=forms.RadioSelect,
        error_messages={
            "required": _("Tap one of the answers."),
            "invalid_choice": _("Tap one of the answers below."),
        },
    )

    def __init__(self, *args: Any, may_void: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices: list[tuple[str, Words]] = [(GOOD, _("Yes, it was a fair drop"))]
        field = self.fields["call"]
        field.choices = choices + list(VOID_REASONS if may_void else ())  # type: ignore[attr-defined]
        if not may_void:
            field.error_messages["invalid_choice"] = NO_MORE_VOIDS


class TimeForm(forms.Form):
    """The raw stopwatch reading, and how the drop went.

    A time that can hardly be is asked about once; `sure` confirms that very time, and no other.
    """

    time = forms.CharField(
        label=_("What does the stopwatch show?"),
        help_text=_("Type all of it, with two digits after the point."),
        required=False,
        widget=forms.TextInput(
            attrs={
                "inputmode": "decimal",
                "autocomplete": "off",
                "spellcheck": "false",
                "class": "big",
                "unit": _("s"),
                "unit_name": _("seconds"),
                "quiet_optional": True,
            }
        ),
    )
    mark = forms.ChoiceField(
        label=_("How did it come down?"),
        initial=OPENED,
        choices=[(OPENED, _("It opened")), *MARKS],
        widget=forms.RadioSelect,
        error_messages={
            "required": _("Tap how it came down."),
            "invalid_choice": _("Tap how it came down."),
        },
    )
    sure = forms.BooleanField(label=_("Yes, the stopwatch shows this"), required=False)
    asked = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(
        self, kind: Kind, values: Values, *args: Any, others: Sequence[Decimal] = (), **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.kind, self.values, self.others = kind, values, others
        self.question: Words = ""
        self.hundredths = 0

    def clean_time(self) -> str:
        text = str(self.cleaned_data["time"])
        try:
            if len(text) > LONGEST:
                raise InputError("too_long", _("That is too long. Type just the number."))
            self.hundredths = parse_stopwatch(text)
            check_rounds_to_something(self.kind, self.values, seconds_of(self.hundredths))
        except InputError as error:
            raise forms.ValidationError(error.message, code=error.code) from None
        return text

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if "time" not in data:
            return data
        # Who has said that it did not open has answered what a short or a long time would ask.
        others = self.others if data.get("mark") == OPENED else ()
        self.question = question_about(self.kind, self.values, seconds_of(self.hundredths), others)
        if self.question and not (data.get("sure") and data.get("asked") == data["time"].strip()):
            self.add_error("time", forms.ValidationError(self.question, code="unlikely"))
        return data

    @property
    def unlikely(self) -> bool:
        """Whether the one thing the form asks is if that time is really so."""
        return bool(self.question) and "time" in self.errors

    @property
    def shown_mark(self) -> str:
        """Return the mark to keep: none for a drop that opened."""
        mark = str(self.cleaned_data["mark"])
        return "" if mark == OPENED else mark


class BrokeForm(forms.Form):
    """How a team goes on after its thing broke."""

    outcome = forms.ChoiceField(
        label=_("Can you mend it?"),
        widget=forms.RadioSelect,
        error_messages={
            "required": _("Tap one of the answers."),
            "invalid_choice": _("Tap one of the answers below."),
        },
    )

    def __init__(self, *args: Any, drops: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices: list[tuple[str, Words]] = [
            (SAME, _("Yes. Every size is the same as before. We go on.")),
            (NEW, _("Yes, but a size changed. We measure and drop again.")),
        ]
        if drops:
            choices.append((NO_MORE, _("No. We use the drops we have.")))
        self.fields["outcome"].choices = choices  # type: ignore[attr-defined]

"""The form of the Results page that is no sum: which way the figure went."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from design_challenges.services import direction
from design_challenges.services.record_types import RoundRecord


class DirectionForm(forms.Form):
    """Slower or faster? What does not fit the two figures is asked about again."""

    direction = forms.ChoiceField(
        widget=forms.RadioSelect,
        error_messages={
            "required": _("Tap one of the answers."),
            "invalid_choice": _("Tap one of the answers below."),
        },
    )

    def __init__(self, record: RoundRecord, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.record = record
        field = self.fields["direction"]
        field.label = _("{figure} in round {now}, beside round {before}: which is true?").format(
            figure=record.performance.label, now=record.number, before=record.number - 1
        )
        field.choices = list(direction.choices(record))  # type: ignore[attr-defined]

    def clean_direction(self) -> str:
        chosen = str(self.cleaned_data["direction"])
        if chosen != direction.true_direction(self.record):
            raise forms.ValidationError(
                _("Look at the two numbers once more. Which one is bigger? What does that say?"),
                code="does_not_fit",
            )
        return chosen

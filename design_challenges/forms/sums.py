"""The form of one sum: a single answer, with the unit behind it."""

from __future__ import annotations

from typing import Any

from django import forms

from design_challenges.services.working import Step

# What is longer than any answer is cut off here; the check says that it is too long.
LONGEST_ANSWER = 200


class SumForm(forms.Form):
    """Asks for the answer of one step; the field's id is made of the step's slug, so that it is stable."""

    answer = forms.CharField(
        required=False,
        widget=forms.TextInput(
            attrs={
                "inputmode": "decimal",
                "autocomplete": "off",
                "spellcheck": "false",
                "class": "big",
                "quiet_optional": True,
            }
        ),
    )

    def __init__(self, step: Step, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("auto_id", f"sum-{step.slug}-%s")
        super().__init__(*args, **kwargs)
        field = self.fields["answer"]
        field.label = step.label
        field.help_text = str(step.ask)
        field.widget.attrs["unit"] = step.unit

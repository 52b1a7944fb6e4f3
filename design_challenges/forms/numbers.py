"""The teacher's own two numbers on their page: how near a mean must be, how large one may build."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from design_challenges.services.lengths import parse_length
from design_challenges.services.numbers import InputError, parse_decimal
from design_challenges.services.record_types import ClassRecord
from design_challenges.services.units import convert

LONGEST = 20
MOST_PLACES = 4


class NumbersForm(forms.Form):
    """How near the true value the teacher wants a mean, and the largest first size for an experiment."""

    within = forms.CharField(
        label=_("How near should a team’s mean be?"),
        help_text=_("We say how many drops that would take."),
        required=False,
        max_length=LONGEST,
        widget=forms.TextInput(
            attrs={"inputmode": "decimal", "autocomplete": "off", "class": "short", "quiet_optional": True}
        ),
    )
    largest = forms.CharField(
        required=False,
        max_length=LONGEST,
        help_text=_("For a class experiment. Empty: as large as the class has built."),
        widget=forms.TextInput(attrs={"autocomplete": "off", "class": "short", "quiet_optional": True}),
    )

    def __init__(self, klass: ClassRecord, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.unit = klass.kind.length_unit(klass.values)
        variables = klass.kind.variables(klass.values)
        performance = klass.kind.performance(klass.values)
        self.fields["within"].widget.attrs |= {"unit": performance.unit, "unit_name": performance.unit}
        size = variables[0]
        unit = size.unit(klass.kind.system(klass.values))
        self.fields["largest"].label = format_lazy(
            _("Largest {size} your materials allow"), size=_low(size.label)
        )
        self.fields["largest"].widget.attrs |= {"unit": unit, "unit_name": unit}

    def clean_within(self) -> float | None:
        text = self.cleaned_data["within"].strip()
        if not text:
            return None
        try:
            return float(
                parse_decimal(text, max_places=MOST_PLACES, least=Decimal("0.0001"), most=Decimal(100))
            )
        except InputError as error:
            raise forms.ValidationError(error.message, code=error.code) from None

    def clean_largest(self) -> Fraction | None:
        text = self.cleaned_data["largest"].strip()
        if not text:
            return None
        try:
            typed = parse_length(text, self.unit)
            if typed.value <= 0:
                raise InputError("zero", _("That is 0. Type a length, or leave it empty."))
        except InputError as error:
            raise forms.ValidationError(error.message, code=error.code) from None
        return convert(typed.value, typed.unit, self.unit)


def _low(label: object) -> str:
    return str(label).lower()

"""The forms of the set-up: where to start from, and every setting that a kind declares."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.html import format_html
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from design_challenges.kinds import KINDS
from design_challenges.kinds.base import Kind, SettingField
from design_challenges.services.lengths import parse_length
from design_challenges.services.numbers import LONGEST, InputError, parse_decimal
from design_challenges.services.rounding import round_half_up
from design_challenges.services.setup import grouped, setting_fields
from design_challenges.services.units import SYSTEMS, Unit, UnitSystem
from design_challenges.steps import Step
from design_challenges.words import Words

FINEST_PLACES = 3
"""Heights, loads, prices and limits are given to thousandths at the finest."""
FEW_CHOICES = 2
PLAIN = re.compile(r"[\s0-9.,+−-]*")
"""A number without a fraction or a unit."""


class StartForm(forms.Form):
    """Which challenge, which units, and which preset to start from."""

    kind = forms.ChoiceField(
        label=_("Challenge"),
        choices=[(kind.slug, kind.name) for kind in KINDS.values()],
        widget=forms.RadioSelect,
        error_messages={
            "required": _("Choose a challenge."),
            "invalid_choice": _("Choose a challenge from the list."),
        },
    )
    unit_system = forms.ChoiceField(
        label=_("Units"),
        help_text=_("What the tapes in your room show."),
        choices=[(system.slug, system.name) for system in SYSTEMS.values()],
        widget=forms.RadioSelect,
        error_messages={
            "required": _("Choose the units your tapes show."),
            "invalid_choice": _("Choose one of these units."),
        },
    )
    preset = forms.ChoiceField(
        label=_("The children are"),
        widget=forms.RadioSelect,
        error_messages={
            "required": _("Choose a preset to start from."),
            "invalid_choice": _("Choose one of these presets."),
        },
    )

    def __init__(self, kind: Kind, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [
            (preset.slug, format_html("{}<small>{}</small>", preset.label, preset.help))
            for preset in kind.presets
        ]
        self.fields["preset"].choices = choices  # type: ignore[attr-defined]
        if len(KINDS) == 1:
            self.fields["kind"].widget = forms.HiddenInput()


class NumberField(forms.CharField):
    """A number as it is typed, with a point or a comma; its clean value is the number as plain text.

    With `length` it is a length in that unit, typed like every length: 14 ft 6 in is 14.5 in feet.
    """

    def __init__(self, setting: SettingField, length: Unit | None, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.setting, self.length = setting, length

    def to_python(self, value: Any) -> str:
        text = str(value or "")
        whole = self.setting.kind == "whole"
        try:
            if self.length is not None and not PLAIN.fullmatch(text):
                text = _in_unit(text, self.length)
            number = parse_decimal(
                text,
                max_places=0 if whole else FINEST_PLACES,
                least=self.setting.least,
                most=self.setting.most,
            )
        except InputError as error:
            raise forms.ValidationError(str(error), code=error.code) from None
        return f"{number.normalize():f}"


def _in_unit(text: str, unit: Unit) -> str:
    """Return a typed length as a decimal in a unit."""
    if len(text) > LONGEST:
        raise InputError("too_long", _("That is too long. Type just the length."))
    value = parse_length(text, unit).in_unit(unit)
    if 10**FINEST_PLACES % value.denominator:
        nearest = f"{round_half_up(value, FINEST_PLACES):f}"
        raise InputError(
            "fine",
            format_lazy(
                _("That is about {nearest} {unit}. Type it so, or to a rounder mark."),
                nearest=nearest,
                unit=unit.symbol,
            ),
        )
    return f"{Decimal(value.numerator) / value.denominator:f}"


class FractionField(forms.CharField):
    """A whole number or a fraction like 1/4; its clean value is that text."""

    def to_python(self, value: Any) -> str:
        text = str(value or "").strip()
        if not re.fullmatch(r"[1-9][0-9]{0,3}(/[1-9][0-9]{0,3})?", text):
            raise forms.ValidationError(_("Type a whole number or a fraction, like 1/4."))
        return text


def build_field(setting: SettingField, system: UnitSystem) -> forms.Field:
    """Return the form field that a declared setting asks for, with its unit."""
    unit: Words = setting.unit(system) if setting.unit else ""
    if setting.choices:
        return _choice_field(setting, unit)
    attrs: dict[str, Any] = {"autocomplete": "off"}
    if unit:
        attrs["unit"] = unit
    if setting.kind == "fraction":
        return FractionField(
            label=setting.label,
            help_text=setting.help,
            required=False,
            widget=forms.TextInput(attrs={**attrs, "class": "short", "quiet_optional": True}),
        )
    length = setting.length(system) if setting.length else None
    if length is None:
        # A keypad for numbers has no room for 14 ft 6 in.
        attrs["inputmode"] = "numeric" if setting.kind == "whole" else "decimal"
    # Not `required`: an empty field gets our own message, which says what to type.
    return NumberField(
        setting,
        length,
        label=setting.label,
        help_text=setting.help,
        required=False,
        widget=forms.TextInput(attrs={**attrs, "quiet_optional": True}),
    )


def _choice_field(setting: SettingField, unit: Words) -> forms.ChoiceField:
    few = len(setting.choices) <= FEW_CHOICES and not unit
    widget: forms.Widget = (
        forms.RadioSelect(attrs={"class": "choices-plain"})
        if few
        else forms.Select(attrs={"unit": unit} if unit else {})
    )
    return forms.ChoiceField(
        label=setting.label,
        help_text=setting.help,
        choices=[*setting.choices],
        widget=widget,
        error_messages={
            "required": _("Choose one of these."),
            "invalid_choice": _("Choose one of these."),
        },
    )


class SettingsForm(forms.Form):
    """Every setting of a kind in one unit system; `texts()` is what a version stores."""

    def __init__(
        self,
        kind: Kind,
        unit_system: str,
        data: Mapping[str, Any] | None = None,
        *,
        first: bool = False,
        least_rounds: int = 1,
        **kwargs: Any,
    ) -> None:
        super().__init__(data, **kwargs)
        self.kind, self.unit_system, self.least_rounds = kind, unit_system, least_rounds
        for setting in setting_fields(kind):
            self.fields[setting.slug] = build_field(setting, SYSTEMS[unit_system])
        if first:
            self.fields["open_steps"] = forms.MultipleChoiceField(
                label=_("Open from the start"),
                help_text=_("Round 1. Steps without a tick wait until you open them on the dashboard."),
                choices=Step.choices,
                initial=Step.values,
                required=False,
                widget=forms.CheckboxSelectMultiple(attrs={"class": "choices-plain", "quiet_optional": True}),
                error_messages={"invalid_choice": _("Choose from these steps.")},
            )

    def clean_rounds(self) -> str:
        text: str = self.cleaned_data["rounds"]
        if Decimal(text) < self.least_rounds:
            raise forms.ValidationError(
                _("A team has begun round %(number)d already. Type that or more."),
                params={"number": self.least_rounds},
            )
        return text

    def groups(self) -> Iterator[tuple[Words, list[forms.BoundField]]]:
        """Return the fields by group, as the page shows them."""
        for title, settings in grouped(self.kind):
            yield title, [self[setting.slug] for setting in settings]

    def texts(self) -> dict[str, str]:
        """Return the settings as text, once the form is valid."""
        return {
            "unit_system": self.unit_system,
            **{setting.slug: self.cleaned_data[setting.slug] for setting in setting_fields(self.kind)},
        }

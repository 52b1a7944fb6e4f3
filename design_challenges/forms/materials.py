"""The form of the materials list: how many devices, how large, and what sheets and string are on hand."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from design_challenges.kinds.base import Needs
from design_challenges.services.lengths import check_length, format_length, parse_length
from design_challenges.services.materials import Order, Stock
from design_challenges.services.numbers import InputError
from design_challenges.services.units import Unit, UnitSystem

STOCKS = 3
LARGEST = Fraction(100)
"""The longest roll that can be meant, in metres."""


class SizeField(forms.CharField):
    """A length in the class's unit, or in the unit typed behind it; its clean value is exact."""

    def __init__(self, unit: Unit, *, least: Fraction = Fraction(1, 100), **options: Any) -> None:
        attrs = {"class": "short", "autocomplete": "off", "unit": unit.symbol, "quiet_optional": True}
        super().__init__(widget=forms.TextInput(attrs=attrs), **options)
        self.length_unit, self.least = unit, least

    def clean(self, value: Any) -> Any:
        text = str(super().clean(value) or "").strip()
        if not text:
            return None
        try:
            length = parse_length(text, self.length_unit)
            if length.value or self.least:
                check_length(length, self.least, LARGEST / self.length_unit.metres, self.length_unit)
        except InputError as error:
            raise forms.ValidationError(error.message, code=error.code) from None
        return length.in_unit(self.length_unit)


def _count(label: Any, most: int, *, least: int = 0, **options: Any) -> forms.IntegerField:
    said = format_lazy(_("Type a whole number from {least} to {most}."), least=least, most=most)
    return forms.IntegerField(
        label=label,
        min_value=least,
        max_value=most,
        widget=forms.TextInput(
            attrs={"class": "short", "inputmode": "numeric", "autocomplete": "off", "quiet_optional": True}
        ),
        error_messages=dict.fromkeys(("required", "invalid", "min_value", "max_value"), said),
        **options,
    )


class MaterialsForm(forms.Form):
    """Everything the list is worked out from; what a class's settings say stands there already."""

    def __init__(self, data: Any, needs: Needs, system: UnitSystem, teams: int, rounds: int) -> None:
        usual = _usual(needs, system, teams, rounds)
        # The list is worked out at once, from the usual values where nothing was typed yet.
        super().__init__({**usual, **(data.dict() if data else {})}, auto_id="id_%s")
        self._needs = needs
        unit = system.length
        needed = _("Type a length, like 12.")
        self.fields.update(
            {
                "teams": _count(_("Teams"), 60, least=1),
                "rounds": _count(_("Rounds"), 9, least=1),
                "spares": _count(
                    _("More devices"), 60, help_text=_("The reference device, and spares for what tears.")
                ),
                "across": SizeField(
                    unit,
                    label=_("Way across the piece"),
                    help_text=_("Filled in: the widest one the limit allows."),
                    error_messages={"required": needed},
                ),
                "gap": SizeField(
                    unit,
                    least=Fraction(0),
                    required=False,
                    label=_("Room between two pieces"),
                    help_text=_("For the scissors."),
                ),
                "line": SizeField(
                    unit, label=_("One line"), help_text=needs.why_line, error_messages={"required": needed}
                ),
                "margin": _count(_("Margin for string"), 200, help_text=_("For knots and slips.")),
            }
        )
        self.fields["margin"].widget.attrs["unit"] = "%"
        for place in range(1, STOCKS + 1):
            label = {"n": place}
            self.fields[f"width_{place}"] = SizeField(
                unit, required=False, label=format_lazy(_("Sheet {n}, width"), **label)
            )
            self.fields[f"length_{place}"] = SizeField(
                unit, required=False, label=format_lazy(_("Sheet {n}, length"), **label)
            )
            self.fields[f"count_{place}"] = _count(
                format_lazy(_("Sheet {n}, how many"), **label), 1000, required=False
            )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        for place in range(1, STOCKS + 1):
            names = [f"{part}_{place}" for part in ("width", "length", "count")]
            if any(name in self.errors for name in names):
                continue
            missing = [name for name in names if data.get(name) in (None, "")]
            if 0 < len(missing) < len(names):
                for name in missing:
                    self.add_error(name, _("Type this, too, or leave all three of this sheet empty."))
        return data

    def order(self) -> Order:
        """Return what is to be cut, once the form is valid."""
        data = self.cleaned_data
        return Order(
            teams=data["teams"],
            rounds=data["rounds"],
            spares=data["spares"],
            across=data["across"],
            gap=data["gap"] or Fraction(0),
            line_count=self._needs.line_count,
            line=data["line"],
            margin_per_cent=data["margin"],
        )

    def stocks(self) -> list[Stock]:
        """Return the sheets on hand, once the form is valid."""
        data = self.cleaned_data
        rows = [(data[f"width_{n}"], data[f"length_{n}"], data[f"count_{n}"]) for n in range(1, STOCKS + 1)]
        return [Stock(width, length, count) for width, length, count in rows if width and count]

    def stock_rows(self) -> list[list[forms.BoundField]]:
        """Return the fields of each sort of sheet."""
        return [
            [self[f"{part}_{place}"] for part in ("width", "length", "count")]
            for place in range(1, STOCKS + 1)
        ]


def _usual(needs: Needs, system: UnitSystem, teams: int, rounds: int) -> dict[str, str]:
    unit = system.length

    def written(value: Fraction) -> str:
        return format_length(value, unit, Fraction(1, 8))

    in_inches = unit.slug == "in"
    return {
        "teams": str(max(1, teams)),
        "rounds": str(rounds),
        "spares": "1",
        "across": written(needs.largest),
        "gap": "1/2" if in_inches else "1",
        "line": written(needs.line),
        "margin": "10",
        "width_1": "24" if in_inches else "60",
        "length_1": "30" if in_inches else "75",
        "count_1": "10",
    }

"""The field of a length: typed as children write it, or tapped as a whole number and a part of an inch."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from design_challenges.services.lengths import Length, check_length, format_length, parse_length
from design_challenges.services.numbers import LONGEST, InputError
from design_challenges.services.tape import Tape, draw
from design_challenges.services.units import IMPERIAL, Unit

PART = "_part"
"""What the name of the part's buttons adds to the name of the field."""
MOST_PARTS = 8


@dataclass(frozen=True)
class PartChoice:
    """One button for a part of an inch."""

    value: str
    id: str
    checked: bool


def join_part(typed: str, part: str) -> str:
    """Return what was typed with the tapped part of an inch: 13 and 1/2 make 13 1/2.

    The same part typed and tapped counts once; where both say something else, both are kept, so that the
    length is asked about and nothing is guessed.
    """
    typed, part = typed.strip(), part.strip()
    if not part or part == "0" or typed == part or typed.endswith((f" {part}", f"-{part}")):
        return typed
    return f"{typed} {part}".strip()


class LengthInput(forms.TextInput):
    """A text box whose value takes in the part that was tapped beside it."""

    def value_from_datadict(self, data: Mapping[str, Any], files: Any, name: str) -> Any:
        typed = super().value_from_datadict(data, files, name)
        part = data.get(f"{name}{PART}")
        return typed if part is None else join_part(str(typed or ""), str(part))


class BoundLength(forms.BoundField):
    """A length's field on a page, with the buttons and the tape that stand beside it."""

    field: LengthField

    @property
    def beside(self) -> bool:
        """Return whether the page shows buttons and a tape."""
        return self.field.beside

    @property
    def parts(self) -> Sequence[PartChoice]:
        """Return the buttons for the parts of an inch that the class's tape has; none for other units."""
        part = self._part()
        return [
            PartChoice(text, f"{self.auto_id}{PART}_{index}", text == part)
            for index, text in enumerate(self.field.part_texts())
        ]

    def _part(self) -> str:
        """The part that stands in the box already, so that the buttons show it."""
        typed = str(self.value() or "").strip()
        return next((text for text in self.field.part_texts() if f" {typed}".endswith(f" {text}")), "")

    @property
    def tape(self) -> Tape | None:
        """Return the tape with what stands in the box marked on it."""
        return draw_typed(str(self.value() or ""), self.field.unit, self.field.division)


def draw_typed(typed: str, unit: Unit, division: Fraction) -> Tape | None:
    """Return the tape with a typed length marked on it, and with none where that cannot be read or drawn.

    None is for a division that no tape has.
    """
    return draw(_lengths_in(typed, unit), unit, division) or draw([], unit, division)


def _lengths_in(typed: str, unit: Unit) -> list[Fraction]:
    if len(typed) > LONGEST:
        return []
    try:
        return [parse_length(typed, unit).in_unit(unit)]
    except InputError:
        return []


class LengthField(forms.CharField):
    """A length as a child types it; its clean value is a `Length`, checked against tape and bounds.

    With `beside` a page shows buttons for the parts of an inch and a drawn tape; `mended` may put an
    error in other words.
    """

    bound_field_class = BoundLength

    def __init__(
        self,
        *,
        unit: Unit,
        division: Fraction,
        least: Fraction,
        most: Fraction,
        beside: bool = False,
        big: bool = False,
        mended: Callable[[InputError], Any] | None = None,
        **kwargs: Any,
    ) -> None:
        # A keypad for decimals has no slash, and inches are read in fractions.
        keypad = {} if unit in IMPERIAL else {"inputmode": "decimal"}
        kwargs["widget"] = LengthInput(
            attrs={
                "autocomplete": "off",
                "spellcheck": "false",
                "class": "big" if big else "numeric",
                "unit": unit.symbol,
                "quiet_optional": True,
                **keypad,
            }
        )
        # Our own words for an empty field: the tape is at hand.
        super().__init__(required=False, **kwargs)
        self.unit, self.division, self.least, self.most = unit, division, least, most
        self.beside, self.mended = beside, mended

    def part_texts(self) -> list[str]:
        """Return the parts of an inch as they stand on the buttons, 0 first."""
        count = 1 / self.division
        if self.unit not in IMPERIAL or count.denominator != 1 or count.numerator not in (2, 4, MOST_PARTS):
            return []
        marks = [index * self.division for index in range(count.numerator)]
        return [format_length(mark, self.unit, self.division) for mark in marks]

    def clean(self, value: Any) -> Any:
        text = str(super().clean(value))
        try:
            return self._read(text)
        except InputError as error:
            message = error.message if self.mended is None else self.mended(error)
            raise forms.ValidationError(message, code=error.code) from None

    def _read(self, text: str) -> Length:
        if len(text) > LONGEST:
            raise InputError("too_long", _("That is too long. Type just the length."))
        length = parse_length(text, self.unit)
        check_length(length, self.least, self.most, self.unit)
        return parse_length(text, self.unit, division=self.division)

"""Reading and writing a length as children do: 13.5, 13 1/2, 13½, 1 ft 2 in, 34,3 cm; always exact."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from .numbers import LONGEST, InputError, decimal_places, read_plain, shown
from .units import CENTIMETRE, DECIMAL, FOOT, IMPERIAL, INCH, METRE, MILLIMETRE, Unit, convert

_UNIT_WORDS: dict[str, Unit] = {
    **dict.fromkeys(("in", "ins", "inch", "inches", '"', "″", "“", "”", "''", "’’", "′′"), INCH),
    **dict.fromkeys(("ft", "foot", "feet", "'", "′", "‘", "’"), FOOT),
    **dict.fromkeys(("mm", "millimetre", "millimetres", "millimeter", "millimeters"), MILLIMETRE),
    **dict.fromkeys(("cm", "centimetre", "centimetres", "centimeter", "centimeters"), CENTIMETRE),
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), METRE),
}
_UNIT = re.compile(r"''|’’|′′|[\"″“”'′‘’]|[A-Za-z]+\.?")
_NUMBER = re.compile(r"[0-9.,]+")
_FRACTION = re.compile(r"([0-9]+)\s*[/⁄]\s*([0-9]+)")
_JOIN = re.compile(r"\s+|[-–]")
_SIGNS = "+-−–—"
_LARGEST_DENOMINATOR = 100


@dataclass(frozen=True)
class Length:
    """A length as written: `value` in `unit`, exactly; `division` is the finest part of the unit written."""

    value: Fraction
    unit: Unit
    typed: str
    division: Fraction

    def in_unit(self, unit: Unit) -> Fraction:
        """The value in another unit, exactly."""
        return convert(self.value, self.unit, unit)


class _Number(NamedTuple):
    value: Fraction
    division: Fraction
    end: int


def _unreadable(text: str, position: int) -> InputError:
    rest, before = shown(text[position:].strip()), shown(text[:position].strip())
    if not before:
        message = format_lazy(_("I can’t read “{rest}”. Start with a number, like 13 1/2."), rest=rest)
    else:
        message = format_lazy(_("I can read “{before}” but not “{rest}” after it."), before=before, rest=rest)
    return InputError("unreadable", message, position)


def _spaced_fractions(text: str) -> str:
    """13½ becomes 13 1⁄2, so that one road reads every fraction."""
    return "".join(
        " " + unicodedata.normalize("NFKC", char) + " "
        if unicodedata.decomposition(char).startswith("<fraction>")
        else char
        for char in text
    ).strip()


def _skip_space(text: str, at: int) -> int:
    while at < len(text) and text[at].isspace():
        at += 1
    return at


def _read_fraction(match: re.Match[str], whole: str | None) -> Fraction:
    top, bottom = int(match[1]), int(match[2])
    if not 1 <= bottom <= _LARGEST_DENOMINATOR:
        raise InputError(
            "denominator", _("Check the bottom number of the fraction, like 2 in 1/2."), match.start(2)
        )
    if whole is not None and not 0 < top < bottom:
        raise InputError(
            "fraction", _("The fraction must be less than one whole, like 13 1/2."), match.start()
        )
    if whole is None and top > bottom and top > 9:
        # 131/2 is sixty-five and a half to a calculator and thirteen and a half to the child.
        raise InputError(
            "fraction_space",
            format_lazy(
                _("Put a space before the fraction: {whole} {top}/{bottom}. Or is it {typed}?"),
                whole=match[1][:-1],
                top=match[1][-1],
                bottom=match[2],
                typed=f"{top // bottom} {top % bottom}/{bottom}" if top % bottom else str(top // bottom),
            ),
            match.start(),
        )
    return Fraction(top, bottom)


def _read_number(text: str, at: int) -> _Number:
    """One number with its fraction, from `at` on."""
    if at < len(text) and text[at] in _SIGNS:
        raise InputError("sign", _("Type the length without plus or minus in front."), at)
    if alone := _FRACTION.match(text, at):
        return _Number(_read_fraction(alone, None), Fraction(1, int(alone[2])), alone.end())
    match = _NUMBER.match(text, at)
    if match is None:
        raise _unreadable(text, at)
    try:
        value = read_plain(match[0])
    except InputError as error:
        if error.code == "unreadable":
            raise _unreadable(text, at) from None
        raise InputError(error.code, error.message, at) from None
    places, end = decimal_places(value), match.end()
    join = _JOIN.match(text, end)
    part = _FRACTION.match(text, join.end()) if join else None
    if part is None:
        return _Number(Fraction(value), Fraction(1, 10**places), end)
    if places:
        raise InputError(
            "two_parts", _("Use a point or a fraction, not both, like 13.5 or 13 1/2."), part.start()
        )
    return _Number(Fraction(value) + _read_fraction(part, match[0]), Fraction(1, int(part[2])), part.end())


def _read_unit(text: str, at: int) -> tuple[Unit | None, int]:
    at = _skip_space(text, at)
    match = _UNIT.match(text, at)
    if match is None:
        return None, at
    unit = _UNIT_WORDS.get(match[0].rstrip(".").lower())
    if unit is None:
        raise InputError(
            "unit",
            format_lazy(
                _("I don’t know the unit “{typed}”. Use in, ft, cm, mm or m."), typed=shown(match[0])
            ),
            at,
        )
    return unit, _skip_space(text, match.end())


def parse_length(text: str, default_unit: Unit, *, division: Fraction | None = None) -> Length:
    """The length that was typed, exactly, with its unit and the finest division written.

    The unit may be left out: `default_unit` is meant. Feet go with inches and metres with smaller ones
    (`1 ft 2 in`), and the value then is in the last unit. With `division`, the class's tape in
    `default_unit`, a value in that unit that is no mark on the tape is asked about. Bounds are the
    caller's, by `check_length`. Raises InputError, saying what could not be read and where; what could
    mean two things (`1,234`, `131/2`) is asked about and never guessed.
    """
    clean = text.strip()
    if not clean:
        raise InputError("empty", _("Type a length here, like 13 1/2."))
    if len(clean) > LONGEST:
        raise InputError("too_long", _("That is too long. Type just the length."))
    clean = _spaced_fractions(clean)
    number = _read_number(clean, 0)
    unit, at = _read_unit(clean, number.end)
    length = Length(number.value, unit or default_unit, text, number.division)
    while at < len(clean):
        if unit is None:
            raise _unreadable(clean, at)
        number = _read_number(clean, at)
        smaller, end = _read_unit(clean, number.end)
        length = _joined(length, number, smaller, text, at)
        unit, at = smaller, end
    if division is not None and length.unit == default_unit:
        check_mark(length, division)
    return length


def _joined(first: Length, number: _Number, unit: Unit | None, text: str, at: int) -> Length:
    """The sum of `1 ft` and `2 in`, in inches."""
    if unit is None:
        raise InputError("unit_missing", _("Say which unit the last number is in, like 1 ft 2 in."), at)
    family = IMPERIAL if first.unit in IMPERIAL else DECIMAL
    if unit not in family or family.index(unit) <= family.index(first.unit):
        raise InputError("unit_order", _("Put the bigger unit first, like 1 ft 2 in or 1 m 20 cm."), at)
    if first.value.denominator != 1:
        raise InputError("two_parts", _("Use whole numbers for the bigger unit, like 1 ft 2 in."), at)
    return Length(first.in_unit(unit) + number.value, unit, text, number.division)


def is_written_in(typed: str, unit: Unit) -> bool:
    """Return whether a length that was read names no unit but `unit`, or none at all ('13', '13 in')."""
    named = (_UNIT_WORDS.get(word.rstrip(".").lower()) for word in _UNIT.findall(typed))
    return all(found in (None, unit) for found in named)


def check_length(length: Length, least: Fraction, most: Fraction, unit: Unit | None = None) -> None:
    """Raise InputError unless the length lies from `least` to `most`, both allowed.

    The bounds are in `unit`, or in the length's own unit where that is left out.
    """
    unit = unit or length.unit
    value = length.in_unit(unit)
    if value == 0:
        raise InputError("zero", _("That is zero. Measure again from the 0 on the tape."))
    if value < least:
        raise InputError(
            "too_small",
            format_lazy(
                _("That is very small. Type {least} {unit} or more."),
                least=format_length(least, unit, Fraction(1)),
                unit=unit.symbol,
            ),
        )
    if value > most:
        raise InputError(
            "too_large",
            format_lazy(
                _("That is very big. Type {most} {unit} or less, or check the unit."),
                most=format_length(most, unit, Fraction(1)),
                unit=unit.symbol,
            ),
        )


def check_mark(length: Length, division: Fraction) -> None:
    """Raise InputError if the length falls on no mark of a tape with a mark every `division` units.

    It asks which mark it is: 13.2 is most often 13 1/2 written with the bottom number as a decimal.
    """
    if (length.value / division).denominator == 1:
        return
    below = length.value // division * division
    meant = _meant_fraction(length, division)
    asked = _("{typed} is no mark on your tape. Look again: is it nearer {below} or {above}?")
    if meant is not None and meant not in (below, below + division):
        asked = _("{typed} is no mark on your tape. Look again: is it {meant}? Or nearer {below} or {above}?")
    raise InputError(
        "off_mark",
        format_lazy(
            asked,
            typed=format_length(length.value, length.unit, length.division),
            meant="" if meant is None else format_length(meant, length.unit, division),
            below=format_length(below, length.unit, division),
            above=format_length(below + division, length.unit, division),
        ),
    )


def _meant_fraction(length: Length, division: Fraction) -> Fraction | None:
    """13 1/2 where 13.2 was written: one over the decimal, if the tape has such a mark."""
    digit = (length.value % 1) * 10
    if length.unit not in IMPERIAL or length.division != Fraction(1, 10) or digit < 2:
        return None
    meant = length.value // 1 + 1 / digit
    return meant if (meant / division).denominator == 1 else None


def _places_needed(value: Fraction) -> int | None:
    """Decimals that write the value exactly, or None where no decimal ends (1/3)."""
    rest, twos, fives = value.denominator, 0, 0
    while rest % 2 == 0:
        rest, twos = rest // 2, twos + 1
    while rest % 5 == 0:
        rest, fives = rest // 5, fives + 1
    return max(twos, fives) if rest == 1 else None


def _is_binary(denominator: int) -> bool:
    return denominator & (denominator - 1) == 0


def format_length(value: Fraction, unit: Unit, division: Fraction) -> str:
    """The value, at least 0, as it stands on a tape, without its unit: '13 1/2' in inches, '34.5' in cm.

    Inches and feet are written in fractions where the division is a half, a quarter and so on, or where
    the division is whole; else in decimals. What is printed reads back as the same value, for every value
    that can be typed. Raises ValueError for a negative value.
    """
    if value < 0:
        raise ValueError(f"A length cannot be negative: {value}")
    places = _places_needed(value)
    fractions = unit in IMPERIAL and _is_binary(value.denominator) and _is_binary(division.denominator)
    if places is not None and not fractions:
        return f"{Decimal(f'{value.numerator * 10**places // value.denominator}E-{places}'):f}"
    whole, part = divmod(value.numerator, value.denominator)
    if not part:
        return str(whole)
    return f"{whole} {part}/{value.denominator}" if whole else f"{part}/{value.denominator}"


def format_with_unit(value: Fraction, unit: Unit, division: Fraction) -> str:
    """As `format_length`, with a no-break space and the unit's symbol: '13 1/2 in'."""
    return f"{format_length(value, unit, division)}\N{NO-BREAK SPACE}{unit.symbol}"

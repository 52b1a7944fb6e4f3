"""Reading a plain number as a child types it, and the one error that says how to mend what was typed."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import TYPE_CHECKING

from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

LONGEST = 40
"""Nobody writes a number or a length in more characters than this."""

_PLAIN = re.compile(r"[0-9]+|[0-9]*[.,][0-9]+")
_EXPONENT = re.compile(r"[0-9.,]+\s*[eE]\s*[+-]?[0-9]+")
_SIGNS = "+-−–—"


class InputError(ValueError):
    """What was typed cannot be read; `message` says how to mend it, in words a nine-year-old reads.

    `code` names the reason for tests and styles; `position` is the index where reading stopped, where that
    is known (in the trimmed text, with spaces round ½ and its like).
    """

    def __init__(self, code: str, message: StrOrPromise, position: int | None = None) -> None:
        super().__init__(code)
        self.code = code
        self.message = message
        self.position = position

    def __str__(self) -> str:
        return str(self.message)


def shown(text: str) -> str:
    """What was typed, shortened so that it fits into a message."""
    return text if len(text) <= 20 else f"{text[:20]}…"


def read_plain(text: str) -> Decimal:
    """One unsigned number with a decimal point or a decimal comma, exactly as written.

    Raises InputError for anything else; `1,234` could be a thousand or one and a bit, so it is asked about.
    """
    if not text:
        raise InputError("empty", _("Type a number here."))
    if len(text) > LONGEST:
        raise InputError("too_long", _("That is too long. Type just the number."))
    if _EXPONENT.fullmatch(text):
        raise InputError("exponent", _("Write the number in full, without an e."))
    if text[0] in _SIGNS:
        raise InputError("sign", _("Type the number without plus or minus in front."))
    if len(re.findall(r"[.,]", text)) > 1:
        raise InputError("separators", _("There are two points or commas. Type just one."))
    if text[-1] in ".,":
        raise InputError(
            "unfinished", _("The number stops after the point. Type the rest, or take the point away.")
        )
    if not _PLAIN.fullmatch(text):
        raise InputError(
            "unreadable",
            format_lazy(_("I can’t read “{typed}”. Type just a number, like 4.6."), typed=shown(text)),
        )
    whole, comma, part = text.partition(",")
    if comma and len(part) == 3 and 1 <= len(whole) <= 3 and whole[0] != "0":
        raise InputError(
            "thousands",
            format_lazy(
                _("Do you mean {small} or {large}? Type the one you mean."),
                small=f"{whole}.{part}",
                large=f"{whole}{part}",
            ),
        )
    return Decimal(text.replace(",", "."))


def decimal_places(value: Decimal) -> int:
    """How many digits stand after the point (0 for whole numbers)."""
    exponent = value.as_tuple().exponent
    return max(0, -exponent) if isinstance(exponent, int) else 0


def parse_decimal(
    text: str,
    *,
    max_places: int | None = None,
    least: Decimal | None = None,
    most: Decimal | None = None,
) -> Decimal:
    """The number that was typed, exactly: `1,5` and `1.5` are both one and a half.

    `max_places` is how many digits may follow the point, `least` and `most` are the bounds, both allowed
    themselves; spaces round the number are dropped. Raises InputError for everything that is not one
    unsigned plain number within them.
    """
    value = read_plain(text.strip())
    if max_places is not None and decimal_places(value) > max_places:
        if max_places == 0:
            raise InputError("places", _("Type a whole number, with nothing after the point."))
        raise InputError(
            "places",
            format_lazy(_("Too many digits after the point. Type {places} at most."), places=max_places),
        )
    if least is not None and value < least:
        raise InputError(
            "too_small", format_lazy(_("That is too small. Type {least} or more."), least=f"{least:f}")
        )
    if most is not None and value > most:
        raise InputError(
            "too_large", format_lazy(_("That is too big. Type {most} or less."), most=f"{most:f}")
        )
    return value

"""How numbers are written in what is claimed: the figure's unit and places, half-up, a real minus."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from design_challenges.kinds.base import Performance, ReadingWords, Variable
from design_challenges.services.rounding import format_figure, shortest
from design_challenges.services.units import UnitSystem

MINUS = "\N{MINUS SIGN}"
SPACE = "\N{NO-BREAK SPACE}"


@dataclass(frozen=True)
class Speech:
    """One class's way of writing: its figure, its units and its design variables by slug."""

    performance: Performance
    system: UnitSystem
    readings: ReadingWords
    variables: dict[str, Variable]

    def number(self, value: float) -> str:
        """A figure, one place finer than the class has it, without its unit."""
        return _written(value, self.performance.places + 1)

    def figure(self, value: float) -> str:
        """A figure, one place finer than the class has it, with its unit."""
        return self.with_unit(self.number(value))

    def with_unit(self, text: str) -> str:
        return f"{text}{SPACE}{self.performance.unit}"

    def change(self, value: float) -> str:
        """A change of the figure with its sign, without its unit."""
        text = self.number(value)
        return f"+{text}" if value > 0 and any(digit in text for digit in "123456789") else text

    def label(self) -> str:
        """What is compared, as it stands inside a sentence."""
        return str(self.performance.label).lower()

    def worst(self) -> str:
        return str(_("highest") if self.performance.lower_is_better else _("lowest"))

    def size(self, variable: str, value: Fraction) -> str:
        """A size of the design with its unit."""
        known = self.variables[variable]
        return f"{shortest(value, known.places):f}{SPACE}{known.unit(self.system)}"

    def variable(self, slug: str) -> str:
        return str(self.variables[slug].label).lower()


def _written(value: float, places: int) -> str:
    text = format_figure(Decimal(repr(value)), places)
    return text.replace("-", MINUS)


def plain(value: float, places: int) -> str:
    """A bare number, rounded half-up."""
    return _written(value, places)


def seconds(value: float) -> str:
    """A time in hundredths with its unit."""
    return f"{_written(value, 2)}{SPACE}s"


def per_cent(share: float) -> str:
    """A share as a whole percentage."""
    return f"{_written(100 * share, 0)}{SPACE}%"


def probability(value: float | Fraction) -> str:
    """A probability to four places at most; very small ones only as under 0.001."""
    if value < 0.001:
        return str(_("under 0.001"))
    exact = value if isinstance(value, Fraction) else Decimal(repr(float(value)))
    return f"{shortest(exact, 4):f}"


def p(value: float | Fraction) -> str:
    """A probability as it stands after a p: '= 0.0067' or '< 0.001'."""
    return "< 0.001" if value < 0.001 else f"= {probability(value)}"


def times(value: float) -> str:
    """How many times as much, for a ratio that may be endless."""
    return str(_("many")) if math.isinf(value) or value >= 100 else _written(value, 1)


def drops(count: int) -> str:
    return ngettext("{n} drop", "{n} drops", count).format(n=count)


def teams(count: int) -> str:
    return ngettext("{n} team", "{n} teams", count).format(n=count)


def designs(count: int) -> str:
    return ngettext("{n} design", "{n} designs", count).format(n=count)


def together(names: Iterable[str], most: int = 99) -> str:
    """Names in a row: 'Gannet', 'Gannet and Heron', 'Gannet, Heron and Skua', 'Gannet, Heron and 4 more'."""
    listed = list(names)
    if len(listed) > most:
        listed[most - 1 :] = [_("{n} more").format(n=len(listed) - most + 1)]
    if len(listed) < 2:
        return "".join(listed)
    return _("{some} and {last}").format(some=", ".join(listed[:-1]), last=listed[-1])

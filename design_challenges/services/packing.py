"""How many round pieces come out of a sheet, cut from squares or from staggered rows; pure geometry."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import isqrt, pi
from typing import Literal

Way = Literal["squares", "staggered"]


@dataclass(frozen=True)
class Cutting:
    """One way of cutting circles from a sheet.

    `rows` is how many circles lie in each row, from the first row on; `turned` says that the rows run
    along the sheet's `width` (False) or along its `length` (True).
    """

    way: Way
    rows: tuple[int, ...]
    turned: bool = False

    @property
    def count(self) -> int:
        return sum(self.rows)


def cut_squares(across: Fraction, width: Fraction, length: Fraction) -> Cutting:
    """Return the circles of diameter `across` that come out of squares of that side, row behind row.

    All three are in one unit and above 0; ValueError otherwise.
    """
    _check(across, width, length)
    return Cutting("squares", (int(width // across),) * int(length // across) if width >= across else ())


def cut_staggered(across: Fraction, width: Fraction, length: Fraction) -> Cutting:
    """Return the circles of diameter `across` that come out of rows each shifted by half a circle.

    Rows of touching circles lie d·√3/2 apart, so k rows need d + (k − 1)·d·√3/2; every second row is
    shifted by d/2 and holds one circle fewer where the sheet is not half a circle wider than the row. Rows
    are tried along both sides and the better way is returned. Compared are squares of exact fractions, so
    that no rounding gains or loses a row. All three are in one unit and above 0; ValueError otherwise.
    """
    _check(across, width, length)
    along, turned = _staggered(across, width, length), _staggered(across, length, width)
    if sum(turned) > sum(along):
        return Cutting("staggered", turned, turned=True)
    return Cutting("staggered", along)


def best_cutting(across: Fraction, width: Fraction, length: Fraction) -> Cutting:
    """Return whichever way gives more circles; squares, which are easier to cut, where both give as many."""
    squares, staggered = cut_squares(across, width, length), cut_staggered(across, width, length)
    return staggered if staggered.count > squares.count else squares


def share_used(across: Fraction, width: Fraction, length: Fraction, count: int) -> float:
    """Return the part of a sheet, from 0 to 1, that `count` circles of diameter `across` use."""
    _check(across, width, length)
    return count * pi / 4 * float(across * across / (width * length))


def _staggered(across: Fraction, width: Fraction, length: Fraction) -> tuple[int, ...]:
    if width < across or length < across:
        return ()
    full = int(width // across)
    shifted = full if width - full * across >= across / 2 else full - 1
    # (k − 1)·d·√3/2 ≤ length − d, squared: (k − 1)² ≤ 4·(length − d)² / (3·d²).
    room = 4 * (length - across) ** 2 / (3 * across**2)
    rows = 1 + isqrt(int(room))
    return tuple(shifted if row % 2 else full for row in range(rows))


def _check(across: Fraction, width: Fraction, length: Fraction) -> None:
    if min(across, width, length) <= 0:
        raise ValueError("A circle and a sheet have sizes above 0.")

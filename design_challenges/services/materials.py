"""A class's materials list: round pieces out of the sheets on hand, and string for all lines; pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from design_challenges.services.packing import Cutting, best_cutting, cut_squares, cut_staggered, share_used


@dataclass(frozen=True)
class Stock:
    """Sheets of one size on hand (a roll is one long sheet): sides in the class's length unit, how many."""

    width: Fraction
    length: Fraction
    count: int


@dataclass(frozen=True)
class Order:
    """What is to be cut: lengths in the class's length unit, `gap` the room between two pieces."""

    teams: int
    rounds: int
    spares: int
    across: Fraction
    gap: Fraction
    line_count: int
    line: Fraction
    margin_per_cent: int

    @property
    def devices(self) -> int:
        return self.teams * self.rounds + self.spares


@dataclass(frozen=True)
class FromStock:
    """What comes out of one sort of sheet: each way of cutting one, the better one, and all of them."""

    stock: Stock
    squares: Cutting
    staggered: Cutting
    best: Cutting
    total: int
    used: float


@dataclass(frozen=True)
class Materials:
    """The whole list: pieces wanted, had and missing, and the string for all lines with its margin."""

    order: Order
    stocks: tuple[FromStock, ...]
    string: Fraction

    @property
    def pieces_had(self) -> int:
        return sum(stock.total for stock in self.stocks)

    @property
    def pieces_missing(self) -> int:
        return max(0, self.order.devices - self.pieces_had)

    @property
    def sheets_missing(self) -> int | None:
        """Return how many more sheets of the most yielding size would do; None where no size yields any."""
        most = max((stock.best.count for stock in self.stocks), default=0)
        return -(-self.pieces_missing // most) if most else None


def work_out(order: Order, stocks: Sequence[Stock]) -> Materials:
    """Return the materials list of an order.

    Pieces that are `gap` apart are cut as pieces wider by `gap` from a sheet wider and longer by `gap`: the
    gap lies between pieces, not at the edges. All lengths are above 0, the gap may be 0.
    """
    return Materials(order, tuple(_from(order, stock) for stock in stocks), string_wanted(order))


def string_wanted(order: Order) -> Fraction:
    """Return the string for the lines of every device, with the margin, in the class's length unit."""
    lines = order.devices * order.line_count * order.line
    return lines * (100 + order.margin_per_cent) / 100


def _from(order: Order, stock: Stock) -> FromStock:
    across, gap = order.across + order.gap, order.gap
    sides = stock.width + gap, stock.length + gap
    best = best_cutting(across, *sides)
    return FromStock(
        stock=stock,
        squares=cut_squares(across, *sides),
        staggered=cut_staggered(across, *sides),
        best=best,
        total=best.count * stock.count,
        used=share_used(order.across, stock.width, stock.length, best.count),
    )

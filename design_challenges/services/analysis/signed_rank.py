"""Wilcoxon's exact signed-rank probability over a class's changes, with ties and zeros."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from .counting import count_subsets
from .permutation import Exact

MOST = 60


@dataclass(frozen=True)
class SignedRank:
    """The rank sums of the positive and the negative changes, the zeros left out, and the probability."""

    positive: Fraction
    negative: Fraction
    zeros: int
    exact: Exact


def signed_rank(changes: Sequence[float]) -> SignedRank | None:
    """Rank the changes by size and count over all signs; None where no change differs from 0, or over 60 do.

    Zeros are left out (Wilcoxon), ties share their mean rank, and the count is over the ranks as they
    then are, so that it stays exact. Twice the smaller tail. Source: Wilcoxon (1945), Biometrics Bulletin 1.
    """
    moved = [change for change in changes if change != 0]
    if not moved or len(moved) > MOST:
        return None
    doubled = _doubled_ranks([abs(change) for change in moved])
    positive = sum(rank for rank, change in zip(doubled, moved, strict=True) if change > 0)
    negative = sum(doubled) - positive
    counts = count_subsets(doubled)
    signs = 2 ** len(moved)
    tail = sum(counts[: min(positive, negative) + 1])
    exact = Exact(min(Fraction(1), Fraction(2 * tail, signs)), min(Fraction(1), Fraction(2, signs)))
    return SignedRank(Fraction(positive, 2), Fraction(negative, 2), len(changes) - len(moved), exact)


def _doubled_ranks(sizes: Sequence[float]) -> list[int]:
    """Return twice the mean rank of each value, which is whole even where values tie."""
    ordered = sorted(sizes)
    first: dict[float, int] = {}
    last: dict[float, int] = {}
    for place, size in enumerate(ordered, start=1):
        first.setdefault(size, place)
        last[size] = place
    return [first[size] + last[size] for size in sizes]

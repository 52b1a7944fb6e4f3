"""How far two markers agree: percent and weighted kappa; pure.

Source: J. Cohen, Weighted kappa: nominal scale agreement with provision for scaled disagreement or
partial credit, Psychological Bulletin 70 (1968) 213-220, with weights 1 - |i - j| / (k - 1), which are
D. V. Cicchetti and T. Allison's (1971).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True)
class Agreement:
    """Two markers on the same places: how many, how many alike, how many one level apart, weighted kappa.

    `percent` is of the pairs, 0 to 100, exact; None without a pair. `kappa` is at most 1, 0 for no more
    than chance; None where chance alone would agree always (both gave one and the same level).
    """

    pairs: int
    alike: int
    one_apart: int
    kappa: Fraction | None

    @property
    def percent(self) -> Fraction | None:
        return Fraction(100 * self.alike, self.pairs) if self.pairs else None


def agreement(pairs: Sequence[tuple[int, int]], levels: int = 4) -> Agreement:
    """Return how far two markers agree on (first, second) levels, each 1 to `levels`.

    Raises ValueError for a level outside, or for fewer than two levels.
    """
    if levels < 2 or any(not 1 <= level <= levels for pair in pairs for level in pair):
        raise ValueError(f"Levels go from 1 to {levels}: {pairs}")
    return Agreement(
        pairs=len(pairs),
        alike=sum(first == second for first, second in pairs),
        one_apart=sum(abs(first - second) == 1 for first, second in pairs),
        kappa=_kappa(pairs, levels),
    )


def _kappa(pairs: Sequence[tuple[int, int]], levels: int) -> Fraction | None:
    """Weighted kappa as one less the ratio of distances: observed over expected by chance."""
    count = len(pairs)
    if not count:
        return None
    firsts = [sum(first == level for first, _second in pairs) for level in range(1, levels + 1)]
    seconds = [sum(second == level for _first, second in pairs) for level in range(1, levels + 1)]
    observed = sum(abs(first - second) for first, second in pairs)
    expected = sum(abs(i - j) * firsts[i] * seconds[j] for i in range(levels) for j in range(levels))
    return 1 - Fraction(observed * count, expected) if expected else None

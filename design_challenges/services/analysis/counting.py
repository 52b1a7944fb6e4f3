"""Counts of sums by dynamic programming, many at once in the digits of one large integer."""

from __future__ import annotations

from collections.abc import Iterable

SLOT_BITS = 64


class SumCounts:
    """How many ways there are to reach each sum from 0 on; a count must stay under 2⁶⁴."""

    def __init__(self, packed: int = 1) -> None:
        self._packed = packed

    def plus(self, other: SumCounts, shift: int) -> SumCounts:
        """These ways, and those of `other` with `shift` added to each sum (a whole number, 0 or more)."""
        return SumCounts(self._packed + (other._packed << (shift * SLOT_BITS)))

    def by_sum(self) -> memoryview:
        """The counts in the order of their sums, from 0 to the largest that can be reached."""
        size = SLOT_BITS // 8
        slots = max(1, -(-self._packed.bit_length() // SLOT_BITS))
        return memoryview(self._packed.to_bytes(slots * size, "little")).cast("Q")


def count_subsets(values: Iterable[int]) -> memoryview:
    """How many subsets have each sum; `values` whole numbers, 0 or more, fewer than 64 of them."""
    counts = SumCounts()
    for value in values:
        counts = counts.plus(counts, value)
    return counts.by_sum()


def count_choices(values: Iterable[int], size: int) -> memoryview:
    """How many choices of `size` of the values have each sum; `values` whole numbers, 0 or more."""
    by_size = [SumCounts(1)] + [SumCounts(0) for _ in range(size)]
    for value in values:
        for chosen in range(size, 0, -1):
            by_size[chosen] = by_size[chosen].plus(by_size[chosen - 1], value)
    return by_size[size].by_sum()

"""How soon an entry is on the device, held beside one bare row on the same machine in the same minute."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import median

# How long the browser takes for one durable row of its own.
BARE_MS = """async () => {
    const told = (asked) => new Promise((done) => { asked.onsuccess = () => done(asked.result); });
    const opening = indexedDB.open("bare", 1);
    opening.onupgradeneeded = () => opening.result.createObjectStore("rows", {autoIncrement: true});
    window.bare ??= await told(opening);
    const start = performance.now();
    const change = window.bare.transaction("rows", "readwrite", {durability: "strict"});
    change.objectStore("rows").add("a row");
    await new Promise((done) => { change.oncomplete = done; });
    return performance.now() - start;
}"""
# The page may be slowed so many times.
SLOWED = 4
WANTED_MS = 50
FAILS_AT = 5


def percentile(values: Sequence[float], share: float) -> float:
    """Return the value that a share of them does not exceed."""
    return sorted(values)[math.ceil(share * len(values)) - 1]


def hold_beside_bare_rows(took: Sequence[float], bare: Sequence[float], what: str) -> None:
    """Print both in ms; fail where the middle entry is far from what is wanted and from the middle row.

    A machine that is busy with something else takes as much longer for the bare row; one that is busy
    for moments meets an entry and not the row after it, so the few slowest are printed only.
    """
    assert len(took) == len(bare)
    middle, row = median(took), median(bare)
    slowest, slowest_row = percentile(took, 0.95), percentile(bare, 0.95)
    print(
        f"\n{what}: {middle:.0f} ms, at p95 {slowest:.0f} ms ({WANTED_MS} wanted, slowed {SLOWED} times);"
        f" a bare row {row:.0f} ms, at p95 {slowest_row:.0f} ms"
    )
    assert middle <= max(WANTED_MS * FAILS_AT, row * FAILS_AT)

"""How long work takes beside bare Python on the same machine: a slow one is slow at both."""

from __future__ import annotations

import time
from collections.abc import Callable
from decimal import Decimal
from typing import TypeVar

Result = TypeVar("Result")
BARE_ROUNDS = 20_000


def _bare() -> None:
    """Do what the services are made of, numbers, texts, a dictionary, for 15 to 30 ms."""
    found: dict[str, Decimal] = {}
    for number in range(BARE_ROUNDS):
        found[f"{number % 97:03d}"] = Decimal(number) / 4


def in_yards(work: Callable[[], Result]) -> tuple[float, Result]:
    """Return how many times as long the work takes as bare Python does, and what came of it.

    Measured is the processor's time for this process, the bare work before and after it.
    """
    before = processor_s(_bare)[0]
    took, result = processor_s(work)
    return 2 * took / (before + processor_s(_bare)[0]), result


def processor_s(work: Callable[[], Result]) -> tuple[float, Result]:
    """Return the processor's time for this process, in s, and what came of the work."""
    began = time.process_time()
    result = work()
    return time.process_time() - began, result

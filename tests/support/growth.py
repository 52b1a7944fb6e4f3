"""Work on many rows, held beside the same work on a tenth of them: a slow machine is slow at both."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from tests.support.yardstick import processor_s

FEW, MANY = 500, 5_000
# In proportion it is ten times; were each row held beside every other one, a hundred times.
TIMES_AT_MOST = 30

Data = TypeVar("Data")
Result = TypeVar("Result")


def hold_in_proportion(what: str, make: Callable[[int], Data], work: Callable[[Data], Result]) -> Result:
    """Work on MANY rows and return what came of it; fail where it takes far more than MANY / FEW times FEW.

    `make` is given a number of rows and is not measured. The time is the processor's for this process.
    """
    few, many = make(FEW), make(MANY)
    little = min(processor_s(lambda: work(few))[0] for _try in range(3))
    much, result = processor_s(lambda: work(many))
    print(f"\n{what}: {MANY} in {much:.2f} s of the processor, {FEW} in {little:.2f} s")
    assert much <= TIMES_AT_MOST * little
    return result

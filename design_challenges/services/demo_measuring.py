"""How two children of an invented team read the made thing: close to one another, and closer in round 2."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from random import Random

# By how many marks of the tape the second reading differs from the first, in round 1 and later.
MARKS_APART = {1: (-1, 0, 1), 2: (0, 0, 0, 1)}

Pair = tuple[Fraction, Fraction]


def read_twice(
    made: Mapping[str, Sequence[Fraction]],
    number: int,
    division: Fraction,
    random: Random,
    *,
    from_the_one: bool = False,
) -> dict[str, list[Pair]]:
    """Return two children's readings of every spot, by quantity; one of each pair is the size as made.

    made            the sizes by quantity, spot after spot
    number          the round
    from_the_one    the first child's tape began at its 1 at the first spot of the last quantity
    """
    readings = {
        quantity: [_pair(value, MARKS_APART[min(number, 2)], division, random) for value in values]
        for quantity, values in made.items()
    }
    if from_the_one:
        # Lines, which agree more closely: in centimetres one whole unit is still close for a canopy.
        quantity, values = list(made.items())[-1]
        readings[quantity][0] = (values[0] + 1, values[0])
    return readings


def _pair(value: Fraction, apart: Sequence[int], division: Fraction, random: Random) -> Pair:
    other = value + random.choice(apart) * division
    return (value, other) if random.random() < 0.5 else (other, value)

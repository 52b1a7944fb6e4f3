"""NIST StRD sets for analysis of variance and linear regression: data and certified values.

Source: National Institute of Standards and Technology, www.itl.nist.gov/div898/strd, public information. The
files in nist/ are NIST's own, as SciPy's package carries them for its tests. Longley and NoInt1 were read
from the copies in the test data of the GNU Scientific Library (multifit/test_longley.c) and of Apache Commons
Math (NOINT1), with NIST's certified values beside them; NIST's own pages were not at hand.
"""

from __future__ import annotations

import math
import re
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

FOLDER = Path(__file__).parent / "nist"


def digits(computed: Fraction | float, certified: str) -> float:
    """The log relative error, −log10(|c − e| / |e|): correct digits, 15 where none of them differs."""
    error = abs(Fraction(computed) - Fraction(certified)) / abs(Fraction(certified))
    return min(15.0, -math.log10(error)) if error else 15.0


def anova_groups(name: str) -> list[list[Decimal]]:
    """The groups of an analysis of variance, as the file gives them."""
    lines = (FOLDER / f"{name}.dat").read_text().splitlines()[60:]
    groups: dict[str, list[Decimal]] = {}
    for line in lines:
        if line.strip():
            group, value = line.split()
            groups.setdefault(group, []).append(Decimal(value))
    return list(groups.values())


def anova_certified(name: str) -> dict[str, str]:
    """The certified squares, F, R² and residual standard deviation of a file."""
    text = (FOLDER / f"{name}.dat").read_text()
    between = re.search(r"Between \w+\s+(\d+)\s+(\S+)\s+(\S+)\s+(\S+)", text)
    within = re.search(r"Within \w+\s+(\d+)\s+(\S+)\s+(\S+)", text)
    assert between is not None
    assert within is not None
    r_squared = re.search(r"R-Squared\s+(\S+)", text)
    sd = re.search(r"Standard Deviation\s+(\S+)", text)
    assert r_squared is not None
    assert sd is not None
    return {
        "between squares": between[2],
        "within squares": within[2],
        "F": between[4],
        "R²": r_squared[1],
        "residual sd": sd[1],
    }


def norris() -> tuple[list[float], list[float]]:
    """x and y of Norris."""
    rows = [line.split() for line in (FOLDER / "Norris.dat").read_text().splitlines()[60:] if line.strip()]
    return [float(row[1]) for row in rows], [float(row[0]) for row in rows]


NORRIS_COEFFICIENTS = ("-0.262323073774029", "1.00211681802045")
NORRIS_ERRORS = ("0.232818234301152", "0.429796848199937E-03")
NORRIS_SD, NORRIS_R2 = "0.884796396144373", "0.999993745883712"

NOINT1_X = [float(x) for x in range(60, 71)]
NOINT1_Y = [float(y) for y in range(130, 141)]
NOINT1_COEFFICIENTS = ("2.07438016528926",)
NOINT1_ERRORS = ("0.165289256198347E-01",)
NOINT1_SD, NOINT1_R2 = "3.56753034006338", "0.999365492298663"

_LONGLEY = """
60323  83.0 234289 2356 1590 107608 1947
61122  88.5 259426 2325 1456 108632 1948
60171  88.2 258054 3682 1616 109773 1949
61187  89.5 284599 3351 1650 110929 1950
63221  96.2 328975 2099 3099 112075 1951
63639  98.1 346999 1932 3594 113270 1952
64989  99.0 365385 1870 3547 115094 1953
63761 100.0 363112 3578 3350 116219 1954
66019 101.2 397469 2904 3048 117388 1955
67857 104.6 419180 2822 2857 118734 1956
68169 108.4 442769 2936 2798 120445 1957
66513 110.8 444546 4681 2637 121950 1958
68655 112.6 482704 3813 2552 123366 1959
69564 114.2 502601 3931 2514 125368 1960
69331 115.7 518173 4806 2572 127852 1961
70551 116.9 554894 4007 2827 130081 1962
"""
_ROWS = [[float(cell) for cell in line.split()] for line in _LONGLEY.strip().splitlines()]
LONGLEY_Y = [row[0] for row in _ROWS]
LONGLEY_COLUMNS = [[row[place] for row in _ROWS] for place in range(1, 7)]
LONGLEY_COEFFICIENTS = (
    "-3482258.63459582",
    "15.0618722713733",
    "-0.358191792925910E-01",
    "-2.02022980381683",
    "-1.03322686717359",
    "-0.511041056535807E-01",
    "1829.15146461355",
)
LONGLEY_ERRORS = (
    "890420.383607373",
    "84.9149257747669",
    "0.334910077722432E-01",
    "0.488399681651699",
    "0.214274163161675",
    "0.226073200069370",
    "455.478499142212",
)
LONGLEY_RESIDUAL_SQUARES = "836424.055505915"

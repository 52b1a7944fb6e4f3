"""The gradebook's formulas as text: the children's chain in a spreadsheet's own functions.

A spreadsheet works in binary doubles, in which a tie such as 2.675 lies a hair to one side.
Every rounding here therefore brings the number to whole last places first, rounds that to
`GUARD` digits (far finer than any two sums differ, far coarser than a double errs), and only
then to a whole number; what was a tie is one again, and goes up.
"""

from __future__ import annotations

GUARD = 7
TEAM, ROUND, COUNTS, RAW, ROUNDED = (
    "trial_team",
    "trial_round",
    "trial_counts",
    "trial_time",
    "trial_rounded",
)
"""The names of the columns of the sheet of trials."""


def half_up(number: str, places: str) -> str:
    """Round `number` half-up to the digits in `places` (both formulas or cells)."""
    return f"ROUND(ROUND(({number})*10^{places},{GUARD}),0)/10^{places}"


def rounded_reading(raw: str, places: str) -> str:
    """One stopwatch reading, rounded by its whole hundredths, which are exact; empty where there is none."""
    return f'=IF({raw}="","",ROUND(ROUND({raw}*100,0)/10^(2-{places}),0)/10^{places})'


def count(team: str, number: int) -> str:
    """How many drops of a team's round count."""
    return f'=COUNTIFS({TEAM},{team},{ROUND},{number},{COUNTS},"yes")'


def _middle(column: str, team: str, number: int, *, median: bool) -> str:
    if median:
        return f'MEDIAN(IF(({TEAM}={team})*({ROUND}={number})*({COUNTS}="yes"),{column}))'
    return f'AVERAGEIFS({column},{TEAM},{team},{ROUND},{number},{COUNTS},"yes")'


def average(team: str, number: int, *, counted: str, needed: str, places: str, median: bool) -> str:
    """The mean (or the middle one) of the rounded times, rounded again; empty until all drops are in."""
    middle = _middle(ROUNDED, team, number, median=median)
    return f'=IF(OR({counted}=0,{counted}<{needed}),"",{half_up(middle, places)})'


def exact_average(team: str, number: int, *, average: str, median: bool) -> str:
    """The mean (or the middle one) of the raw readings, unrounded."""
    return f'=IF({average}="","",{_middle(RAW, team, number, median=median)})'


def speed(height: str, average: str, places: str, *, instead_of_zero: str = "") -> str:
    """The drop height divided by the rounded time, rounded; empty where there is no time.

    `instead_of_zero` divides where the time itself was rounded to 0.
    """
    divisor = f"IF({average}>0,{average},{instead_of_zero})" if instead_of_zero else average
    return f'=IF({average}="","",{half_up(f"{height}/{divisor}", places)})'


def instead_of_zero(team: str, number: int, *, median: bool) -> str:
    """What divides where the average was rounded to 0: the unrounded one, else the mean of the readings."""
    unrounded = _middle(ROUNDED, team, number, median=median)
    return f"IF({unrounded}>0,{unrounded},{_middle(RAW, team, number, median=False)})"


def exact_speed(height: str, exact_average: str) -> str:
    """The drop height divided by the exact time."""
    return f'=IF({exact_average}="","",{height}/{exact_average})'


def change(before: str, after: str, places: str, *, only_if: str = "") -> str:
    """The second figure minus the first; empty where one is missing (or `only_if` does not hold)."""
    missing = f'{before}="",{after}=""'
    if only_if:
        missing = f"NOT({only_if}),{missing}"
    return f'=IF(OR({missing}),"",{half_up(f"{after}-{before}", places)})'


def change_word(change: str, more: str, less: str, same: str) -> str:
    """A change in a word."""
    return f'=IF({change}="","",IF({change}=0,{quoted(same)},IF({change}>0,{quoted(more)},{quoted(less)})))'


def look_up(number: str, column: str, numbers: str) -> str:
    """The cell of a column in the row of a team's number; empty where either is empty.

    By number and not by place, so that sorting a sheet breaks nothing, and not by name, since
    a name may hold what a search takes for a pattern.
    """
    found = f"INDEX({column},MATCH({number},{numbers},0))"
    return f'=IF({number}="","",IF({found}="","",{found}))'


def present(first: str, last: str) -> str:
    """In how many lessons a child was present."""
    return f'=COUNTIF({first}:{last},"yes")'


def total(first: str, last: str) -> str:
    """The sum of the marks given, empty before the first."""
    return f'=IF(COUNT({first}:{last})=0,"",SUM({first}:{last}))'


def weighted_points(weights: str, levels: str, of: str) -> str:
    """Each level times its weight, together; empty before the first. What is no number counts nothing."""
    return f'=IF({of}=0,"",SUMPRODUCT({weights},{levels}))'


def points_possible(weights: str, levels: str, highest: int) -> str:
    """The most points of the criteria that have a level."""
    return f"={highest}*SUMPRODUCT({weights}*ISNUMBER({levels}))"


def percent(points: str, of: str, places: int) -> str:
    """Points in percent of how many, rounded half-up; empty where there are none."""
    return f'=IF({of}=0,"",{half_up(f"100*{points}/{of}", str(places))})'


def mean_of(cells: str, places: int) -> str:
    """The mean of the numbers among some cells, rounded half-up; empty where there is none."""
    return f'=IF(COUNT({cells})=0,"",{half_up(f"AVERAGE({cells})", str(places))})'


def quoted(text: str) -> str:
    """A text inside a formula."""
    return '"' + text.replace('"', '""') + '"'

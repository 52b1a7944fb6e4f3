"""The shift of a day, from the teacher's own device dropped on each day that is tested."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from . import separation
from .separation import Seen


@dataclass(frozen=True)
class Reference:
    """The reference device's readings in whole hundredths by day, first day first, and each drop's day.

    `day_of` gives the day of a team's drop by the drop's row id; a drop without a day is taken as it is.
    """

    readings: Mapping[str, Sequence[int]] = field(default_factory=dict)
    day_of: Mapping[int, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Shift:
    """How the reference device fell on a day against the first: times longer by `ratio`."""

    day: str
    first_day: str
    ratio: float
    first: tuple[int, ...]
    second: tuple[int, ...]

    @property
    def seen(self) -> Seen:
        return separation.seen(self.first, self.second)


@dataclass(frozen=True)
class Shifts:
    """Every day's shift against the first, and the reference's own scatter (of log times; None unknown)."""

    by_day: Mapping[str, Shift]
    first_count: int
    log_sd: float | None
    df: int

    def ratio(self, day: str | None) -> float:
        """Return by what a time of this day is divided; 1 on the first day and on a day without reference."""
        shift = self.by_day.get(day) if day is not None else None
        return shift.ratio if shift else 1.0

    @property
    def taken_out(self) -> bool:
        return bool(self.by_day)


def find_shifts(readings: Mapping[str, Sequence[int]]) -> Shifts:
    """Find the shift of each later day as the ratio of the reference's mean times; no drops, no shift."""
    days = {day: tuple(times) for day, times in readings.items() if times}
    if len(days) < 2:
        return Shifts({}, 0, None, 0)
    first_day, *later = days
    first = days[first_day]
    df = sum(len(times) - 1 for times in days.values())
    squares = math.fsum(_log_squares(times) for times in days.values())
    by_day = {
        day: Shift(
            day, first_day, (sum(days[day]) / len(days[day])) / (sum(first) / len(first)), first, days[day]
        )
        for day in later
    }
    return Shifts(by_day, len(first), math.sqrt(squares / df) if df else None, df)


def _log_squares(times: Sequence[int]) -> float:
    logs = [math.log(time) for time in times]
    middle = math.fsum(logs) / len(logs)
    return math.fsum((log - middle) ** 2 for log in logs)


def variance_of_shift(shifts: Shifts, weights: Mapping[str, float], log_sd: float) -> float:
    """The variance that the days' shifts add to a figure which goes with each day's log shift by its weight.

    All days are compared with the first, so that its own error is common to them.
    """
    own = math.fsum(
        weight**2 * log_sd**2 / len(shifts.by_day[day].second)
        for day, weight in weights.items()
        if day in shifts.by_day
    )
    common = math.fsum(weight for day, weight in weights.items() if day in shifts.by_day)
    return own + common**2 * log_sd**2 / shifts.first_count if shifts.first_count else 0.0

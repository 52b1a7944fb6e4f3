"""All of the benchmark in one run, on a database of its own."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from design_challenges.bench import day, growth, pages, requests, school, station, work
from design_challenges.bench.rows import Row
from design_challenges.bench.served import running

Tell = Callable[[str], None]


@dataclass(frozen=True)
class Size:
    """How long each part may take: times in s, counts otherwise."""

    seconds: float
    turns: int
    teams: int
    times: int
    day_classes: int
    day_pace: float
    day_seconds: float
    capacity_start: int
    capacity_most: int
    capacity_seconds: float
    growth_teams: tuple[int, ...]
    growth_readings: tuple[int, ...]
    with_pages: bool


WHOLE = Size(
    seconds=4.0, turns=3, teams=400, times=15,
    day_classes=12, day_pace=20.0, day_seconds=600.0,
    capacity_start=8, capacity_most=512, capacity_seconds=240.0,
    growth_teams=(8, 80, 800), growth_readings=(1_000, 10_000, 100_000, 1_000_000),
    with_pages=True,
)  # fmt: skip
QUICK = Size(
    seconds=0.5, turns=1, teams=24, times=3,
    day_classes=2, day_pace=300.0, day_seconds=25.0,
    capacity_start=1, capacity_most=1, capacity_seconds=4.0,
    growth_teams=(8, 40), growth_readings=(1_000, 3_000),
    with_pages=False,
)  # fmt: skip
PARTS = ("requests", "work", "day", "capacity", "growth", "pages", "station")


def run(size: Size, parts: tuple[str, ...], tell: Tell) -> list[Row]:
    """Measure the parts that are asked for, in this order, and return the rows."""
    teacher = school.make_teacher()
    rows: list[Row] = []
    with running() as url:

        def measure(name: str, what: Callable[[], list[Row]]) -> None:
            if name in parts:
                tell(f"Measuring: {name} …")
                rows.extend(what())

        def both() -> list[Row]:
            return requests.save_rows(
                url, teacher, seconds=size.seconds, turns=size.turns, teams=size.teams
            ) + requests.poll_rows(url, teacher, seconds=size.seconds, turns=size.turns)

        measure("requests", both)
        measure(
            "work",
            lambda: [
                *work.redraw_rows(teacher, size.times),
                *work.analysis_rows(teacher, size.times),
                *work.gradebook_rows(teacher, size.times),
            ],
        )
        measure(
            "day",
            lambda: day.day_rows(
                url, teacher, classes=size.day_classes, pace=size.day_pace, seconds=size.day_seconds
            ),
        )
        measure(
            "capacity",
            lambda: day.capacity_rows(
                url,
                teacher,
                start=size.capacity_start,
                most=size.capacity_most,
                seconds=size.capacity_seconds,
            ),
        )
        if size.with_pages:
            measure("pages", lambda: pages.page_rows(url, teacher))
            measure("station", lambda: station.station_rows(url, teacher))
    # Last, because it fills the database.
    if "growth" in parts:
        tell("Measuring: growth …")
        rows += growth.team_rows(teacher, size.growth_teams, size.times)
        rows += growth.reading_rows(teacher, size.growth_readings, size.times)
    return rows

"""How cost grows: with the teams of a class, and with the readings of everybody else in the database."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from django.conf import settings
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from classroom.access import TEAM_COOKIE
from design_challenges.bench import school
from design_challenges.bench.rows import Row, fit_exponent
from design_challenges.bench.work import milliseconds
from design_challenges.models import ClassChallenge, Drop, Reading
from design_challenges.services.exports import csv_text, load_export
from design_challenges.services.records import find_challenge, kept_rounds

# A fit over a few sizes is good to about a tenth; indexed means: not growing with what is not asked for.
FLAT, LINEAR = 0.15, 1.15


def _asking(client: Client, address: str, status: int) -> Callable[[], None]:
    def ask() -> None:
        answer = client.get(address, headers={"HX-Request": "true"})
        if answer.status_code != status:
            raise RuntimeError(f"{address} answered {answer.status_code}")

    return ask


def _pages(challenge: ClassChallenge, teacher: Any) -> dict[str, Callable[[], None]]:
    """Return what is asked of a class: polls, lists, a tablet's page."""
    client, tablet = Client(HTTP_HOST="localhost"), Client(HTTP_HOST="localhost")
    client.cookies[settings.SESSION_COOKIE_NAME] = school.sign_in(teacher)
    tablet.cookies[TEAM_COOKIE] = school.let_in([challenge.classroom.teams.order_by("pk")[0]])[0]
    challenge.revision.refresh_from_db()
    code = challenge.classroom.code
    return {
        "a board's poll": _asking(
            client, f"/classes/{code}/board/?revision={challenge.revision.number}", 204
        ),
        "a tablet's page": _asking(tablet, "/team/1/results/", 200),
        "the list of classes": _asking(client, "/classes/", 200),
        "a dashboard's redraw": _asking(client, f"/classes/{code}/dashboard/?revision=0", 200),
    }


def _queries(ask: Callable[[], object]) -> int:
    with CaptureQueriesContext(connection) as queries:
        ask()
    return len(queries)


def team_rows(teacher: Any, sizes: Sequence[int], times: int) -> list[Row]:
    """Measure polls, a tablet's page and an export for classes of more and more teams."""
    pattern = school.make_pattern(teacher)
    costs: dict[str, list[float]] = {}
    queries: dict[str, list[int]] = {}
    for teams in sizes:
        challenge = school.make_class(f"Growth {teams}", teams, teacher, pattern)
        asked = _pages(challenge, teacher)
        del asked["the list of classes"], asked["a dashboard's redraw"]

        def export(challenge: ClassChallenge = challenge) -> None:
            # As the first after a start: of a small class all would be kept, of a large one nothing.
            kept_rounds.clear()
            csv_text(load_export(_found(challenge)), "trials")

        for name, ask in {**asked, "an export": export}.items():
            costs.setdefault(name, []).append(milliseconds(ask, times))
            queries.setdefault(name, []).append(_queries(ask))
    return [
        _row(
            f"{name}, {' / '.join(map(str, sizes))} teams",
            sizes,
            found,
            LINEAR if name == "an export" else FLAT,
            queries[name],
        )
        for name, found in costs.items()
        # A tablet's page reads its class's children once, to know who is in the team.
        if name != "a tablet's page"
    ] + [
        _row(
            f"a tablet's page, {' / '.join(map(str, sizes))} teams",
            sizes,
            costs["a tablet's page"],
            LINEAR,
            queries["a tablet's page"],
        )
    ]


def _found(challenge: ClassChallenge) -> ClassChallenge:
    found = find_challenge(challenge.classroom)
    if found is None:
        raise RuntimeError("The class has no challenge.")
    return found


def _row(
    name: str, sizes: Sequence[int], costs: Sequence[float], target: float, queries: Sequence[int]
) -> Row:
    said = " / ".join(f"{cost:.1f}" for cost in costs)
    note = f"{said} ms; {' / '.join(map(str, queries))} queries"
    return Row(
        f"Growth: {name}", max(0.0, fit_exponent(sizes, costs)), "exponent", None, target, "at most", note
    )


def reading_rows(teacher: Any, sizes: Sequence[int], times: int) -> list[Row]:
    """Measure a class of 8 while other classes' readings fill the database."""
    pattern = school.make_pattern(teacher)
    challenge = school.make_class("Among many", 8, teacher, pattern)
    other = school.make_class("The many", 8, teacher, pattern)
    asked = _pages(challenge, teacher)
    costs: dict[str, list[float]] = {name: [] for name in asked}
    queries: dict[str, list[int]] = {name: [] for name in asked}
    for size in sizes:
        fill_readings(other, size)
        for name, ask in asked.items():
            costs[name].append(milliseconds(ask, times))
            queries[name].append(_queries(ask))
    return [
        _row(
            f"{name}, 10^{len(str(sizes[0])) - 1} to 10^{len(str(sizes[-1])) - 1} readings stored",
            sizes,
            found,
            FLAT,
            queries[name],
        )
        for name, found in costs.items()
    ]


def fill_readings(challenge: ClassChallenge, size: int) -> None:
    """Add drops with a reading each to a class until the database holds so many readings."""
    iterations = list(challenge.iterations.order_by("pk"))
    missing = size - Reading.objects.count()
    highest = max([drop.attempt for drop in Drop.objects.filter(iteration=iterations[0], trial=1)], default=0)
    for start in range(0, max(0, missing), 30_000):
        count = min(30_000, missing - start)
        drops = Drop.objects.bulk_create(
            (
                Drop(
                    iteration=iterations[number % len(iterations)],
                    trial=1,
                    attempt=highest + 1 + (start + number) // len(iterations),
                )
                for number in range(count)
            ),
            batch_size=5000,
        )
        Reading.objects.bulk_create(
            (
                Reading(
                    class_challenge=challenge,
                    team_id=iterations[number % len(iterations)].team_id,
                    drop=drop,
                    hundredths=350,
                )
                for number, drop in enumerate(drops)
            ),
            batch_size=5000,
        )

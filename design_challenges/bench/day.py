"""A school day over HTTP: many classes at once, every one with its board, its dashboard and eight tablets."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass
from typing import Any

from design_challenges.bench import school
from design_challenges.bench.rows import Row
from design_challenges.models import ClassChallenge, Reading, Submission
from design_challenges.rehearsal.cast import Cast, assemble
from design_challenges.rehearsal.log import Log, share
from design_challenges.rehearsal.play import Stage, Watcher, play

SAVE_MS, BOARD_S = 100.0, 2.0
TEAMS = 8


@dataclass(frozen=True)
class Day:
    """What came of a school day."""

    classes: int
    saves: int
    errors: int
    lost: int
    save_p95_ms: float
    board_p95_s: float
    board_most_s: float
    requests_a_second: float
    finished: int
    faults: list[str]

    @property
    def holds(self) -> bool:
        """Whether it kept to what is promised; a day on which nobody saved anything shows nothing."""
        quick = self.save_p95_ms < SAVE_MS and self.board_most_s < BOARD_S
        return self.saves > 0 and not self.errors and not self.lost and quick


def run_day(
    base_url: str, teacher: Any, *, classes: int, pace: float, seconds: float, rounds: int = 2
) -> Day:
    """Let so many classes play at once for at most so many seconds, and count what came of it."""
    casts: list[Cast] = []
    challenges: list[ClassChallenge] = []
    for number in range(classes):
        challenge = school.make_empty_class(f"Day {classes} {number}", teacher)
        challenges.append(challenge)
        casts.append(assemble(challenge.classroom, TEAMS))
    watcher = Watcher(school.sign_in(teacher))
    log = Log()
    stage = Stage(base_url, pace=pace, rounds=rounds, most_s=seconds, waits=False)
    asyncio.run(play(stage, casts, [watcher] * classes, log))
    rows = Submission.objects.filter(class_challenge__in=challenges, outcome="saved")
    saved = {str(entry) for entry in rows.values_list("entry_id", flat=True)}
    lost = [entry for entry in log.acknowledged if entry not in saved]
    orphans = Reading.objects.filter(class_challenge__in=challenges, submission__isnull=True).count()
    taken = sorted(log.taken, key=lambda row: row.began)
    lasted = taken[-1].ended - taken[0].began if taken else 1.0
    boards = log.save_to_board()
    return Day(
        classes=classes,
        saves=log.count()["save"],
        errors=len(log.faults),
        lost=len(lost) + orphans,
        save_p95_ms=share(log.seconds("save"), 0.95) * 1000,
        board_p95_s=share(boards, 0.95),
        board_most_s=boards[-1] if boards else 0.0,
        requests_a_second=len(taken) / lasted,
        finished=len(log.finished),
        faults=log.faults[:5],
    )


def day_rows(base_url: str, teacher: Any, *, classes: int, pace: float, seconds: float) -> list[Row]:
    """Run the school day and hold it against what a school needs."""
    day = run_day(base_url, teacher, classes=classes, pace=pace, seconds=seconds)
    done = f"{day.finished} of {classes * TEAMS} teams done"
    about = f"{day.saves} saves, {day.requests_a_second:.0f} requests/s, {done}"
    name = f"School day, {classes} classes of {TEAMS} teams, pace × {pace:g}"
    return [
        Row(f"{name}: errors", float(day.errors), "", None, 0.0, "at most", "; ".join([about, *day.faults])),
        Row(f"{name}: acknowledged and lost", float(day.lost), "", None, 0.0, "at most"),
        Row(f"{name}: 95 of 100 saves within", day.save_p95_ms, "ms", None, SAVE_MS, "at most"),
        Row(f"{name}: 95 of 100 saves on the board within", day.board_p95_s, "s", None, BOARD_S, "at most"),
        Row(f"{name}: the latest save on the board", day.board_most_s, "s", None, BOARD_S, "at most"),
    ]


def capacity_rows(base_url: str, teacher: Any, *, start: int, most: int, seconds: float) -> list[Row]:
    """Double the classes at a real pace until it no longer holds; say the largest number at which it did.

    Each step is the beginning of a lesson: tablets come in over the first three minutes of it.
    """
    held, told, classes = 0, [], start
    while classes <= most:
        day = run_day(base_url, teacher, classes=classes, pace=1.0, seconds=seconds, rounds=1)
        told.append(
            f"{classes}: {day.saves} saves, {day.save_p95_ms:.0f} ms, board {day.board_most_s:.1f} s, "
            f"{day.errors} errors"
        )
        if not day.holds:
            break
        held, classes = classes, classes * 2
    return [
        Row(
            "Classes at a real pace for which that holds, by doubling",
            float(held),
            "classes",
            None,
            500.0,
            "at least",
            "; ".join([*told, "the target is a moonshot"]),
        )
    ]

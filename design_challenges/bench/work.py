"""What the larger pieces of work cost inside the server: redraws, analysis, the gradebook."""

from __future__ import annotations

import io
import time
from collections.abc import Callable
from functools import partial
from typing import Any

from django.conf import settings
from django.test import Client
from openpyxl import Workbook, load_workbook

from design_challenges.bench import school
from design_challenges.bench.rows import Row
from design_challenges.services.analysis.analyse import analyse
from design_challenges.services.class_analysis import class_analysis
from design_challenges.services.exports import load_export
from design_challenges.services.gradebook import gradebook_bytes
from design_challenges.services.records import find_challenge, kept_rounds, load_class
from design_challenges.views.dashboard import kept_cards

ANALYSIS_MS, GRADEBOOK_RATIO = 150.0, 1.3


def milliseconds(
    what: Callable[[], object], times: int, before: Callable[[], object] = lambda: None
) -> float:
    """Return the median time of one call in ms, after one that is not counted; nor is `before` each."""
    what()
    found = []
    for _ in range(times):
        before()
        began = time.perf_counter()
        what()
        found.append((time.perf_counter() - began) * 1000)
    return sorted(found)[len(found) // 2]


def redraw_rows(teacher: Any, times: int) -> list[Row]:
    """Measure one redraw of the live part of dashboard and board, through the whole of Django.

    As a class has them: after a save of one team. And as the first one is, when nothing is kept of the class.
    """
    pattern = school.make_pattern(teacher)
    client = Client(HTTP_HOST="localhost")
    client.cookies[settings.SESSION_COOKIE_NAME] = school.sign_in(teacher)
    rows = []
    for teams in (8, 40):
        challenge = school.make_class(f"Redraw {teams}", teams, teacher, pattern)
        for page in ("dashboard", "board"):
            address = f"/classes/{challenge.classroom.code}/{page}/?revision=0"

            def redraw(address: str = address) -> None:
                answer = client.get(address, headers={"HX-Request": "true", "Accept-Encoding": "gzip"})
                if answer.status_code != 200:
                    raise RuntimeError(f"{address} answered {answer.status_code}")

            name = f"A {page}'s redraw, class of {teams} teams"
            after_one = milliseconds(redraw, times, partial(next, school.saves_of(challenge)))
            first = milliseconds(redraw, times, forget)
            rows.append(Row(name, after_one, "ms", note=f"after a save; {first:.0f} ms with nothing kept"))
    return rows


def forget() -> None:
    """Forget what this process keeps of classes."""
    kept_rounds.clear()
    kept_cards.clear()


def analysis_rows(teacher: Any, times: int) -> list[Row]:
    """Measure the analysis of 40 teams of 10 drops, and that it is not repeated while nothing changed."""
    pattern = school.make_pattern(teacher, trials=10)
    made = school.make_class("Analysis", 40, teacher, pattern)
    challenge = find_challenge(made.classroom)
    if challenge is None:
        raise RuntimeError("The class has no challenge.")
    klass = load_class(challenge)
    took = milliseconds(lambda: analyse(load_class(challenge)), times, forget)
    read = milliseconds(lambda: load_class(challenge), times, forget)
    kept = class_analysis(klass) is class_analysis(load_class(challenge))
    return [
        Row(
            "Analysis of 40 teams of 10 drops in 2 rounds",
            took - read,
            "ms",
            target=ANALYSIS_MS,
            rule="at most",
            note=f"reading the class {read:.0f} ms more",
        ),
        Row(
            "Analyses made for 2 readers while nothing changed",
            1.0 if kept else 2.0,
            "",
            target=1.0,
            rule="at most",
        ),
    ]


def gradebook_rows(teacher: Any, times: int) -> list[Row]:
    """Measure the gradebook of 200 children beside openpyxl writing the same cells raw, in turns.

    The class is read and its figures are worked out each time; beside it, only cells are written.
    """
    pattern = school.make_pattern(teacher)
    made = school.make_class("Gradebook", 50, teacher, pattern)
    challenge = find_challenge(made.classroom)
    if challenge is None:
        raise RuntimeError("The class has no challenge.")
    klass = load_export(challenge)
    cells = _cells(gradebook_bytes(klass))
    ours, raw = [], []
    for _ in range(times):
        forget()
        began = time.perf_counter()
        gradebook_bytes(load_export(challenge))
        between = time.perf_counter()
        _write_raw(cells)
        ours.append((between - began) * 1000)
        raw.append((time.perf_counter() - between) * 1000)
    return [
        Row(
            "Gradebook of 200 children, read, worked out and written",
            sorted(ours)[times // 2],
            "ms",
            sorted(raw)[times // 2],
            GRADEBOOK_RATIO,
            "at most",
            f"{sum(map(len, cells.values()))} cells; beside: openpyxl writes them without looks",
        )
    ]


def _cells(file: bytes) -> dict[str, list[tuple[int, int, Any]]]:
    return {
        sheet.title: [
            (cell.row, cell.column, cell.value)
            for line in sheet.iter_rows()
            for cell in line
            if cell.value is not None
        ]
        for sheet in load_workbook(io.BytesIO(file)).worksheets
    }


def _write_raw(cells: dict[str, list[tuple[int, int, Any]]]) -> bytes:
    workbook = Workbook()
    for title, found in cells.items():
        sheet = workbook.create_sheet(title)
        for row, column, value in found:
            sheet.cell(row, column, value)
    file = io.BytesIO()
    workbook.save(file)
    return file.getvalue()

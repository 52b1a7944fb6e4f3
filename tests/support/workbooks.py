"""Gradebooks in tests: classes full of readings, reading a file back, working it out anew in LibreOffice."""

from __future__ import annotations

import io
import subprocess
from collections.abc import Mapping, Sequence
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from pathlib import Path
from random import Random
from typing import Any

from openpyxl import load_workbook

from classroom.models import Classroom
from design_challenges.models import (
    ChallengeSettings,
    ClassChallenge,
    DesignIteration,
    Drop,
    Judgement,
    Reading,
)
from tests.builders import make_challenge, make_class

Book = dict[str, dict[str, Any]]
"""Cells by sheet and place."""

RECALCULATE_ALWAYS = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry" xmlns:xs="http://www.w3.org/2001/XMLSchema"
 xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load">
<prop oor:name="OOXMLRecalcMode" oor:op="fuse"><value>0</value></prop></item></oor:items>
"""


def recalculate(soffice: str, file: bytes, folder: Path) -> bytes:
    """Open the workbook in LibreOffice, work out every formula whatever value stands beside it, save it."""
    profile = folder / "profile"
    (profile / "user").mkdir(parents=True, exist_ok=True)
    (profile / "user" / "registrymodifications.xcu").write_text(RECALCULATE_ALWAYS, encoding="utf-8")
    source, out = folder / "book.xlsx", folder / "out"
    source.write_bytes(file)
    command = [soffice, "--headless", f"-env:UserInstallation={profile.as_uri()}", "--convert-to", "xlsx"]
    subprocess.run(
        [*command, "--outdir", str(out), str(source)], check=True, capture_output=True, timeout=300
    )
    return (out / "book.xlsx").read_bytes()


def values_of(file: bytes) -> Book:
    """Return every cell's value; a formula's is the one that stands in the file."""
    return _read(file, data_only=True)


def formulas_of(file: bytes) -> Book:
    """Return every formula, and nothing else."""
    book = load_workbook(io.BytesIO(file))
    return {
        sheet.title: {
            cell.coordinate: getattr(cell.value, "text", cell.value)
            for row in sheet.iter_rows()
            for cell in row
            if cell.data_type == "f"
        }
        for sheet in book
    }


def _read(file: bytes, *, data_only: bool) -> Book:
    book = load_workbook(io.BytesIO(file), data_only=data_only)
    return {
        sheet.title: {cell.coordinate: cell.value for row in sheet.iter_rows() for cell in row}
        for sheet in book
    }


def table(sheet: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return a sheet's rows by their headings, each heading in one line; "" for an empty cell."""
    rows: dict[int, dict[str, Any]] = {}
    heads: dict[str, str] = {}
    for place, value in sheet.items():
        letter, number = place.rstrip("0123456789"), int(place.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ"))
        if number == 1:
            heads[letter] = " ".join(str(value).split())
        else:
            rows.setdefault(number, {})[heads.get(letter, letter)] = "" if value is None else value
    return [rows[number] for number in sorted(rows)]


def crowded_class(
    teams: int,
    *,
    children: int = 3,
    rounds: int = 2,
    seed: int = 1,
    unit_system: str = "us",
    values: dict[str, str] | None = None,
    times: Sequence[int] = range(180, 480),
    **common: Any,
) -> tuple[Classroom, ClassChallenge]:
    """Make a class whose teams have dropped in every round: random hundredths, some drops void or tangled."""
    random = Random(seed)
    classroom = make_class(teams, children=children)
    challenge = make_challenge(classroom, unit_system=unit_system, values=values, **common)
    settings = ChallengeSettings.objects.get(class_challenge=challenge)
    for team in classroom.teams.all():
        for number in range(1, rounds + 1):
            iteration = DesignIteration.objects.create(
                team=team, class_challenge=challenge, number=number, settings=settings
            )
            for trial in range(1, settings.trials_per_round + 1):
                if random.random() < 0.1:
                    void = Drop.objects.create(iteration=iteration, trial=trial, attempt=1)
                    Judgement.objects.create(drop=void, counts=False, reason="hit")
                drop = Drop.objects.create(iteration=iteration, trial=trial, attempt=2)
                Reading.objects.create(
                    class_challenge=challenge, drop=drop, team=team, hundredths=random.choice(times)
                )
                if random.random() < 0.1:
                    Judgement.objects.create(drop=drop, counts=True, reason="tangled")
    return classroom, challenge


# --- the chain once more, by other means than the server's own --------------------------------------------


def half_up(value: Fraction | Decimal, places: int) -> Decimal:
    """Round half-up with the decimal module, from twenty digits on; `value` at least 0."""
    exact = Fraction(value)
    digits = Decimal(f"{exact.numerator * 10**20 // exact.denominator}E-20")
    return digits.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)


def chain(
    hundredths: Sequence[int], height: str, places_time: int, places_speed: int, *, median: bool = False
) -> tuple[Decimal, Decimal]:
    """Return (time, speed) of the raw readings that count, rounded at every step as children do it."""
    rounded = sorted(Fraction(half_up(Fraction(reading, 100), places_time)) for reading in hundredths)
    if median:
        middle = len(rounded) // 2
        average = rounded[middle] if len(rounded) % 2 else (rounded[middle - 1] + rounded[middle]) / 2
    else:
        average = sum(rounded, Fraction(0)) / len(rounded)
    time = half_up(average, places_time)
    return time, half_up(Fraction(height) / Fraction(time), places_speed)

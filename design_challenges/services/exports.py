"""The class's numbers as CSV files, and all of a class's files written into a folder."""

from __future__ import annotations

import csv
import io
import os
import re
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

from django.utils.translation import gettext as _

from classroom.models import Classroom
from design_challenges.models import ClassChallenge, Judgement, Reading
from design_challenges.services.record_types import (
    ClassRecord,
    DropRecord,
    ReadingRecord,
    RoundRecord,
    TeamRecord,
)
from design_challenges.services.records import find_challenge, load_class
from design_challenges.services.rounding import round_half_up

COLUMNS = {
    "teams": ("team", "students"),
    "measurements": ("team", "round", "quantity", "planned", "measured", "unit"),
    "trials": ("team", "round", "trial", "fall_time_s", "rounded_s", "counts", "reason"),
    "results": (
        "team",
        "round",
        "canopy_diameter",
        "line_length",
        "material_used",
        "mean_time_s",
        "fall_speed",
        "fall_speed_exact",
        "speed_unit",
        "length_unit",
    ),
}
GRADEBOOK = "gradebook.xlsx"

# What XML 1.0 cannot hold at all, and what no spreadsheet shows: control characters, lone surrogates.
_UNWRITABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\ud800-\udfff\ufffe\uffff]")
# How a formula may begin, in ASCII and in full width, with the blanks that a spreadsheet skips before one.
# One that stands behind apostrophes already gets one more, so that taking one off gives back what was typed.
_FORMULA = re.compile(r"'*[\t\n ]*[=+\-@\uff1d\uff0b\uff0d\uff20]")

Cell = str | int | Decimal | Fraction | float | None


class ExportError(Exception):
    """Raised where there is nothing to write; the text says what to do."""


# --- what both the CSV files and the gradebook show ---------------------------------------------------------


@dataclass(frozen=True)
class TrialRow:
    """One reading of a drop, or a drop without one; `counts` is whether the class's figures use it.

    `trial` and `round` are None for a reading that nobody has placed yet, `hundredths` and
    `rounded_s` for a drop that was called void before its time was seen.
    """

    team: TeamRecord | None
    record: RoundRecord | None
    trial: int | None
    attempt: int | None
    hundredths: int | None
    rounded_s: Decimal | None
    counts: bool
    reason: str
    source: str

    @property
    def round(self) -> int | None:
        return self.record.number if self.record else None

    @property
    def fall_time_s(self) -> Decimal | None:
        return None if self.hundredths is None else Decimal(self.hundredths).scaleb(-2)


def clean_text(text: str) -> str:
    """Return a text without the characters that no file can carry, its line ends all alike."""
    if text.isascii() and text.isprintable():
        return text
    return _UNWRITABLE.sub("", text.replace("\r\n", "\n").replace("\r", "\n"))


def load_export(challenge: ClassChallenge) -> ClassRecord:
    """Return the class with every team that did something: merged ones keep their earlier rounds."""
    klass = load_class(challenge, include_retired=True)
    klass.teams = [team for team in klass.teams if team.team.retired_at is None or team.rounds]
    return klass


def trial_rows(klass: ClassRecord) -> list[TrialRow]:
    """Return every reading and every void drop, by team, round, trial and attempt."""
    set_aside = Judgement.objects.filter(reading__class_challenge=klass.challenge, counts=False).order_by(
        "pk"
    )
    why = {
        judgement.reading_id: _words(judgement.get_reason_display(), judgement.note)
        for judgement in set_aside
    }
    sources = {slug: str(label) for slug, label in Reading.Source.choices}
    rows = [
        row
        for team in klass.teams
        for number in sorted(team.rounds)
        for drop in sorted(team.rounds[number].drops, key=lambda drop: (drop.trial, drop.attempt))
        for row in _rows_of_drop(team, team.rounds[number], drop, why, sources)
    ]
    return [*rows, *_unplaced(klass, why)]


def _rows_of_drop(
    team: TeamRecord,
    record: RoundRecord,
    drop: DropRecord,
    why: Mapping[int | None, str],
    sources: Mapping[str, str],
) -> Iterable[TrialRow]:
    used = drop in record.counting
    together = drop.watches if len(drop.watches) > 1 else ()
    if together and drop.reading is not None:
        # The time that counts is no stopwatch's own: it stands in a row above theirs.
        yield TrialRow(
            team=team,
            record=record,
            trial=drop.trial,
            attempt=drop.attempt,
            hundredths=drop.reading.hundredths,
            rounded_s=round_half_up(drop.reading.seconds, record.values["places_time"]),
            counts=used,
            reason=_drop_reason(drop, used=used),
            source=_("mean of two stopwatches")
            if len(together) == 2
            else _("the middle one of three stopwatches"),
        )
    for reading in drop.readings or (None,):
        yield TrialRow(
            team=team,
            record=record,
            trial=drop.trial,
            attempt=drop.attempt,
            hundredths=reading.hundredths if reading else None,
            rounded_s=round_half_up(reading.seconds, record.values["places_time"]) if reading else None,
            counts=used and reading is not None and reading is drop.reading,
            reason=_reason(drop, reading, why, used=used),
            source=sources[reading.source] if reading else "",
        )


def _reason(
    drop: DropRecord, reading: ReadingRecord | None, why: Mapping[int | None, str], *, used: bool
) -> str:
    """Return why a reading does not count, or what is to be known of one that does."""
    if reading is not None and reading in drop.watches and len(drop.watches) > 1:
        return _("one of {n} stopwatches").format(n=len(drop.watches))
    if reading is not None and reading is not drop.reading:
        return why.get(reading.row_id, _("another reading of this drop stands"))
    return _drop_reason(drop, used=used) if reading is not None else _drop_words(drop)


def _drop_reason(drop: DropRecord, *, used: bool) -> str:
    """Return why a drop with a time does not count, or what is to be known of one that does."""
    words = _drop_words(drop)
    if used or not drop.counts:
        return words
    return words or _("a later drop took its place")


def _drop_words(drop: DropRecord) -> str:
    return _words(str(drop.mark_label) if drop.mark and drop.mark != "opened" else "", drop.note)


def _words(label: str, note: str) -> str:
    return f"{label}: {note}" if label and note else label or note


def _unplaced(klass: ClassRecord, why: Mapping[int | None, str]) -> list[TrialRow]:
    """Return the readings that came in without a drop: they do not count, and they are not lost."""
    teams = {team.team.pk: team for team in klass.teams}
    places = klass.values["places_time"]
    return [
        TrialRow(
            team=teams.get(reading.team_id) if reading.team_id else None,
            record=None,
            trial=None,
            attempt=None,
            hundredths=reading.hundredths,
            rounded_s=round_half_up(Decimal(reading.hundredths).scaleb(-2), places),
            counts=False,
            reason=why.get(reading.pk, _("not placed yet")),
            source=str(Reading.Source(reading.source).label),
        )
        for reading in Reading.objects.filter(class_challenge=klass.challenge, drop__isnull=True).order_by(
            "pk"
        )
    ]


# --- CSV ----------------------------------------------------------------------------------------------------


def csv_rows(klass: ClassRecord, name: str) -> list[tuple[Cell, ...]]:
    """Return the rows of one file without its header; KeyError for a name that is not in COLUMNS."""
    rows = {"teams": _teams, "measurements": _measurements, "trials": _trials, "results": _results}
    return list(rows[name](klass))


def csv_text(klass: ClassRecord, name: str) -> str:
    """Return one CSV file (RFC 4180): a header row, one unit a column, empty where unknown.

    A text that a spreadsheet would take for a formula goes out behind an apostrophe.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(COLUMNS[name])
    writer.writerows([written(cell) for cell in row] for row in csv_rows(klass, name))
    return out.getvalue()


def written(cell: Cell) -> str:
    """Return a cell as it stands in a CSV file: exact numbers in plain digits, texts that stay texts."""
    if cell is None:
        return ""
    if isinstance(cell, str):
        text = clean_text(cell)
        return f"'{text}" if _FORMULA.match(text) else text
    if isinstance(cell, Fraction):
        return plain_digits(cell)
    return f"{cell:f}" if isinstance(cell, Decimal) else repr(cell)


def plain_digits(value: Fraction) -> str:
    """Return a length in decimal digits: exactly where they end within six places, else rounded half-up."""
    for places in range(7):
        rounded = round_half_up(value, places)
        if Fraction(rounded) == value:
            break
    return f"{rounded:f}"


def _teams(klass: ClassRecord) -> Iterable[tuple[Cell, ...]]:
    for team in klass.teams:
        number = team.current.number if team.current else 1
        yield team.team.name, "; ".join(str(student) for student in team.members(number))


def _measurements(klass: ClassRecord) -> Iterable[tuple[Cell, ...]]:
    """Yield what each round planned and measured: the figure of a variable, then each of its spots."""
    for team in klass.teams:
        for number, record in sorted(team.rounds.items()):
            unit = record.kind.length_unit(record.values).symbol
            for quantity, planned, measured in measured_quantities(record):
                yield team.team.name, number, quantity, planned, measured, unit


def measured_quantities(record: RoundRecord) -> Iterable[tuple[str, Fraction | None, Fraction | None]]:
    """Yield (quantity, planned, measured) of a round, leaving out what is neither.

    A design variable comes as one row, measured as the mean of its spots once all are in;
    each spot that was measured follows as `line_length_1` and so on.
    """
    planned = record.plan_figures.variables if record.plan_figures else {}
    built = record.built_figures.variables if record.built_figures else {}
    variables = [variable.slug for variable in record.kind.variables(record.values)]
    for quantity in record.kind.quantities(record.values):
        if quantity.slug not in variables and quantity.slug in record.plan_sizes:
            yield quantity.slug, record.plan_sizes[quantity.slug], None
    for slug in variables:
        if slug in planned or slug in built:
            yield slug, planned.get(slug), built.get(slug)
        for (quantity_slug, spot), size in sorted(record.built.items()):
            if quantity_slug == slug:
                yield f"{slug}_{spot}", planned.get(slug), size.value


def _trials(klass: ClassRecord) -> Iterable[tuple[Cell, ...]]:
    for row in trial_rows(klass):
        yield (
            row.team.team.name if row.team else None,
            row.round,
            row.trial,
            row.fall_time_s,
            row.rounded_s,
            "yes" if row.counts else "no",
            row.reason,
        )


def _results(klass: ClassRecord) -> Iterable[tuple[Cell, ...]]:
    for team in klass.teams:
        for number, record in sorted(team.rounds.items()):
            system = record.kind.system(record.values)
            results = record.results if record.figure is not None else None
            yield (
                team.team.name,
                number,
                *(record.variable(slug) for slug in ("canopy_diameter", "line_length")),
                record.material_used,
                results.average_time_s if results else None,
                results.fall_speed if results else None,
                results.exact_speed if results else None,
                system.speed_label,
                system.length.symbol,
            )


# --- files --------------------------------------------------------------------------------------------------


def class_files(classroom: Classroom) -> dict[str, bytes]:
    """Return all of a class's files by name; ExportError where no challenge is set up yet."""
    from design_challenges.services.gradebook import gradebook_bytes

    challenge = find_challenge(classroom)
    if challenge is None:
        raise ExportError(
            _("{name} has no challenge yet, so there is nothing to write. Set one up first.").format(
                name=classroom.name
            )
        )
    klass = load_export(challenge)
    files = {f"{name}.csv": csv_text(klass, name).encode() for name in COLUMNS}
    files[GRADEBOOK] = gradebook_bytes(klass)
    return files


def write_files(files: dict[str, bytes], folder: Path) -> list[Path]:
    """Write the files into a folder, made where it is missing; each appears whole or not at all.

    All are on the disk beside their places before the first takes its place, so that a full
    disk leaves what was there. Raises OSError where the folder cannot be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    drafts: list[tuple[Path, Path]] = []
    try:
        for name, content in files.items():
            descriptor, draft = tempfile.mkstemp(prefix=f".{name}.", dir=folder)
            drafts.append((Path(draft), folder / name))
            with os.fdopen(descriptor, "wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
        for draft_path, place in drafts:
            draft_path.chmod(0o640)
            draft_path.replace(place)
    finally:
        for draft_path, _place in drafts:
            draft_path.unlink(missing_ok=True)
    return [place for _draft, place in drafts]


def text_columns(name: str) -> Sequence[str]:
    """Return the columns of a file that hold words, which may stand behind an apostrophe."""
    return [column for column in COLUMNS[name] if column in ("team", "students", "reason")]

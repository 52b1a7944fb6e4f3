"""`manage.py roster FILE [--class CODE] [--apply]`: a roster file read, shown, and brought into a class."""

from __future__ import annotations

import argparse
import datetime
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError
from django.utils import timezone

from classroom.codes import tidy_code
from classroom.models import Classroom
from classroom.rosters.apply import SourceIds, apply_roster, plan_for, source_of
from classroom.rosters.carried import Chosen
from classroom.rosters.children import groups_of, read_children
from classroom.rosters.columns import Columns, folded, guess, headed_by_first_row
from classroom.rosters.faults import MOST_BYTES, Fault, RosterError
from classroom.rosters.oneroster import Package
from classroom.rosters.plan import Plan
from classroom.rosters.source import open_roster, too_large
from classroom.rosters.table import Table
from classroom.school_time import school_zone

_OPTIONS = {
    "given": ("--first", "the heading of the column of first names"),
    "family": ("--family", "the heading of the column of family names or initials"),
    "full": ("--whole", "the heading of the column of whole names"),
    "source_id": ("--id", "the heading of the column of the school's ids"),
    "group": ("--groups", "the heading of the column of classes or groups"),
}


class Command(BaseCommand):
    help = (
        "Read a roster file (CSV, xlsx, or a OneRoster 1.1 or 1.2 zip in bulk mode). Without --class "
        "it says what is in the file; with it, what would change in that class; with --apply it is changed."
    )

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--class", dest="code", metavar="CODE", help="the class code here")
        parser.add_argument(
            "--from", dest="origin", metavar="NAME", help="the class in the file: id or title"
        )
        for name, (option, about) in _OPTIONS.items():
            parser.add_argument(option, dest=name, metavar="HEADING", help=about)
        parser.add_argument("--apply", action="store_true", help="bring the class up to date")
        parser.add_argument(
            "--keep-unlisted", action="store_true", help="mark nobody as having left who is not in the file"
        )

    def handle(self, *args: Any, file: Path, code: str | None, origin: str | None, **options: Any) -> None:
        if options["apply"] and not code:
            raise CommandError("Say which class: --class CODE. " + _known_codes())
        try:
            found = open_roster(_read(file), _today())
            classroom = _classroom(code) if code else None
            if classroom is None:
                self._describe(found, options)
                return
            chosen = _from_table(found, origin, options) if isinstance(found, Table) else None
            if chosen is None and isinstance(found, Package):
                chosen = _from_package(found, origin, classroom)
        except RosterError as error:
            raise CommandError(str(error)) from None
        if chosen is not None:
            self._bring_in(classroom, chosen, apply=options["apply"], keep=options["keep_unlisted"])

    def _describe(self, found: Table | Package, options: dict[str, Any]) -> None:
        """Say what a file holds."""
        if isinstance(found, Package):
            self.stdout.write(f"OneRoster {found.version}")
            for group in found.classes:
                self.stdout.write(
                    f"  {group.source_id}  {group.title}: {_counted(len(group.children), 'student')}"
                )
            self._say_faults(found.faults)
            return
        columns = _columns(found, options)
        self.stdout.write(found.about)
        for field in fields(columns):
            place = getattr(columns, field.name)
            said = found.headings[place] if place is not None else "not in the file"
            self.stdout.write(f"  {_OPTIONS[field.name][0]:<9} {said}")
        for name, count in groups_of(found, columns):
            self.stdout.write(f"  {name}: {_counted(count, 'row')}")
        reading = read_children(found, columns)
        self.stdout.write(f"{len(reading.children)} children")
        self._say_faults(reading.faults)

    def _bring_in(self, classroom: Classroom, chosen: Chosen, *, apply: bool, keep: bool) -> None:
        self._say_faults(chosen.faults)
        self._say_plan(plan_for(classroom, chosen.children))
        if not apply:
            self.stdout.write("Nothing was changed. Add --apply to bring the class up to date.")
            return
        leave: set[int] | None = set() if keep else None
        done = apply_roster(classroom, chosen.children, leave=leave, source=chosen.source)
        self.stdout.write(f"{done.added} added, {done.changed} changed, {done.left} marked as left.")

    def _say_plan(self, plan: Plan) -> None:
        for child in plan.added:
            self.stdout.write(f"  + {child.name.shown}")
        for match in plan.changed:
            self.stdout.write(
                f"  ~ {match.known.name.shown} -> {match.name.shown} {match.source_id}".rstrip()
            )
        for known in plan.unlisted:
            self.stdout.write(f"  - {known.name.shown} (no longer listed)")
        self.stdout.write(
            f"{len(plan.added)} to add, {len(plan.changed)} to change, {len(plan.kept)} kept, "
            f"{len(plan.unlisted)} no longer listed"
        )

    def _say_faults(self, faults: list[Fault]) -> None:
        for fault in faults:
            where = f"{fault.file} line" if fault.file else "line"
            self.stderr.write(f"  {where} {fault.line}: {fault.reason}")
        if faults:
            self.stderr.write(f"Not read: {_counted(len(faults), 'row')}.")


def _counted(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def _today() -> datetime.date:
    """Return the school's date; saying what is in a file needs no database that was set up."""
    try:
        return timezone.localdate(timezone=school_zone())
    except DatabaseError:
        return timezone.localdate()


def _read(file: Path) -> bytes:
    try:
        if file.stat().st_size > MOST_BYTES:
            raise too_large()
        return file.read_bytes()
    except OSError as error:
        raise CommandError(f"{file} cannot be read: {error.strerror or error}.") from None


def _classroom(code: str) -> Classroom:
    try:
        classroom = Classroom.objects.filter(code=tidy_code(code)).first()
    except DatabaseError:
        raise CommandError("There are no classes yet. Start once with: python3 manage.py serve") from None
    if classroom is None:
        raise CommandError(f"No class here has the code {code}. {_known_codes()}")
    if classroom.archived_at is not None:
        raise CommandError(f"{classroom} is archived. Bring it back first.")
    return classroom


def _known_codes() -> str:
    known = [f"{room.code} ({room.name})" for room in Classroom.objects.filter(archived_at=None)[:20]]
    return f"Known codes: {', '.join(known)}." if known else "There is no class yet."


def _columns(table: Table, options: dict[str, Any]) -> Columns:
    """Return the guessed columns, but those that were named on the command line as they were named."""
    columns = guess(table)
    headings = [folded(heading) for heading in table.headings]
    for name in _OPTIONS:
        wanted = options[name]
        if wanted is None:
            continue
        if folded(wanted) not in headings:
            raise CommandError(f"There is no column {wanted}. There are: {', '.join(table.headings)}.")
        columns = replace(columns, **{name: headings.index(folded(wanted))})
    if not columns.has_names:
        raise CommandError(
            f"Which column holds the names? Say --first or --whole. There are: {', '.join(table.headings)}."
        )
    return columns


def _from_table(table: Table, origin: str | None, options: dict[str, Any]) -> Chosen:
    if any(options[name] for name in _OPTIONS):
        # Headings that are named here are headings, known or not.
        table = headed_by_first_row(table)
    columns = _columns(table, options)
    names = [name for name, _count in groups_of(table, columns)]
    if origin is not None and origin not in names:
        raise CommandError(f"There is no {origin} in the file. There are: {', '.join(names) or 'no groups'}.")
    if origin is None and len(names) > 1:
        raise CommandError(f"Which class of the file is it? Say --from and one of: {', '.join(names)}.")
    reading = read_children(table, columns, origin or "")
    return Chosen(reading.children, reading.faults, origin=origin or "")


def _from_package(package: Package, origin: str | None, classroom: Classroom) -> Chosen:
    source = source_of(classroom)
    wanted = origin or (source.source_id if source else classroom.name)
    found = package.find(wanted)
    if len(found) != 1:
        titles = ", ".join(f"{group.source_id} ({group.title})" for group in package.classes)
        raise CommandError(f"Which class of the file is it? Say --from and one of: {titles}.")
    group = found[0]
    ids = SourceIds(group.source_id, group.school_source_id, group.session_source_id)
    return Chosen(group.children, package.faults, ids, group.title)

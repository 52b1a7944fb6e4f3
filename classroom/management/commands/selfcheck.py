"""`manage.py selfcheck`: is this installation well: a line a question, and what to do about it."""

from __future__ import annotations

import os
import shutil
import stat
import sys
import time
from collections.abc import Callable, Iterator
from typing import Any, NamedTuple

from django.conf import settings
from django.core.management.base import BaseCommand
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor

from classroom.data_place import place_problem
from classroom.models import Installation
from classroom.version import VERSION

ENOUGH_BYTES = 1_000_000_000
# This program was written later: a clock before it was never set.
EARLIEST = 1_760_000_000


class Finding(NamedTuple):
    """What a check found; `problem` is "" where all is well, else what is wrong and how it is mended."""

    what: str
    problem: str = ""


def _versions() -> Finding:
    python = ".".join(map(str, sys.version_info[:3]))
    return Finding(f"Second Build {VERSION} on Python {python}")


def _folder() -> Finding:
    folder = settings.DATA_DIR
    what = f"Data folder {folder}"
    if not os.access(folder, os.W_OK):
        return Finding(what, "It cannot be written to. Give it to the account that runs the server.")
    return Finding(what, place_problem(folder) if connection.vendor == "sqlite" else "")


def _secret() -> Finding:
    path = settings.DATA_DIR / "secret-key"
    if sys.platform != "win32" and path.exists() and stat.S_IMODE(path.stat().st_mode) & 0o077:
        return Finding("Secret key", f"Others on this machine can read {path}: chmod 600 it.")
    return Finding("Secret key is its owner's alone")


def _room() -> Finding:
    free = shutil.disk_usage(settings.DATA_DIR).free
    photos = sum(path.stat().st_size for path in settings.PHOTO_DIR.rglob("*") if path.is_file())
    what = f"{free / 1e9:.1f} GB free, photos take {photos / 1e6:.0f} MB"
    if free < ENOUGH_BYTES:
        return Finding(what, "Less than 1 GB is free: make room before the next lesson.")
    return Finding(what)


def _database() -> Finding:
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT COUNT(*) FROM django_migrations")
        executor = MigrationExecutor(connection)
        missing = executor.migration_plan(executor.loader.graph.leaf_nodes())
    except DatabaseError as error:
        return Finding("Database", f"It does not answer ({type(error).__name__}). Has `serve` run once?")
    if missing:
        return Finding("Database", f"{len(missing)} changes wait: start `serve` once, or run `migrate`.")
    return Finding(f"Database answers ({connection.vendor}) and is up to date")


def _whole() -> Finding:
    if connection.vendor != "sqlite":
        return Finding("The database server keeps its own files whole")
    with connection.cursor() as cursor:
        found = {
            name: cursor.execute(f"PRAGMA {name}").fetchone()[0]
            for name in ("quick_check", "journal_mode", "synchronous")
        }
    if found["quick_check"] != "ok":
        return Finding("Database file", "It is damaged. Stop the server and restore the newest backup.")
    if (found["journal_mode"], found["synchronous"]) != ("wal", 2):
        return Finding("Database file", f"It is not kept as safely as it should be: {found}.")
    return Finding("Database file is whole; each save is on the disk before it is acknowledged")


def _clock() -> Finding:
    what = f"Clock: {time.strftime('%Y-%m-%d %H:%M UTC', time.gmtime())}, school in {_zone()}"
    if time.time() < EARLIEST:
        return Finding(what, "The machine's clock is years behind: set it, links would count as expired.")
    return Finding(what)


def _zone() -> str:
    try:
        return Installation.get().time_zone
    except DatabaseError:
        return "UTC"


def _static() -> Finding:
    if not (settings.STATIC_ROOT / "built-from").exists():
        return Finding("Static files", "They are not built yet: start `serve` once.")
    return Finding("Static files are built")


CHECKS: tuple[Callable[[], Finding], ...] = (
    _versions,
    _folder,
    _secret,
    _room,
    _database,
    _whole,
    _clock,
    _static,
)


def findings() -> Iterator[Finding]:
    """Return what every check found; the later ones are left out where the database does not answer."""
    for check in CHECKS:
        found = check()
        yield found
        if check is _database and found.problem.startswith("It does not answer"):
            return


class Command(BaseCommand):
    help = (
        "Check this installation: folder, secret, disk, database, clock. Exits with 1 if anything is wrong."
    )
    requires_system_checks = []

    def handle(self, *args: Any, **options: Any) -> None:
        wrong = 0
        for found in findings():
            self.stdout.write(f"{'LOOK' if found.problem else 'well'}  {found.what}")
            if found.problem:
                wrong += 1
                self.stdout.write(f"      {found.problem}")
        self.stdout.write("All is well." if not wrong else f"{wrong} to look at.")
        if wrong:
            sys.exit(1)

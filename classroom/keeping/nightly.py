"""The backup of every night: one file a day in a folder, the last 14 kept, made beside the server."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path

from django.conf import settings
from django.db import connection

from classroom.filelock import FileLock, LockedElsewhereError
from classroom.models import Classroom
from classroom.school_time import school_zone

KEPT = 14
NIGHT_BEGINS = timedelta(hours=2)
"""A day's backup is due at two in the morning of the school's time, or as soon as the machine is on again."""

LOOK_EVERY_S = 300
FIRST_LOOK_S = 5
PREFIX, SUFFIX = "second-build-", ".zip"


class Nightly:
    """Looks every few minutes whether the day has its backup; makes it in a process of its own."""

    def __init__(self, folder: Path, say: Callable[[str], None]) -> None:
        self.folder = folder
        self.say = say
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._watch, name="nightly-backup", daemon=True)

    def start(self) -> None:
        """Begin to look, in a thread."""
        self._thread.start()

    def stop(self) -> None:
        """Look no more; a backup that is being written is dropped."""
        self._stop.set()

    def _watch(self) -> None:
        wait = FIRST_LOOK_S
        while not self._stop.wait(wait):
            wait = LOOK_EVERY_S
            try:
                self.make_if_due(_now())
            except Exception as error:  # it must look again tomorrow, whatever happened tonight
                self.say(f"The nightly backup failed: {type(error).__name__}.")

    def make_if_due(self, now: datetime) -> Path | None:
        """Make the day's backup where it is missing, and return it; None where there is nothing to do."""
        path = self.folder / name_of((now - NIGHT_BEGINS).date())
        if path.exists() or not Classroom.objects.exists():
            return None
        self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        try:
            # Of several server processes one makes it.
            with FileLock(self.folder / "backup.lock"):
                if path.exists():
                    return None
                done = subprocess.run(
                    [sys.executable, "-m", "django", "backup", str(path)],
                    cwd=settings.BASE_DIR,
                    env={**os.environ, "DJANGO_SETTINGS_MODULE": "classroom.settings"},
                    capture_output=True,
                    text=True,
                    check=False,
                )
                if done.returncode:
                    why = (done.stderr.strip().splitlines() or ["no reason given"])[-1]
                    self.say(f"The nightly backup failed: {why}")
                    return None
                forget_old(self.folder, keep=path)
        except LockedElsewhereError:
            return None
        finally:
            # This thread's own, which nobody else closes.
            connection.close()
        return path


def name_of(day: date) -> str:
    """Return the name of a day's backup."""
    return f"{PREFIX}{day:%Y-%m-%d}{SUFFIX}"


def forget_old(folder: Path, *, keep: Path) -> list[Path]:
    """Delete all but the last 14 backups of this folder and return what went; never the one just made."""
    made = sorted((path for path in folder.glob(f"{PREFIX}*{SUFFIX}") if path != keep), reverse=True)
    old = made[KEPT - 1 :]
    for path in old:
        path.unlink(missing_ok=True)
    return old


def _now() -> datetime:
    return datetime.now(tz=school_zone())

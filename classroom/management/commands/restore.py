"""`manage.py restore FILE`: a backup back onto an empty machine."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError

from classroom.filelock import FileLock, LockedElsewhereError
from classroom.keeping.archive import BackupError
from classroom.keeping.restore import restore_backup


class Command(BaseCommand):
    help = "Restore a backup onto an empty machine: all of it, or nothing."
    requires_system_checks = []

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE", help="a file that `backup` wrote")

    def handle(self, *args: Any, file: Path, **options: Any) -> None:
        try:
            with FileLock(settings.DATA_DIR / "serving.lock"):
                manifest = restore_backup(file)
        except LockedElsewhereError:
            raise CommandError("A server runs on this data. Stop it first (Ctrl-C).") from None
        except BackupError as error:
            raise CommandError(str(error)) from None
        except DatabaseError as error:
            raise CommandError(
                f"The database did not take the backup ({type(error).__name__}). Nothing was restored."
            ) from None
        except OSError as error:
            raise CommandError(
                f"A file could not be written: {error.strerror}. Nothing was restored."
            ) from None
        photos = sum(name.startswith("photos/") for name in manifest.members)
        self.stdout.write(f"Restored {sum(manifest.rows.values())} rows and {photos} photos of {file}.")
        self.stdout.write(f"Digest {manifest.digest}")

"""`manage.py backup FILE`: everything into one file, while the server runs."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError

from classroom.keeping.archive import BackupError
from classroom.keeping.backup import make_backup


class Command(BaseCommand):
    help = "Write a backup of everything (database, photos, secret key) to FILE, while the server runs."
    requires_system_checks = []

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE", help="the file to write, such as monday.zip")

    def handle(self, *args: Any, file: Path, **options: Any) -> None:
        try:
            manifest = make_backup(file)
        except BackupError as error:
            raise CommandError(str(error)) from None
        except DatabaseError:
            raise CommandError("The database does not answer: no backup was made.") from None
        except OSError as error:
            raise CommandError(
                f"{file} could not be written: {error.strerror}. No backup was made."
            ) from None
        photos = sum(name.startswith("photos/") for name in manifest.members)
        rows = sum(manifest.rows.values())
        self.stdout.write(f"{file}: {rows} rows of {len(manifest.rows)} tables, {photos} photos.")
        self.stdout.write(f"Digest {manifest.digest}")
        self.stdout.write("It holds the children's names and work: keep it where you keep the class list.")

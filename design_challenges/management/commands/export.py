"""`manage.py export CODE --to DIR`: a class's CSV files and its gradebook, written into a folder."""

from __future__ import annotations

import argparse
import os
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.utils import timezone

from classroom.codes import tidy_code
from classroom.models import Classroom
from classroom.school_time import school_zone
from design_challenges.services.exports import ExportError, class_files, write_files


class Command(BaseCommand):
    help = "Write the files of the class with this code: four CSV files and gradebook.xlsx."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("code", help="the class code, as it stands on the class's page")
        parser.add_argument(
            "--to", type=Path, required=True, metavar="DIR", help="the folder; made where it is missing"
        )

    def handle(self, *args: Any, code: str, to: Path, **options: Any) -> None:
        classroom = _find_class(code)
        if classroom is None and _is_of_demo(code):
            _export_from_demo(code, to)
            return
        if classroom is None:
            raise CommandError(f"No class here has the code {code}. {_known_codes()}")
        try:
            with timezone.override(school_zone()):
                files = class_files(classroom)
        except ExportError as error:
            raise CommandError(str(error)) from None
        try:
            written = write_files(files, to)
        except OSError as error:
            raise CommandError(f"Nothing could be written to {to}: {error.strerror or error}.") from None
        for path in written:
            self.stdout.write(str(path))


def _find_class(code: str) -> Classroom | None:
    """Return the class, or None: also where nothing but the demo was ever started here."""
    if not connection.introspection.table_names():
        return None
    return Classroom.objects.filter(code=tidy_code(code)).first()


def _is_of_demo(code: str) -> bool:
    """Return whether the demo, which lives in a database of its own, has a class with this code."""
    database = settings.DATA_DIR / "demo" / "second-build.sqlite3"
    if settings.DEMO or not database.is_file():
        return False
    with closing(sqlite3.connect(f"{database.resolve().as_uri()}?mode=ro", uri=True)) as demo:
        try:
            found = demo.execute("SELECT 1 FROM classroom_classroom WHERE code = ?", [tidy_code(code)])
        except sqlite3.Error:
            return False
        return found.fetchone() is not None


def _export_from_demo(code: str, to: Path) -> None:
    """Run this command again on the demo's data: settings are read once a process."""
    command = [sys.executable, str(settings.BASE_DIR / "manage.py"), "export", code, "--to", str(to)]
    done = subprocess.run(command, env={**os.environ, "SECOND_BUILD_DEMO": "1"}, check=False)
    if done.returncode:
        sys.exit(done.returncode)


def _known_codes() -> str:
    if not connection.introspection.table_names():
        return "There is no class yet."
    known = [f"{classroom.code} ({classroom.name})" for classroom in Classroom.objects.order_by("name")[:20]]
    return f"Known codes: {', '.join(known)}." if known else "There is no class yet."

"""`manage.py bench`: what the product costs on this machine, beside a bare view on the same server."""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand

from classroom import startup

MARK = "SECOND_BUILD_BENCH"


class Command(BaseCommand):
    help = "Measure speed on this machine, on a database of its own that is thrown away afterwards."
    requires_system_checks = []

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--json", action="store_true", help="print JSON instead of a table")
        parser.add_argument(
            "--quick", action="store_true", help="a minute instead of half an hour, rough figures"
        )
        parser.add_argument(
            "--only",
            action="append",
            metavar="PART",
            help="requests, work, day, capacity, growth, pages, station",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if os.environ.get(MARK):
            self.measure(**options)
            return
        # In a process of its own, whose settings see nothing but a folder that is thrown away.
        kept = {
            name: text
            for name, text in os.environ.items()
            if name not in ("DATABASE_URL", "SECOND_BUILD_DEMO")
        }
        with tempfile.TemporaryDirectory(prefix="second-build-bench-") as folder:
            done = subprocess.run(
                [sys.executable, str(settings.BASE_DIR / "manage.py"), *sys.argv[1:]],
                env=kept | {MARK: "1", "SECOND_BUILD_DATA": folder},
                cwd=settings.BASE_DIR,
                check=False,
            )
        sys.exit(done.returncode)

    def measure(self, **options: Any) -> None:
        """Measure, in the process whose data folder is thrown away."""
        from design_challenges.bench.rows import as_table, machine
        from design_challenges.bench.run import PARTS, QUICK, WHOLE, run

        startup.build_static_files()
        startup.migrate()
        about = machine()
        rows = run(
            QUICK if options["quick"] else WHOLE,
            tuple(options["only"] or PARTS),
            lambda text: self.stderr.write(text),
        )
        if options["json"]:
            self.stdout.write(
                json.dumps({"machine": about, "rows": [row.as_json() for row in rows]}, indent=1)
            )
            return
        self.stdout.write(f"{about}\n\n{as_table(rows)}")

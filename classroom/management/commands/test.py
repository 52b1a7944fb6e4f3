"""`manage.py test`: the whole suite with pytest."""

from __future__ import annotations

import os
import subprocess
import sys
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand

HELP = """\
usage: manage.py test [--require-browser] [--long] [anything that pytest takes]

Runs the whole test suite. Browser tests run where a Chromium is found.

  --require-browser   fail where there is no Chromium
  --long              run the tests that take minutes, too
"""


class Command(BaseCommand):
    help = "Run the test suite with pytest."
    requires_system_checks = []

    def run_from_argv(self, argv: list[str]) -> None:
        """Hand every argument to pytest, which knows more of them than could be listed here."""
        wanted = argv[2:]
        if wanted in (["--help"], ["-h"]):
            self.stdout.write(HELP)
            return
        sys.exit(self.run_pytest(wanted))

    def handle(self, *args: Any, **options: Any) -> None:
        sys.exit(self.run_pytest([]))

    def run_pytest(self, arguments: list[str]) -> int:
        """Run pytest in a process of its own, which chooses its own settings, and return its exit code."""
        environ = {name: value for name, value in os.environ.items() if name != "DJANGO_SETTINGS_MODULE"}
        command = [sys.executable, "-m", "pytest", *arguments]
        with subprocess.Popen(command, cwd=settings.BASE_DIR, env=environ) as tests:
            while True:
                try:
                    return tests.wait()
                except KeyboardInterrupt:  # pytest heard it too, and reports what it has
                    continue

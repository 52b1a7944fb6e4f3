"""A server of the benchmark's own: its own folder, database and port, ended with the benchmark."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings

_PROGRAM = """
import django
django.setup()
from classroom.server import Server
server = Server("127.0.0.1", 0)
server.run(on_ready=lambda: print(f"port {server.port}", flush=True))
"""


@contextmanager
def running() -> Iterator[str]:
    """Serve this process's data folder and database with the bare views beside; yield the address."""
    environ = os.environ | {
        "SECOND_BUILD_DATA": str(Path(settings.DATA_DIR)),
        "DJANGO_SETTINGS_MODULE": "design_challenges.bench.settings",
        "PYTHONPATH": str(settings.BASE_DIR),
    }
    with subprocess.Popen(
        [sys.executable, "-c", _PROGRAM],
        env=environ,
        cwd=settings.BASE_DIR,
        text=True,
        stdout=subprocess.PIPE,
    ) as process:
        try:
            line = process.stdout.readline() if process.stdout else ""
            found = re.match(r"port (\d+)", line)
            if found is None:
                raise RuntimeError("The benchmark's server did not start.")
            yield f"http://127.0.0.1:{found[1]}"
        finally:
            process.terminate()
            process.wait(20)

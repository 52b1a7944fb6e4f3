"""The real server for tests: started from the command line, on a real SQLite file, killed when need be."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import subprocess
import sys
import threading
import time
import urllib.request
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
START_S = 120
# The tests' Chromium finds this machine by it, and like a tablet does not count it as its own.
LAN_NAME = "school.lan"

PREAMBLE = "import django, json; django.setup()\n"


def program_environment(data: Path, extra: dict[str, str] | None = None) -> dict[str, str]:
    """Return the environment of a program that works on the data folder `data`."""
    environ = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith("SECOND_BUILD_") and name != "DATABASE_URL"
    }
    environ |= {"SECOND_BUILD_DATA": str(data), "DJANGO_SETTINGS_MODULE": "classroom.settings"}
    environ["SECOND_BUILD_BACKUPS"] = "off"
    return environ | (extra or {})


class ServedSite:
    """One server process on a data folder of its own; it can be stopped, killed and started again.

    base_url    where it answers, without a slash at the end; the browser counts it as secure (127.0.0.1)
    lan_url     the same server by a name that the browser does not count as secure, as from a tablet
    output      every line that the server has printed
    own_group   whether it leads a process group of its own, which a kill ends whole
    """

    own_group = True

    def __init__(
        self, data: Path, extra_environment: dict[str, str] | None = None, command: str = "serve"
    ) -> None:
        self.data = data
        self.command = command
        self.environ = program_environment(data, extra_environment)
        self.port = 0
        self.output: list[str] = []
        self.process: subprocess.Popen[str] | None = None

    @property
    def base_url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    @property
    def ports(self) -> list[int]:
        """The port of each server process."""
        return [self.port]

    @property
    def lan_url(self) -> str:
        return f"http://{LAN_NAME}:{self.port}"

    @property
    def database(self) -> Path:
        """The SQLite file."""
        folder = self.data / "demo" if self.command == "demo" else self.data
        return folder / "second-build.sqlite3"

    @property
    def first_teacher_path(self) -> str:
        """The path of the one-time link that the latest start printed; empty when it printed none."""
        for line in reversed(self.output):
            if found := re.search(r"/first-teacher/\S+", line):
                return found[0]
        return ""

    def start(self, *arguments: str) -> None:
        """Start it, on the port it had before if it had one, and wait until it says that it is running.

        `arguments` are further ones for the command, such as --fresh.
        """
        command = [sys.executable, "manage.py", self.command, "--host", "127.0.0.1"]
        command += ["--port", str(self.port), *arguments]
        self.output = []
        self.process = subprocess.Popen(
            command,
            cwd=ROOT,
            env=self.environ,
            text=True,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            start_new_session=self.own_group,
        )
        running = threading.Event()
        threading.Thread(target=self._listen, args=(self.process, running), daemon=True).start()
        running.wait(START_S)
        if not self.port or self.process.poll() is not None:
            self.kill()
            raise AssertionError("The server did not start:\n" + "".join(self.output))

    def _listen(self, process: subprocess.Popen[str], running: threading.Event) -> None:
        assert process.stdout
        for line in process.stdout:
            self.output.append(line)
            if found := re.match(r"\s+https?://127\.0\.0\.1:(\d+)/$", line):
                self.port = int(found[1])
            if line.startswith("Ctrl-C"):
                running.set()
        running.set()

    def stop(self, number: int = signal.SIGTERM) -> int:
        """Stop it as a person or a service manager would, with a signal, and return its exit code."""
        return self._end(number)

    def kill(self) -> int:
        """Kill it in the middle of whatever it does (SIGKILL), as a power cut would."""
        return self._end(signal.SIGKILL)

    def _end(self, number: int) -> int:
        if self.process is None:
            return 0
        process, self.process = self.process, None
        if process.poll() is None:
            if number == signal.SIGKILL and hasattr(os, "killpg"):
                os.killpg(process.pid, number)
            else:
                process.send_signal(number)
        try:
            return process.wait(30)
        except subprocess.TimeoutExpired:
            process.kill()
            raise

    def restart(self) -> None:
        """Stop and start it on the same data and port."""
        self.stop()
        self.start()

    def manage(self, *arguments: str) -> str:
        """Run a manage.py command on the server's data and return what it printed."""
        return self._run([sys.executable, "manage.py", *arguments])

    def run_python(self, code: str) -> str:
        """Run Python on the server's database, in a process of its own, and return what it printed.

        Django is set up and json imported; the models are not.
        """
        return self._run([sys.executable, "-c", PREAMBLE + code]).strip()

    def ask_python(self, code: str) -> Any:
        """Run Python as `run_python` does and return what its last printed line says as JSON."""
        return json.loads(self.run_python(code).splitlines()[-1])

    def _run(self, command: list[str]) -> str:
        done = subprocess.run(
            command, cwd=ROOT, env=self.environ, text=True, capture_output=True, timeout=600, check=False
        )
        if done.returncode:
            raise AssertionError(f"exit code {done.returncode}\n{done.stdout}\n{done.stderr}")
        return done.stdout

    def is_healthy(self) -> bool:
        """Say whether the health check answers 200."""
        try:
            with urllib.request.urlopen(f"{self.base_url}/healthz", timeout=20) as answer:  # noqa: S310
                return bool(answer.status == 200)
        except OSError:
            return False

    def wait_until_healthy(self, seconds: float = 30) -> None:
        """Wait for the health check, at most `seconds`."""
        end = time.monotonic() + seconds
        while not self.is_healthy():
            assert time.monotonic() < end, "The server does not answer."
            time.sleep(0.05)


def build_template(data: Path, extra_environment: dict[str, str] | None = None) -> None:
    """Make a data folder with an empty, migrated database and built static files, to be copied."""
    data.mkdir(parents=True, exist_ok=True)
    code = "from classroom import startup; startup.build_static_files(); startup.migrate()"
    environ = program_environment(data, extra_environment)
    subprocess.run(
        [sys.executable, "-W", "ignore", "-c", PREAMBLE + code],
        cwd=ROOT,
        env=environ,
        check=True,
        timeout=180,
    )


def copy_template(template: Path, data: Path) -> None:
    """Copy a template's database and static files; the secret key is each server's own."""
    shutil.copytree(template, data, dirs_exist_ok=True, ignore=shutil.ignore_patterns("secret-key"))

"""The first start: makes .venv beside manage.py, installs the project there, goes on inside it.

Standard library only, since it runs where nothing is installed. Nothing is ever installed anywhere else.
"""

from __future__ import annotations

import hashlib
import importlib.util
import json
import os
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Sequence
from pathlib import Path

from classroom.filelock import FileLock, LockedElsewhereError

ROOT = Path(__file__).resolve().parent.parent
RESTARTED = "SECOND_BUILD_RESTARTED"
INSTALL_WAIT_S = 900
# Any of these would send packages somewhere else than .venv or confuse the Python inside it.
MISLEADING = ("PIP_TARGET", "PIP_PREFIX", "PIP_ROOT", "PIP_USER", "PYTHONHOME", "__PYVENV_LAUNCHER__")

NO_VENV = """\
This Python cannot make a virtual environment. Its `venv` module or pip is missing; get it with

    Debian, Ubuntu:   sudo apt install python3-venv python3-pip
    Fedora:           sudo dnf install python3-pip
    Windows, macOS:   install Python from python.org, pip included

and start the same command again."""

NO_INSTALL = """\
The packages could not be installed; the lines above say why. The first start needs the internet (about
130 MB) and about 500 MB of free disk. Nothing outside .venv was changed: start the same command again when
that is mended."""


LINKED = """\
{folder} is a link to somewhere else. Two copies of the program must not share one environment: an update of
one would break the other. Remove the link (not what it leads to) and start the same command again."""


class SetUpError(Exception):
    """The environment could not be made; the message says what to do."""


def say(text: str) -> None:
    """Tell the person at the keyboard; on stderr, so that a command's own output stays clean."""
    print(text, file=sys.stderr, flush=True)


class Environment:
    """The virtual environment beside manage.py: is it ready, make it so, go on inside it."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.folder = root / ".venv"
        self.stamp = self.folder / "second-build.json"
        self.unfinished = self.folder / "second-build-unfinished"

    @property
    def python(self) -> Path:
        """Its interpreter."""
        if os.name == "nt":
            return self.folder / "Scripts" / "python.exe"
        return self.folder / "bin" / "python"

    def refuse_link(self) -> None:
        """Raise SetUpError where .venv is a link: another copy's environment would be changed through it."""
        if self.folder.is_symlink():
            raise SetUpError(LINKED.format(folder=self.folder))

    def is_this_one(self) -> bool:
        """Say whether this process already runs inside it."""
        return Path(sys.prefix).resolve() == self.folder.resolve()

    def fingerprint(self) -> str:
        """Return a digest of everything an installation depends on: requirements, extras and the place."""
        project = tomllib.loads((self.root / "pyproject.toml").read_text(encoding="utf-8"))["project"]
        told = [project["dependencies"], project.get("optional-dependencies", {}), project["version"]]
        told.append(str(self.root.resolve()))
        return hashlib.sha256(json.dumps(told, sort_keys=True).encode()).hexdigest()

    def installed_extras(self) -> set[str] | None:
        """Return the extras of a finished, current installation; None where there is none."""
        if self.unfinished.exists() or not self.python.exists():
            return None
        try:
            told = json.loads(self.stamp.read_text(encoding="utf-8"))
            if told["fingerprint"] == self.fingerprint():
                return set(told["extras"])
        except (OSError, ValueError, KeyError, TypeError):
            pass  # no stamp, or one cut off in the middle: not a finished installation
        return None

    def is_ready(self, extras: set[str]) -> bool:
        """Say whether everything is installed, with `extras`."""
        installed = self.installed_extras()
        return installed is not None and extras <= installed

    def make_ready(self, extras: set[str]) -> None:
        """Make it if need be and install the project with `extras`; SetUpError where that fails."""
        try:
            with self._only_installer():
                if self.is_ready(extras):  # another start was quicker
                    return
                # Extras of an older installation stay, so that `test` then `demo` then `test` installs once.
                extras = extras | self._stamped_extras()
                if not self._is_sound():
                    self._make()
                self._install(extras)
        except LockedElsewhereError:
            raise SetUpError(
                "Another start is still installing. Wait for it to end, then try again."
            ) from None

    def _only_installer(self) -> FileLock:
        lock = FileLock(self.root / ".venv.lock", wait_s=INSTALL_WAIT_S)
        try:
            return FileLock(lock.path).take()
        except LockedElsewhereError:
            say("Another start is installing; waiting for it …")
            return lock.take()

    def _stamped_extras(self) -> set[str]:
        try:
            return set(json.loads(self.stamp.read_text(encoding="utf-8"))["extras"])
        except (OSError, ValueError, KeyError, TypeError):
            return set()

    def _is_sound(self) -> bool:
        """Say whether there is a whole environment to install into."""
        if self.unfinished.exists() or not self.python.exists():
            return False
        check = "import sys; sys.exit(sys.version_info < (3, 11) or sys.prefix == sys.base_prefix)"
        try:
            return subprocess.run([self.python, "-I", "-c", check], check=False).returncode == 0
        except OSError:
            return False

    def _make(self) -> None:
        if self.folder.exists():
            say("Clearing away an unfinished .venv …")
            if self.is_this_one() and os.name == "nt":
                raise SetUpError(
                    "The .venv folder is damaged and in use. Delete it and start with your own Python."
                )
            shutil.rmtree(self.folder)
        say(f"Making a Python environment in {self.folder} …")
        self.folder.mkdir()
        self.unfinished.touch()
        command = [_base_python(), "-m", "venv"]
        if importlib.util.find_spec("ensurepip") is None:
            command.append("--without-pip")
        if subprocess.run([*command, str(self.folder)], env=_clean_environment(), check=False).returncode:
            raise SetUpError(NO_VENV)

    def _pip(self) -> list[str]:
        """Return the start of a pip command that installs into this environment."""
        own = subprocess.run([self.python, "-I", "-c", "import pip"], stderr=subprocess.DEVNULL, check=False)
        if own.returncode == 0:
            return [str(self.python), "-m", "pip"]
        if importlib.util.find_spec("pip") is None:
            raise SetUpError(NO_VENV)
        return [sys.executable, "-m", "pip", "--python", str(self.python)]

    def _install(self, extras: set[str]) -> None:
        say(
            "Installing what the program needs into it. This happens once and takes from half a minute to a\n"
            "few minutes: about 130 MB to fetch, 500 MB on disk …"
        )
        self.unfinished.touch()
        wanted = str(self.root) + (f"[{','.join(sorted(extras))}]" if extras else "")
        command = [*self._pip(), "install", "--no-input", "--disable-pip-version-check"]
        if not sys.stderr.isatty():
            command.append("--quiet")
        failed = subprocess.run(
            [*command, "--editable", wanted], env=_clean_environment(), stdout=sys.stderr, check=False
        ).returncode
        # pip fetches everything before it touches anything, so its own refusals leave nothing half done.
        self.unfinished.unlink(missing_ok=True)
        if failed:
            raise SetUpError(NO_INSTALL)
        told = {"fingerprint": self.fingerprint(), "extras": sorted(extras)}
        draft = self.stamp.with_suffix(".draft")
        draft.write_text(json.dumps(told), encoding="utf-8")
        draft.replace(self.stamp)
        say("Installed.")

    def go_inside(self, argv: Sequence[str]) -> int:
        """Run manage.py again inside the environment and return its exit code (POSIX: never returns)."""
        environ = {**_clean_environment(), RESTARTED: "1"}
        command = [str(self.python), str(self.root / "manage.py"), *argv[1:]]
        sys.stdout.flush()
        sys.stderr.flush()
        if os.name != "nt":
            # The same process goes on, so a signal sent to it reaches the server and nothing is left behind.
            os.execve(self.python, command, environ)  # noqa: S606
        with subprocess.Popen(command, env=environ) as inside:
            while True:
                try:
                    return inside.wait()
                except KeyboardInterrupt:  # the one inside heard it too, and stops by itself
                    continue


def _base_python() -> str:
    return str(getattr(sys, "_base_executable", None) or sys.executable)


def _clean_environment() -> dict[str, str]:
    return {name: value for name, value in os.environ.items() if name not in MISLEADING}


def extras_for(argv: Sequence[str], database_url: str) -> set[str]:
    """Return what a command needs besides the run-time packages."""
    extras = set()
    if argv[1:2] == ["test"]:
        extras.add("test")
    if database_url.startswith(("postgres:", "postgresql:", "pgsql:")):
        extras.add("postgres")
    return extras


def main(argv: Sequence[str]) -> int:
    """Run the command in `argv` inside the environment, which is made first where it is missing."""
    environment = Environment(ROOT)
    extras = extras_for(argv, os.environ.get("DATABASE_URL", ""))
    try:
        environment.refuse_link()
        if not environment.is_ready(extras):
            environment.make_ready(extras)
            return environment.go_inside(argv)
        if not environment.is_this_one():
            if os.environ.get(RESTARTED):
                raise SetUpError(
                    "The Python in .venv does not work. Delete the .venv folder and start again."
                )
            return environment.go_inside(argv)
    except SetUpError as error:
        say(str(error))
        return 1
    except KeyboardInterrupt:
        say("Stopped. The next start takes up where this one was.")
        return 130
    os.environ.pop(RESTARTED, None)
    return run_command(argv)


def run_command(argv: Sequence[str]) -> int:
    """Hand the command to Django, the demo with its own data folder."""
    if argv[1:2] == ["demo"]:
        os.environ["SECOND_BUILD_DEMO"] = "1"
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "classroom.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line(list(argv))
    return 0

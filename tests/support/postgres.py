"""A PostgreSQL of the tests' own, thrown away afterwards; run as a program it runs tests on it.

`python -m tests.support.postgres [pytest arguments]`: what tells databases apart, with two servers behind one
address wherever a test asks for a served site.
"""

from __future__ import annotations

import os
import pwd
import shutil
import socket
import subprocess
import sys
import tempfile
import uuid
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
VARIABLE = "SECOND_BUILD_TEST_POSTGRES"
"""Holds the address of the tests' cluster, without a database's name, while tests run on it."""

# Concurrency, throttles, outbox, entries and live pages, backup and erasing: what a database, or a second
# process, could change. The longest first, so that two workers end at about the same time.
SUBSET = (
    "tests/browser/test_live.py",
    "tests/faults/test_outbox.py",
    "tests/faults/test_machine.py",
    "tests/faults/test_two_servers.py",
    "tests/faults/test_backup.py",
    "tests/faults/test_drops_at_once.py",
    "tests/faults/test_erased_for_good.py",
    "tests/faults/test_rosters_at_once.py",
    "tests/faults/test_two_tablets_at_once.py",
    "tests/classroom/test_guessing.py",
    "tests/classroom/test_health.py",
    "tests/classroom/test_join.py",
    "tests/classroom/test_prepared.py",
    "tests/design_challenges/services/test_entries.py",
    "tests/design_challenges/services/test_records.py",
    "tests/design_challenges/views/test_team_test.py",
    "tests/design_challenges/views/test_dashboard.py",
)


def programs() -> Path | None:
    """Return the folder of the newest PostgreSQL's own programs, or None where it is not installed."""
    folders = [*Path("/usr/lib/postgresql").glob("*/bin"), *Path("/usr/pgsql").glob("*/bin")]
    found = sorted(
        (one for one in folders if (one / "initdb").exists()), key=lambda one: float(one.parent.name)
    )
    if found:
        return found[-1]
    path = shutil.which("initdb")
    return Path(path).parent if path else None


def _as_owner(command: Sequence[str]) -> list[str]:
    """Return the command as somebody whom PostgreSQL lets own a cluster: it refuses root."""
    if os.geteuid() != 0:
        return list(command)
    return ["runuser", "-u", "postgres", "--", *command]


def _free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


@contextmanager
def cluster() -> Iterator[str]:
    """Start a cluster on a free port of this machine; yield its address, and throw it away."""
    where = programs()
    if where is None:
        raise RuntimeError("PostgreSQL is not installed here (apt-get install postgresql).")
    folder = Path(tempfile.mkdtemp(prefix="second-build-postgres-"))
    if os.geteuid() == 0:
        owner = pwd.getpwnam("postgres")
        os.chown(folder, owner.pw_uid, owner.pw_gid)
    data, port = folder / "data", _free_port()
    settings = f"port = {port}\nunix_socket_directories = '{folder}'\nlisten_addresses = '127.0.0.1'\n"
    settings += "max_connections = 200\n"
    try:
        initdb = [str(where / "initdb"), "-D", str(data), "-U", "tests", "-A", "trust", "-E", "UTF8"]
        command = _as_owner([*initdb, "--locale=C.UTF-8", "-N"])
        subprocess.run(command, check=True, cwd=folder, stdout=subprocess.DEVNULL, timeout=120)
        with (data / "postgresql.conf").open("a") as file:
            file.write(settings)
        start_again(data)
        yield f"postgres://tests@127.0.0.1:{port}"
    finally:
        _control(data, "-m", "immediate", "stop", check=False)
        shutil.rmtree(folder, ignore_errors=True)


def _control(data: Path, *arguments: str, check: bool = True) -> None:
    where = programs()
    assert where
    # Its own output goes to its log: a pipe that the server keeps open would never end.
    command = _as_owner([str(where / "pg_ctl"), "-D", str(data), "-w", *arguments])
    subprocess.run(command, check=check, cwd="/", stdout=subprocess.DEVNULL, timeout=120)


def stop_at_once() -> Path:
    """End the cluster as a kill does, with nothing put in order; return the folder to start it from again."""
    data = Path(administer("SHOW data_directory")[0][0])
    _control(data, "-m", "immediate", "stop")
    return data


def start_again(data: Path) -> None:
    """Start it; after a kill it goes through its log and puts itself in order."""
    _control(data, "-l", str(data.parent / "log"), "start")


def new_database(template: str = "", tablespace: str = "") -> str:
    """Make a database in the tests' cluster, empty or a copy of another, and return its address."""
    from psycopg import sql

    base = os.environ[VARIABLE]
    name = f"site_{uuid.uuid4().hex[:12]}"
    command = sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name))
    if template:
        command += sql.SQL(" TEMPLATE {}").format(sql.Identifier(template.rpartition("/")[2]))
    if tablespace:
        command += sql.SQL(" TABLESPACE {}").format(sql.Identifier(tablespace))
    administer(command)
    return f"{base}/{name}"


def administer(*commands: Any) -> list[tuple[Any, ...]]:
    """Run commands as the cluster's owner, each by itself, and return the last one's rows."""
    import psycopg

    with psycopg.connect(f"{os.environ[VARIABLE]}/postgres", autocommit=True) as connection:
        for command in commands:
            cursor = connection.execute(command)
        return cursor.fetchall() if cursor.description else []


def main(arguments: Sequence[str]) -> int:
    """Run pytest on a cluster of its own: what is asked for, or the subset."""
    options = list(arguments)
    paths = [] if any((ROOT / one.partition("::")[0]).exists() for one in arguments) else list(SUBSET)
    with cluster() as address:
        environ = os.environ | {VARIABLE: address, "DATABASE_URL": f"{address}/postgres"}
        command = [sys.executable, "-m", "pytest", "-p", "no:cacheprovider", *options, *paths]
        return subprocess.run(command, env=environ, check=False).returncode


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

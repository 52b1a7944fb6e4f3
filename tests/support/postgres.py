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

VARIABLE = "SECOND_BUILD_TEST_POSTGRES"
"""Holds the address of the tests' cluster, without a database's name, while tests run on it."""

# Concurrency, throttles, entries and live pages: what a database, or a second process, could change.
SUBSET = (
    "tests/faults",
    "tests/browser/test_live.py",
    "tests/classroom/test_guessing.py",
    "tests/classroom/test_prepared.py",
    "tests/classroom/test_join.py",
    "tests/design_challenges/services/test_entries.py",
    "tests/design_challenges/services/test_records.py",
    "tests/design_challenges/test_queries.py",
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
    options = f"-p {port} -k {folder} -c listen_addresses=127.0.0.1 -c max_connections=200"
    start = [str(where / "pg_ctl"), "-D", str(data), "-w", "-l", str(folder / "log"), "-o", options, "start"]
    try:
        initdb = [str(where / "initdb"), "-D", str(data), "-U", "tests", "-A", "trust", "-E", "UTF8"]
        for command in ([*initdb, "--locale=C.UTF-8", "-N"], start):
            # pg_ctl's own output goes to its log: a pipe that the server keeps open would never end.
            subprocess.run(_as_owner(command), check=True, cwd=folder, stdout=subprocess.DEVNULL, timeout=120)
        yield f"postgres://tests@127.0.0.1:{port}"
    finally:
        stop = [str(where / "pg_ctl"), "-D", str(data), "-m", "immediate", "stop"]
        subprocess.run(_as_owner(stop), check=False, cwd="/", stdout=subprocess.DEVNULL, timeout=60)
        shutil.rmtree(folder, ignore_errors=True)


def new_database(template: str = "") -> str:
    """Make a database in the tests' cluster, empty or a copy of another, and return its address."""
    import psycopg
    from psycopg import sql

    base = os.environ[VARIABLE]
    name = f"site_{uuid.uuid4().hex[:12]}"
    with psycopg.connect(f"{base}/postgres", autocommit=True) as connection:
        command = sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name))
        if template:
            source = sql.Identifier(template.rpartition("/")[2])
            command = sql.SQL("CREATE DATABASE {} TEMPLATE {}").format(sql.Identifier(name), source)
        connection.execute(command)
    return f"{base}/{name}"


def main(arguments: Sequence[str]) -> int:
    """Run pytest on a cluster of its own: what is asked for, or the subset."""
    options = [one for one in arguments if one.startswith("-")]
    paths = [one for one in arguments if not one.startswith("-")] or list(SUBSET)
    with cluster() as address:
        environ = os.environ | {VARIABLE: address, "DATABASE_URL": f"{address}/postgres"}
        command = [sys.executable, "-m", "pytest", "-p", "no:cacheprovider", *options, *paths]
        return subprocess.run(command, env=environ, check=False).returncode


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

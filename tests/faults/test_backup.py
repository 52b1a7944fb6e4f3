"""A backup made while children type comes back whole, on an empty machine, on either database."""

from __future__ import annotations

import json
import os
import shutil
import stat
import subprocess
import sys
import time
import zipfile
from pathlib import Path
from typing import Any

import pytest

from tests.support.database_rows import read_rows
from tests.support.postgres import VARIABLE, new_database
from tests.support.server import ROOT, ServedSite, program_environment
from tests.support.typing_children import TypingClass

ON_POSTGRESQL = VARIABLE in os.environ
on_a_file = pytest.mark.skipif(ON_POSTGRESQL, reason="compares files of SQLite; the move has a test below")

SCHOOL = """
from django.db import transaction
from tests.support.two_classes import TwoClasses
with transaction.atomic():
    TwoClasses()
"""


def tables(database: Path) -> dict[str, list[tuple[Any, ...]]]:
    """Return every row of every table, in an order of ours."""
    return {
        name: sorted((tuple(row.values()) for row in rows), key=repr)
        for name, rows in read_rows(database).items()
    }


def rows_held(site: ServedSite) -> dict[str, set[str]]:
    """Return every row of the tables that only ever grow, from either database, as text."""
    names = ("design_challenges_submission", "design_challenges_note")
    if not ON_POSTGRESQL:
        held = tables(site.database)
        return {name: set(map(repr, held[name])) for name in names}
    import psycopg

    with psycopg.connect(site.environ["DATABASE_URL"]) as connection:
        asked = {name: connection.execute(f"SELECT one::text FROM {name} AS one") for name in names}  # noqa: S608
        return {name: {text for (text,) in cursor.fetchall()} for name, cursor in asked.items()}


def photos(data: Path) -> dict[str, bytes]:
    """Return every photo by its name."""
    return {path.name: path.read_bytes() for path in (data / "photos").iterdir()}


def manage(data: Path, *arguments: str, **environ: str) -> subprocess.CompletedProcess[str]:
    """Run a command on a data folder."""
    return subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=ROOT,
        env=program_environment(data, environ),
        text=True,
        capture_output=True,
        check=False,
    )


def digest(output: str) -> str:
    """Return the digest that a command printed."""
    return next(line for line in output.splitlines() if line.startswith("Digest "))


@pytest.fixture(scope="module")
def school(served: ServedSite) -> ServedSite:
    """A server with two classes that have one of everything, photos included."""
    served.run_python(SCHOOL)
    return served


@pytest.fixture(scope="module")
def backup(school: ServedSite, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """A backup of it, and what was printed."""
    path = tmp_path_factory.mktemp("backup") / "monday.zip"
    return path, school.manage("backup", str(path))


@on_a_file
def test_a_restored_machine_has_every_row_and_every_photo(
    school: ServedSite, backup: tuple[Path, str], tmp_path: Path
) -> None:
    path, said = backup
    restored = manage(tmp_path / "new", "restore", str(path))
    assert restored.returncode == 0, restored.stderr
    before, after = tables(school.database), tables(tmp_path / "new" / "second-build.sqlite3")
    assert set(before) == set(after)
    for name in before:
        # When a migration was applied, and what Django counts anew, is the new machine's own.
        if name != "django_migrations":
            assert before[name] == after[name], name
    assert len(photos(school.data)) == 2
    assert photos(school.data) == photos(tmp_path / "new")
    assert (school.data / "secret-key").read_text() == (tmp_path / "new" / "secret-key").read_text()
    assert digest(restored.stdout) == digest(said)
    rows = sum(len(found) for name, found in before.items() if name != "django_migrations")
    assert f"{rows} rows" in said


@on_a_file
def test_a_restored_machine_serves_and_its_tablets_go_on(
    backup: tuple[Path, str], tmp_path: Path, data_template: Path
) -> None:
    data = tmp_path / "served"
    assert manage(data, "restore", str(backup[0])).returncode == 0
    shutil.copytree(data_template / "static-built", data / "static-built")
    site = ServedSite(data)
    site.start()
    try:
        assert site.is_healthy()
        assert (
            site.ask_python(
                "from classroom.models import Classroom\nprint(json.dumps(Classroom.objects.count()))"
            )
            == 2
        )
    finally:
        site.kill()


@on_a_file
def test_a_backup_of_a_backup_is_the_same_by_its_digest(backup: tuple[Path, str], tmp_path: Path) -> None:
    manage(tmp_path / "new", "restore", str(backup[0]))
    again = manage(tmp_path / "new", "backup", str(tmp_path / "again.zip"))
    assert digest(again.stdout) == digest(backup[1])


@on_a_file
def test_only_its_owner_reads_a_backup_and_a_restored_secret(
    backup: tuple[Path, str], tmp_path: Path
) -> None:
    manage(tmp_path / "new", "restore", str(backup[0]))
    for path in (backup[0], tmp_path / "new" / "secret-key", *(tmp_path / "new" / "photos").iterdir()):
        assert stat.S_IMODE(path.stat().st_mode) == 0o600, path


@on_a_file
def test_a_changed_or_cut_off_backup_is_refused_and_nothing_is_changed(
    backup: tuple[Path, str], tmp_path: Path
) -> None:
    cut = tmp_path / "cut.zip"
    cut.write_bytes(backup[0].read_bytes()[:-2000])
    changed = tmp_path / "changed.zip"
    with zipfile.ZipFile(backup[0]) as old, zipfile.ZipFile(changed, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            new.writestr(name, content.replace(b"Ana", b"Eva") if "student" in name else content)
    outside = tmp_path / "outside.zip"
    with zipfile.ZipFile(backup[0]) as old, zipfile.ZipFile(outside, "w") as new:
        manifest = json.loads(old.read("manifest.json"))
        photo = next(name for name in manifest["members"] if name.startswith("photos/"))
        manifest["members"]["photos/../../evil"] = manifest["members"].pop(photo)
        for name in old.namelist():
            told = json.dumps(manifest) if name == "manifest.json" else old.read(name)
            new.writestr("photos/../../evil" if name == photo else name, told)
    for path, said in (
        (cut, "cut off"),
        (changed, "its digest differs"),
        (outside, "damaged"),
        (tmp_path / "none.zip", "There is no file"),
    ):
        refused = manage(tmp_path / "new", "restore", str(path))
        assert refused.returncode == 1
        assert said in refused.stderr, refused.stderr
        assert "Traceback" not in refused.stderr
    assert not (tmp_path / "new" / "second-build.sqlite3").exists()
    assert not (tmp_path / "evil").exists()


@on_a_file
def test_a_backup_is_never_restored_over_somebody_s_data(
    school: ServedSite, backup: tuple[Path, str]
) -> None:
    before = tables(school.database)
    refused = manage(school.data, "restore", str(backup[0]))
    assert refused.returncode == 1
    assert "A server runs on this data" in refused.stderr
    school.stop()
    try:
        refused = manage(school.data, "restore", str(backup[0]))
        assert refused.returncode == 1
        assert "There is something here already: accounts" in refused.stderr
        assert tables(school.database) == before
    finally:
        school.start()


@on_a_file
def test_a_file_that_is_there_is_not_written_over(school: ServedSite, backup: tuple[Path, str]) -> None:
    before = backup[0].read_bytes()
    refused = manage(school.data, "backup", str(backup[0]))
    assert refused.returncode == 1
    assert "is there already" in refused.stderr
    assert backup[0].read_bytes() == before


def test_a_backup_while_children_type_holds_all_that_was_acknowledged_before_it(
    school: ServedSite, tmp_path: Path
) -> None:
    children = TypingClass(school)
    with children.typing():
        children.wait_for(30)
        acknowledged = set(children.acknowledged)
        began = time.monotonic()
        school.manage("backup", str(tmp_path / "busy.zip"))
        took = time.monotonic() - began
        meanwhile = len(children.acknowledged) - len(acknowledged)
    assert meanwhile > 0, "nobody was kept from saving"
    assert not children.refused, children.refused[:3]
    another = {"DATABASE_URL": new_database()} if ON_POSTGRESQL else {}
    restored = ServedSite(tmp_path / "new", another)
    restored.manage("restore", str(tmp_path / "busy.zip"))
    there, now = rows_held(restored), rows_held(school)
    entries = "".join(there["design_challenges_submission"]).replace("-", "")
    assert not [entry for entry in acknowledged if entry.replace("-", "") not in entries]
    # Rows are only ever added: what was restored is a part of what is there now.
    for name in there:
        assert there[name] <= now[name]
    print(f"\n{len(acknowledged)} entries before, {meanwhile} during a backup of {took:.1f} s")


# --- every night --------------------------------------------------------------------------------------------


def test_serve_makes_the_day_s_backup_by_itself_and_keeps_the_last_fourteen(
    new_server: Any, tmp_path: Path
) -> None:
    folder = tmp_path / "nights"
    folder.mkdir()
    for day in range(1, 21):
        (folder / f"second-build-2020-01-{day:02}.zip").write_text("old")
    site = new_server({"SECOND_BUILD_BACKUPS": str(folder)})
    site.run_python("from tests import builders\nbuilders.make_class(1)")
    end = time.monotonic() + 60
    made: list[Path] = []
    while not made:
        made = [path for path in folder.glob("*.zip") if "2020-01" not in path.name]
        assert time.monotonic() < end, site.output
        time.sleep(0.2)
    time.sleep(0.5)
    kept = sorted(path.name for path in folder.glob("*.zip"))
    assert len(kept) == 14
    assert kept[:13] == [f"second-build-2020-01-{day:02}.zip" for day in range(8, 21)]
    assert manage(tmp_path / "new", "restore", str(made[0])).returncode == 0


@on_a_file
def test_one_backup_a_day_is_made_and_none_of_an_empty_machine(new_server: Any) -> None:
    site = new_server()
    made = site.ask_python(
        "from datetime import datetime, timedelta, timezone\n"
        "from pathlib import Path\n"
        "from classroom.keeping.nightly import Nightly\n"
        "from tests import builders\n"
        f"folder = Path({str(site.data)!r}) / 'nights'\n"
        "nightly = Nightly(folder, print)\n"
        "night = datetime(2026, 11, 25, 2, 0, tzinfo=timezone.utc)\n"
        "empty = nightly.make_if_due(night)\n"
        "builders.make_class(1)\n"
        "hours = (-1, -0.5, 0, 12, 23, 24)\n"
        "made = [empty] + [nightly.make_if_due(night + timedelta(hours=hour)) for hour in hours]\n"
        "print(json.dumps([one and one.name for one in made]))"
    )
    days = ["2026-11-24", None, "2026-11-25", None, None, "2026-11-26"]
    assert made == [None, *(day and f"second-build-{day}.zip" for day in days)]


# --- the other database -------------------------------------------------------------------------------------


@pytest.mark.skipif(not os.environ.get(VARIABLE), reason=f"{VARIABLE} names no PostgreSQL")
def test_a_school_moves_to_postgresql_and_back_row_for_row(tmp_path: Path) -> None:
    data = tmp_path / "sqlite-first"
    assert manage(data, "migrate").returncode == 0
    code = f"import django; django.setup()\n{SCHOOL}"
    subprocess.run(
        [sys.executable, "-W", "ignore", "-c", code], cwd=ROOT, env=program_environment(data), check=True
    )
    file = tmp_path / "monday.zip"
    said = manage(data, "backup", str(file)).stdout
    server = os.environ[VARIABLE].rstrip("/")
    name = f"second_build_restore_{os.getpid()}"
    import psycopg

    with psycopg.connect(f"{server}/postgres", autocommit=True) as admin:
        admin.execute(f"CREATE DATABASE {name}")
        try:
            url = {"DATABASE_URL": f"{server}/{name}"}
            there = manage(tmp_path / "postgres", "restore", str(file), **url)
            assert there.returncode == 0, there.stderr
            again = manage(tmp_path / "postgres", "backup", str(tmp_path / "from-postgres.zip"), **url)
            assert digest(again.stdout) == digest(said)
            refused = manage(tmp_path / "other", "restore", str(file), **url)
            assert "There is something here already" in refused.stderr
            # The next row gets the next number, not one that is taken.
            code = "from classroom.models import Classroom; Classroom.objects.create(name='next')"
            added = manage(tmp_path / "postgres", "shell", "-c", code, **url)
            assert added.returncode == 0, added.stderr
            back = manage(tmp_path / "sqlite", "restore", str(tmp_path / "from-postgres.zip"))
            assert digest(back.stdout) == digest(said)
        finally:
            admin.execute(f"DROP DATABASE {name} WITH (FORCE)")

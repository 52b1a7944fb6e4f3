"""A database that an earlier version saved is brought up to date, and nothing in it is lost or changed."""

from __future__ import annotations

import gzip
import json
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from tests.support.database_rows import read_rows
from tests.support.server import ROOT, program_environment

SAVED = sorted((ROOT / "fixtures" / "upgrade").glob("*.sql.gz"))
"""Each earlier schema that carried data, with a school in it; DEVELOPERS.md says how to add one."""

# Signing in to look at the pages; and the first teacher is now who looks after the computer.
MEANT = {"auth_user": {"last_login", "is_staff"}}

PROGRAM = """
import django, json, io, re
django.setup()
from django.conf import settings
from django.test import Client
settings.ALLOWED_HOSTS = ["*"]
settings.STORAGES["staticfiles"]["BACKEND"] = "django.contrib.staticfiles.storage.StaticFilesStorage"
from classroom import startup
from classroom.models import Classroom
assert startup.migrate()
bad = []
pages = ("", "students/", "teams/", "dashboard/", "board/", "board/changes/", "numbers/", "lessons/",
         "slips/", "files/", "files/gradebook.xlsx", "paper/", "paper/team-cards/", "settings/")
for room in Classroom.objects.filter(archived_at=None):
    teacher = Client()
    teacher.force_login(room.memberships.first().user)
    for page in pages:
        answer = teacher.get(f"/classes/{room.code}/{page}", follow=True)
        missing = answer.status_code == 404 and not room.challenges.exists()
        if answer.status_code != 200 and not missing:
            bad.append([page, answer.status_code])
    for team in room.teams.all()[:2]:
        answer = teacher.get(f"/classes/{room.code}/teams/{team.pk}/work/")
        if answer.status_code != 200 and room.challenges.exists():
            bad.append([f"team {team.pk}", answer.status_code])
print(json.dumps(bad))
"""
AS_A_BACKUP = """
import django
django.setup()
from pathlib import Path
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from classroom.keeping import backup
from classroom.keeping.archive import BackupWriter
executor = MigrationExecutor(connection)
applied = set(executor.loader.applied_migrations)
later = {key: [one.key for one in executor.loader.graph.node_map[key].children] for key in applied}
last = [key for key in applied if not any(one in applied and one[0] == key[0] for one in later[key])]
models = executor.loader.project_state(sorted(last)).apps.get_models(include_auto_created=True)
backup._models = lambda: models
print(backup.make_backup(Path({path!r})).digest)
"""


def rows(database: Path) -> dict[str, dict[str, Any]]:
    """Return every row by its table and key, each value by its column."""
    return {
        name: {repr(next(iter(row.values()))): row for row in rows}
        for name, rows in read_rows(database).items()
        if name not in ("django_migrations", "django_session")
    }


def run(data: Path, code: str) -> str:
    done = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", code],
        cwd=ROOT,
        env=program_environment(data),
        text=True,
        capture_output=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-3000:]
    return done.stdout.strip().splitlines()[-1]


@pytest.fixture(params=SAVED, ids=lambda path: path.name.split(".")[0])
def old(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """A data folder as an earlier version left it."""
    with closing(sqlite3.connect(tmp_path / "second-build.sqlite3")) as connection:
        connection.executescript(gzip.decompress(request.param.read_bytes()).decode())
    return tmp_path


def test_the_first_released_schema_is_among_what_is_tried() -> None:
    assert SAVED[0].name == "schema-1.sql.gz"
    dump = gzip.decompress(SAVED[0].read_bytes()).decode()
    assert "'design_challenges','0001_initial'" in dump
    assert "'0002_" not in dump.split('INSERT INTO "django_migrations"')[-1]
    assert dump.count('INSERT INTO "design_challenges_reading"') > 50, "with a class that played"


def test_an_upgrade_keeps_every_row_and_every_page_opens(old: Path) -> None:
    before = rows(old / "second-build.sqlite3")
    assert json.loads(run(old, PROGRAM)) == []
    after = rows(old / "second-build.sqlite3")
    for table, kept in before.items():
        for key, row in kept.items():
            now = after[table][key]
            changed = {name: (value, now.get(name)) for name, value in row.items() if now.get(name) != value}
            assert set(changed) - MEANT.get(table, set()) == set(), (table, key, changed)
    assert sum(map(len, before.values())) > 1_000


def test_a_backup_of_an_earlier_version_is_restored_and_brought_up_to_date(old: Path, tmp_path: Path) -> None:
    file = tmp_path / "old.zip"
    run(old, AS_A_BACKUP.replace("{path!r}", repr(str(file))))
    new = tmp_path / "new"
    done = subprocess.run(
        [sys.executable, "manage.py", "restore", str(file)],
        cwd=ROOT,
        env=program_environment(new),
        text=True,
        capture_output=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    before, after = rows(old / "second-build.sqlite3"), rows(new / "second-build.sqlite3")
    for table, kept in before.items():
        for key, row in kept.items():
            changed = {name for name, value in row.items() if after[table][key][name] != value}
            assert changed - MEANT.get(table, set()) == set(), (table, key, changed)
    assert "classroom_wrongtry" in after

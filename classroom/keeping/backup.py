"""Makes a backup while children are typing: the database as of one moment first, then the files."""

from __future__ import annotations

import stat
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.apps import apps
from django.conf import settings
from django.db import connection, transaction
from django.db.migrations.recorder import MigrationRecorder
from django.db.models import CharField, Model
from django.db.models.functions import Collate
from django.utils import timezone

from classroom.keeping.archive import PHOTOS, SECRET, TABLES, BackupWriter, Manifest, line
from classroom.version import VERSION

ROWS_AT_ONCE = 2_000
UNFINISHED = ".part"


def make_backup(path: Path) -> Manifest:
    """Write a backup to `path`, readable by its owner alone; BackupError where that file is there already."""
    writer = BackupWriter(path)
    manifest = Manifest(
        made_at=timezone.now().isoformat(), program=VERSION, database=connection.vendor, migrations=[]
    )
    with writer.open(manifest):
        with _one_moment():
            applied = MigrationRecorder(connection).applied_migrations()
            manifest.migrations = sorted([app, name] for app, name in applied)
            for model in _models():
                table = model._meta.db_table
                # The columns stand in the first line.
                manifest.rows[table] = writer.add_lines(f"{TABLES}{table}.jsonl", _lines(model)) - 1
        for photo in photo_files():
            writer.add_file(f"{PHOTOS}{photo.name}", photo)
        secret = settings.DATA_DIR / SECRET
        if secret.is_file():
            writer.add_file(SECRET, secret)
    return manifest


def photo_files() -> list[Path]:
    """Return every photo's file; a picture is written before its row, so each row's file is among them."""
    folder = Path(settings.PHOTO_DIR)
    if not folder.is_dir():
        return []
    return sorted(
        path for path in folder.iterdir() if path.suffix != UNFINISHED and stat.S_ISREG(path.lstat().st_mode)
    )


@contextmanager
def _one_moment() -> Iterator[None]:
    """Read as of one moment, and keep nobody from writing meanwhile."""
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            # By hand: a transaction of Django's would be a writer here and stop everybody else.
            cursor.execute("BEGIN DEFERRED")
            try:
                yield
            finally:
                cursor.execute("ROLLBACK")
        return
    with transaction.atomic():
        with connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
        yield


def _models() -> list[type[Model]]:
    return [
        model
        for model in apps.get_models(include_auto_created=True)
        if model._meta.managed and not model._meta.proxy
    ]


def _lines(model: type[Model]) -> Iterator[bytes]:
    columns = [one.attname for one in model._meta.concrete_fields]
    yield line(columns)
    key: Any = "pk"
    if isinstance(model._meta.pk, CharField) and connection.vendor == "postgresql":
        key = Collate("pk", "C")  # the same order as on SQLite, so that the digests are the same
    rows: Any = model._base_manager.order_by(key).values_list(*columns)
    for row in rows.iterator(chunk_size=ROWS_AT_ONCE):
        yield line(row)

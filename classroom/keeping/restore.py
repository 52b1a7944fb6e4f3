"""Brings a backup back onto an empty machine: all of it or nothing, then up to date with this program."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import islice
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.color import no_style
from django.db import connection, transaction
from django.db.migrations.executor import MigrationExecutor
from django.db.models import Model
from django.db.models.sql import InsertQuery

from classroom.keeping.archive import PHOTOS, SECRET, TABLES, BackupError, BackupReader, Manifest

ROWS_AT_ONCE = 500
DRAFT = "restoring.sqlite3"
NOT_EMPTY = (
    "There is something here already: {what}. A backup is only restored onto an empty machine. "
    "Choose another folder with SECOND_BUILD_DATA, or another database."
)


def restore_backup(path: Path) -> Manifest:
    """Check a backup by its digests, restore it, and return what it says about itself."""
    reader = BackupReader(path)
    _refuse_unless_empty()
    with _new_database():
        state = _migrate_to(reader.manifest.migrations)
        with transaction.atomic():
            with connection.constraint_checks_disabled():
                _load(reader, state)
            connection.check_constraints()
        # As the program is today; a backup of an older one is brought up to date.
        call_command("migrate", interactive=False, verbosity=0)
        _put_files(reader)
    return reader.manifest


def _refuse_unless_empty() -> None:
    tables = connection.introspection.table_names()
    for table, what in (("auth_user", "accounts"), ("classroom_classroom", "classes")):
        if table in tables:
            with connection.cursor() as cursor:
                cursor.execute(f"SELECT 1 FROM {connection.ops.quote_name(table)} LIMIT 1")  # noqa: S608
                if cursor.fetchone():
                    raise BackupError(NOT_EMPTY.format(what=what))
    folder = Path(settings.PHOTO_DIR)
    if folder.is_dir() and any(folder.iterdir()):
        raise BackupError(NOT_EMPTY.format(what=f"photos in {folder}"))


@contextmanager
def _new_database() -> Iterator[None]:
    """Give an empty database; on SQLite beside the old one, whose name it takes at the very end."""
    name = connection.settings_dict["NAME"]
    if connection.vendor != "sqlite" or not isinstance(name, Path):
        yield
        return
    draft = name.with_name(DRAFT)
    _unlink(draft)
    connection.close()
    connection.settings_dict["NAME"] = draft
    try:
        yield
        connection.close()
        _unlink(name)
        draft.replace(name)
        _sync(name)
    finally:
        connection.close()
        connection.settings_dict["NAME"] = name
        _unlink(draft)


def _unlink(database: Path) -> None:
    for path in (database, *(database.with_name(database.name + end) for end in ("-wal", "-shm"))):
        path.unlink(missing_ok=True)


def _sync(path: Path) -> None:
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _migrate_to(applied: list[list[str]]) -> Any:
    """Bring the empty database to the backup's own schema and return that schema's models."""
    executor = MigrationExecutor(connection)
    graph = executor.loader.graph
    wanted = {(app, name) for app, name in applied}
    unknown = wanted - set(graph.nodes)
    if unknown:
        newest = ", ".join(sorted(f"{app} {name}" for app, name in unknown))
        raise BackupError(f"This backup was made by a newer Second Build ({newest}). Install that one first.")
    here = set(executor.loader.applied_migrations)
    if here - wanted:
        raise BackupError(NOT_EMPTY.format(what="a database of a newer schema"))
    last = [key for key in wanted if not any(child in wanted for child in _later(graph, key))]
    executor.migrate(sorted(last))
    return MigrationExecutor(connection).loader.project_state(sorted(last)).apps


def _later(graph: Any, key: tuple[str, str]) -> list[tuple[str, str]]:
    return [child.key for child in graph.node_map[key].children if child.key[0] == key[0]]


def _load(reader: BackupReader, state: Any) -> None:
    models: dict[str, type[Model]] = {
        model._meta.db_table: model for model in state.get_models(include_auto_created=True)
    }
    with connection.cursor() as cursor:
        for table in models:
            # What migrations put in: the backup has its own.
            cursor.execute(f"DELETE FROM {connection.ops.quote_name(table)}")  # noqa: S608
    for name in reader.names(TABLES):
        table = name.removeprefix(TABLES).removesuffix(".jsonl")
        if table not in models:
            raise BackupError(f"The backup has a table {table} that its schema does not know.")
        _load_table(models[table], reader.rows(name))
    statements = connection.ops.sequence_reset_sql(no_style(), list(models.values()))
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)


def _load_table(model: type[Model], rows: Iterator[list[Any]]) -> None:
    columns = next(rows)
    fields = {one.attname: one for one in model._meta.concrete_fields}
    if set(columns) != set(fields):
        raise BackupError(f"The backup's columns of {model._meta.db_table} are not those of its schema.")
    while batch := list(islice(rows, ROWS_AT_ONCE)):
        made = []
        for row in batch:
            values = {
                column: _read(fields[column], value) for column, value in zip(columns, row, strict=True)
            }
            made.append(model(**values))
        size = connection.ops.bulk_batch_size(list(fields.values()), made)
        for start in range(0, len(made), size):
            # Raw: a time that is set by itself when a row is made stays what it was.
            part = InsertQuery(model)
            part.insert_values(list(fields.values()), made[start : start + size], raw=True)
            part.get_compiler(connection=connection).execute_sql()


def _read(field: Any, value: Any) -> Any:
    if value is None or field.get_internal_type() == "JSONField":
        return value
    if field.get_internal_type() == "BinaryField":
        return bytes.fromhex(value)
    if field.remote_field is not None:
        return field.target_field.to_python(value)
    return field.to_python(value)


def _put_files(reader: BackupReader) -> None:
    folder = Path(settings.PHOTO_DIR)
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    for name in reader.names(PHOTOS):
        _put(reader, name, folder / name.removeprefix(PHOTOS))
    if SECRET in reader.manifest.members:
        _put(reader, SECRET, settings.DATA_DIR / SECRET)


def _put(reader: BackupReader, name: str, path: Path) -> None:
    draft = path.with_name(path.name + ".part")
    descriptor = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(descriptor, "wb") as file, reader.open(name) as member:
        shutil.copyfileobj(member, file)
        file.flush()
        os.fsync(file.fileno())
    draft.replace(path)

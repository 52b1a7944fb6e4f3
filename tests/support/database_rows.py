"""Reads every row out of a SQLite file, for tests that hold one database against another."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from functools import cache
from pathlib import Path
from typing import Any

from django.apps import apps
from django.db.models import JSONField


@cache
def _json_columns() -> frozenset[tuple[str, str]]:
    return frozenset(
        (model._meta.db_table, field.column)
        for model in apps.get_models(include_auto_created=True)
        for field in model._meta.concrete_fields
        if isinstance(field, JSONField)
    )


def _meant(table: str, column: str, value: Any) -> Any:
    """Return a JSON column's value with its names in order: what order they stand in means nothing."""
    if isinstance(value, str) and (table, column) in _json_columns():
        return json.dumps(json.loads(value), sort_keys=True)
    return value


def read_rows(database: Path) -> dict[str, list[dict[str, Any]]]:
    """Return every row of every table, each value by its column, in the order in which they stand there."""
    with closing(sqlite3.connect(database)) as connection:
        connection.row_factory = sqlite3.Row
        names = [one[0] for one in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        return {
            name: [
                {column: _meant(name, column, row[column]) for column in row.keys()}  # noqa: SIM118
                for row in connection.execute(f'SELECT * FROM "{name}"')  # noqa: S608
            ]
            for name in names
            if not name.startswith("sqlite_")
        }

"""Everything that hangs on some rows, whatever the model, and its deletion: the one sanctioned delete."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from django.db import connection, models, transaction

CHUNK = 400
"""As many ids in one query as any database takes."""

Rows = dict[type[models.Model], set[Any]]


def hanging_on(roots: Iterable[models.Model]) -> Rows:
    """Return the ids of the roots and of every row that belongs to them, by model.

    A row belongs where its foreign key cascades or protects; where it would be set to nothing, the row
    stays and only loses the link. New models are found by themselves.
    """
    found: Rows = defaultdict(set)
    waiting: list[tuple[type[models.Model], set[Any]]] = []
    for root in roots:
        found[type(root)].add(root.pk)
        waiting.append((type(root), {root.pk}))
    while waiting:
        model, ids = waiting.pop()
        for field, on_delete in _pointing_at(model):
            if on_delete is models.SET_NULL:
                continue
            more = set(_pks_where(field, ids)) - found[field.model]
            if more:
                found[field.model] |= more
                waiting.append((field.model, more))
    return {model: ids for model, ids in found.items() if ids}


def delete_rows(rows: Rows) -> None:
    """Delete these rows and cut what still points at them; call it inside a transaction.

    Written-once rows go, too: this is the one place that may. Foreign keys are checked at the end.
    """
    with transaction.atomic():
        for model, ids in rows.items():
            for field, on_delete in _pointing_at(model):
                if on_delete is models.SET_NULL:
                    for some in _chunks(ids):
                        field.model._base_manager.filter(**{f"{field.name}__in": some}).update(
                            **{field.name: None}
                        )
        for model, ids in rows.items():
            for some in _chunks(ids):
                gone = model._base_manager.filter(pk__in=some)
                gone._raw_delete(gone.db)


def rows_as_dicts(rows: Rows) -> dict[str, list[dict[str, Any]]]:
    """Return the rows as plain values by model, for a copy; what opens doors (token digests) is left out."""
    told: dict[str, list[dict[str, Any]]] = {}
    for model in sorted(rows, key=lambda one: one._meta.label):
        fields = [field.attname for field in model._meta.concrete_fields if "token" not in field.name]
        told[model._meta.label] = [
            values
            for some in _chunks(rows[model])
            for values in model._base_manager.filter(pk__in=some).order_by("pk").values(*fields)
        ]
    return told


def wipe_free_pages() -> None:
    """Empty SQLite's journal, so that what was deleted is in no file any more; other databases do it alone.

    Freed pages are overwritten by `PRAGMA secure_delete`, which every connection sets.
    """
    if connection.vendor == "sqlite" and not connection.in_atomic_block:
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def _pointing_at(model: type[models.Model]) -> Iterator[tuple[Any, Any]]:
    """Yield each foreign key to a model, with what happens to it on a delete."""
    for relation in model._meta.get_fields(include_hidden=True):
        if relation.auto_created and not relation.concrete and (relation.one_to_many or relation.one_to_one):
            yield relation.field, relation.on_delete  # type: ignore[union-attr]


def _pks_where(field: Any, ids: set[Any]) -> Iterator[Any]:
    for some in _chunks(ids):
        yield from field.model._base_manager.filter(**{f"{field.name}__in": some}).values_list(
            "pk", flat=True
        )


def _chunks(ids: Iterable[Any]) -> Iterator[Sequence[Any]]:
    ordered = sorted(ids)
    for start in range(0, len(ordered), CHUNK):
        yield ordered[start : start + CHUNK]

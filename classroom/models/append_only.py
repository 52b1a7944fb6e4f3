"""Rows that are written once: what a child or a teacher entered is never changed in place."""

from __future__ import annotations

from typing import Any, NoReturn, Self, TypeVar

from django.db import models

Row = TypeVar("Row", bound=models.Model)


class AppendOnlyError(RuntimeError):
    """Raised where code tries to change or remove a row that is written once."""


class AppendOnlyQuerySet(models.QuerySet[Row]):
    """A query set that reads and adds, and refuses to change or delete."""

    def update(self, **kwargs: Any) -> NoReturn:
        raise AppendOnlyError(f"{self.model.__name__} rows are never changed: add a newer one.")

    def delete(self) -> NoReturn:
        raise AppendOnlyError(f"{self.model.__name__} rows are never deleted.")


class AppendOnlyModel(models.Model):
    """Base of every row that may be added but neither changed nor deleted.

    Erasing a child's data is the one sanctioned delete; it goes through the
    base manager, on purpose and by name.
    """

    objects: models.Manager[Self] = AppendOnlyQuerySet.as_manager()

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise AppendOnlyError(f"{type(self).__name__} rows are never changed: add a newer one.")
        kwargs["force_insert"] = True
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise AppendOnlyError(f"{type(self).__name__} rows are never deleted.")

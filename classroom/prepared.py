"""Queries that are put together once a process: for what every page and every poll asks again and again."""

from __future__ import annotations

from collections import namedtuple
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from django.db import DEFAULT_DB_ALIAS, connections
from django.db.models import Model, QuerySet
from django.db.models.sql import UpdateQuery

Converters = list[tuple[int, tuple[Sequence[Callable[[Any, Any, Any], Any]], Any]]]

# What stands for a parameter while the query is compiled; neither occurs in a query of ours. The number fits
# into an account's id, which is narrower than the others: what can be in no row is not asked at all.
_NUMBER = 2_100_000_000
_TEXT = "the text of parameter {}"


class _Statement:
    """A statement as the database understands it, and where each parameter goes."""

    def __init__(self, compiler: Any, kinds: Sequence[type]) -> None:
        self.sql, parameters = compiler.as_sql()
        places = {_mark(kind, place): place for place, kind in enumerate(kinds)}
        # (place of the caller's parameter, None) or (None, a value of the query's own)
        self.parameters = [
            (places[value], None) if isinstance(value, int | str) and value in places else (None, value)
            for value in parameters
        ]
        missing = set(range(len(kinds))) - {place for place, _value in self.parameters}
        if missing:
            raise ValueError(f"The query does not use its parameters {sorted(missing)}.")

    def filled(self, values: Sequence[Any]) -> list[Any]:
        return [value if place is None else values[place] for place, value in self.parameters]


class _Compiled(_Statement):
    """A query, and how its rows are read."""

    def __init__(self, queryset: QuerySet[Any, Any], kinds: Sequence[type]) -> None:
        compiler = queryset.query.get_compiler(using=DEFAULT_DB_ALIAS)
        super().__init__(compiler, kinds)
        select = compiler.select or []
        expressions = [column[0] for column in select[: compiler.col_count]]
        self.converters: Converters = list(compiler.get_converters(expressions).items())
        make: Any = namedtuple
        self.row: Callable[[Sequence[Any]], Any] = make("Row", _names(queryset))._make


def _mark(kind: type, place: int) -> int | str:
    return _NUMBER + place if kind is int else _TEXT.format(place)


def _names(queryset: QuerySet[Any, Any]) -> list[str]:
    names: tuple[str, ...] = getattr(queryset, "_fields", ()) or ()
    if not names:
        raise ValueError("A prepared query names its columns: end it with values_list(...).")
    return list(names)


class Prepared:
    """A query with parameters whose SQL is kept: putting it together costs more than asking it.

    `make` is given a stand-in for each parameter (`kinds`: int or str) and returns a queryset that ends in
    `values_list` with the columns' names; it may use a parameter several times, only as a value.
    """

    def __init__(self, make: Callable[..., QuerySet[Any, Any]], *kinds: type) -> None:
        self._make, self._kinds = make, kinds
        self._compiled: dict[str, _Compiled] = {}

    def rows(self, *values: Any) -> list[Any]:
        """Ask with these parameters; return named tuples of the columns that the query names."""
        return self.read(self.ask(*values))

    def ask(self, *values: Any) -> list[Any]:
        """Ask with these parameters; return the rows as the database gives them, for `read`."""
        compiled = self._ready()
        with connections[DEFAULT_DB_ALIAS].cursor() as cursor:
            cursor.execute(compiled.sql, compiled.filled(values))
            return cursor.fetchall()

    def read(self, found: Sequence[Any]) -> list[Any]:
        """Return rows that were asked for as named tuples of the columns, in Python's own types."""
        compiled, connection = self._ready(), connections[DEFAULT_DB_ALIAS]
        if compiled.converters:
            found = [list(row) for row in found]
            for place, (converters, expression) in compiled.converters:
                for row in found:
                    value = row[place]
                    for convert in converters:
                        value = convert(value, expression, connection)
                    row[place] = value
        return [compiled.row(row) for row in found]

    def _ready(self) -> _Compiled:
        vendor = connections[DEFAULT_DB_ALIAS].vendor
        compiled = self._compiled.get(vendor)
        if compiled is None:
            marks = [_mark(kind, place) for place, kind in enumerate(self._kinds)]
            compiled = self._compiled[vendor] = _Compiled(self._make(*marks), self._kinds)
        return compiled

    def row(self, *values: Any) -> Any | None:
        """Return the first row, or None."""
        found = self.rows(*values)
        return found[0] if found else None


class PreparedUpdate:
    """A change to rows whose SQL is kept.

    `make` is given a stand-in for each parameter (`kinds`: int or str) and returns the rows, as a queryset,
    and what their columns become.
    """

    def __init__(
        self, make: Callable[..., tuple[QuerySet[Any, Any], Mapping[str, Any]]], *kinds: type
    ) -> None:
        self._make, self._kinds = make, kinds
        self._compiled: dict[str, _Statement] = {}

    def run(self, *values: Any) -> int:
        """Change the rows; return how many there were."""
        connection = connections[DEFAULT_DB_ALIAS]
        compiled = self._compiled.get(connection.vendor)
        if compiled is None:
            rows, become = self._make(*(_mark(kind, place) for place, kind in enumerate(self._kinds)))
            query: Any = rows.query.chain(UpdateQuery)
            query.add_update_values(dict(become))
            statement = _Statement(query.get_compiler(using=DEFAULT_DB_ALIAS), self._kinds)
            compiled = self._compiled[connection.vendor] = statement
        with connection.cursor() as cursor:
            cursor.execute(compiled.sql, compiled.filled(values))
            return int(cursor.rowcount)


def columns_of(model: type[Model], prefix: str = "") -> list[str]:
    """Return the names of a model's columns for `values_list`, as seen over a relation `prefix`."""
    return [f"{prefix}{field.attname}" for field in model._meta.concrete_fields]


def instance_of(model: type[Model], values: Sequence[Any]) -> Any:
    """Return an instance from the values of `columns_of`, as if it had been read by its manager."""
    return model.from_db(DEFAULT_DB_ALIAS, [field.attname for field in model._meta.concrete_fields], values)

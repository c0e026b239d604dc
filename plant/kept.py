"""Queries whose SQL is put together once: for pages that ask a dozen long ones each time.

To build and translate such a query takes longer than the database takes to answer it. What changes
from one time to the next stands in it as ``Given`` and is told when it runs. What a person may see
does not: a query is kept apart for each set of rights.
"""

import json
from collections.abc import Callable, Collection
from copy import copy
from typing import Any

from django.core.exceptions import EmptyResultSet
from django.db import connection
from django.db.models import BigIntegerField, Expression, Field, Model, QuerySet

from plant.models import User
from plant.rights import roles

# So many of each are kept: by the rights that people have, which are few.
MOST = 100
_UNMADE: Any = object()


class Given(Expression):
    """A value that is told by its name each time the query runs."""

    def __init__(self, name: str, output_field: "Field[Any, Any]") -> None:
        super().__init__(output_field=output_field)
        self.name = name

    def as_sql(self, compiler: Any, connection: Any) -> Any:
        return "%s", [self]

    def ready(self, value: Any) -> Any:
        """The value as the driver takes it."""
        return self.output_field.get_db_prep_value(value, connection)


class GivenKeys(Given):
    """Keys to filter by, ``machine__in=GivenKeys()``: one value, however many there are."""

    def __init__(self) -> None:
        super().__init__("keys", BigIntegerField())

    def as_sql(self, compiler: Any, connection: Any) -> Any:
        return "(SELECT unnest(%s::bigint[]))", [self]

    def as_sqlite(self, compiler: Any, connection: Any) -> Any:
        return "(SELECT value FROM json_each(%s))", [self]

    def ready(self, value: Collection[int]) -> Any:
        return json.dumps(list(value)) if connection.vendor == "sqlite" else list(value)


class KeptRows:
    """A query that depends on nothing but keys (``GivenKeys``) and other Givens.

    One that locks rows asks no longer whether there is a transaction: who runs it has begun one.
    """

    def __init__(self, build: "Callable[[], QuerySet[Any, Any]]") -> None:
        self._build = build
        self._model: type[Model] | None = None
        self._made: dict[str, tuple[str, tuple[Any, ...]]] = {}

    def __call__(self, keys: Collection[int] = (), **given: Any) -> list[tuple[Any, ...]]:
        """The rows of a ``values_list`` as the driver gives them: days and figures, no moments."""
        with connection.cursor() as cursor:
            cursor.execute(*self._statement(keys=keys, **given))
            return list(cursor.fetchall())

    def objects(self, keys: Collection[int] = (), **given: Any) -> list[Any]:
        """The rows of a query of whole rows, as objects of its model."""
        statement = self._statement(keys=keys, **given)
        assert self._model is not None
        return list(self._model._default_manager.raw(*statement))

    def _statement(self, **given: Any) -> tuple[str, tuple[Any, ...]]:
        made = self._made.get(connection.vendor)
        if made is None:
            queryset = self._build()
            self._model = queryset.model
            made = queryset.query.get_compiler(connection=connection).as_sql()
            self._made[connection.vendor] = made
        sql, params = made
        return sql, _told(params, given)


def _told(params: tuple[Any, ...], given: dict[str, Any]) -> tuple[Any, ...]:
    return tuple(
        each.ready(given[each.name]) if isinstance(each, Given) else each for each in params
    )


class Kept:
    """One query of many: ``build`` makes it for a person, out of his rights and Givens alone.

    What it makes must not depend on who the person is, nor on the moment, but by a Given.
    """

    def __init__(self, build: Callable[..., "QuerySet[Any, Any]"]) -> None:
        self._build = build
        self._made: dict[tuple[Any, ...], tuple[Any, Any, str, tuple[Any, ...]] | None] = {}

    def rows(self, user: User, /, *shape: Any, **given: Any) -> list[Any]:
        """What the query finds for this person now.

        Args:
            shape: what else the query is built of; hashable.
            given: the value of each Given by its name.
        """
        key = (connection.vendor, frozenset(roles(user).items()), *shape)
        made = self._made.get(key, _UNMADE)
        if made is _UNMADE:
            made = self._translated(self._build(user, *shape))
            # Another thread may clear between any two lines, so what was made is not read back.
            if len(self._made) >= MOST:
                self._made.clear()
            self._made[key] = made
        if made is None:
            return []
        queryset, compiler, sql, params = made
        told = _told(params, given)
        compiler = copy(compiler)
        compiler.connection = connection
        compiler.as_sql = lambda *_, **__: (sql, told)
        again = queryset._chain()
        again.query.get_compiler = lambda *_, **__: compiler
        return list(again)

    @staticmethod
    def _translated(queryset: Any) -> tuple[Any, Any, str, tuple[Any, ...]] | None:
        compiler = queryset.query.get_compiler(connection=connection)
        try:
            return (queryset, compiler, *compiler.as_sql())
        except EmptyResultSet:
            return None

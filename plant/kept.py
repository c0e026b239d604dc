"""Queries whose SQL is put together once: for pages that ask a dozen long ones each time.

To build and translate such a query takes longer than the database takes to answer it. What changes
from one time to the next stands in it as ``Given`` and is told when it runs. What a person may see
does not: a query is kept apart for each set of rights.
"""

from collections.abc import Callable
from copy import copy
from typing import Any

from django.core.exceptions import EmptyResultSet
from django.db import connection
from django.db.models import Expression, Field, QuerySet

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
        told = tuple(
            each.output_field.get_db_prep_value(given[each.name], connection)
            if isinstance(each, Given)
            else each
            for each in params
        )
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

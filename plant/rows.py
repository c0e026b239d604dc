"""Many rows at once, to and from the database: the ORM's way with a row costs more time than the
database's."""

import gc
import json
from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from django.db import connection
from django.db.models import BigIntegerField, Func, Model, QuerySet
from django.db.models.expressions import RawSQL


class Seconds(Func):
    """A moment as whole seconds since 1970: read in a third of the time."""

    output_field = BigIntegerField()
    template = "CAST(FLOOR(EXTRACT(EPOCH FROM %(expressions)s)) AS bigint)"

    def as_sqlite(self, compiler: Any, connection: Any, **more: Any) -> tuple[str, Any]:
        template = "CAST(strftime('%%%%s', %(expressions)s) AS integer)"
        return self.as_sql(compiler, connection, template=template, **more)


@contextmanager
def without_collecting() -> Iterator[None]:
    """For a block of rows: a hundred thousand small values, and no cycles to look for in them."""
    gc.disable()
    try:
        yield
    finally:
        gc.enable()


def among(keys: Collection[int]) -> RawSQL:
    """Keys to filter by, ``machine__in=among(keys)``: one parameter, however many there are."""
    if connection.vendor == "sqlite":
        return RawSQL("SELECT value FROM json_each(%s)", [json.dumps(list(keys))])
    return RawSQL("SELECT unnest(%s::bigint[])", [list(keys)])


def read_rows(values: QuerySet[Any, Any]) -> list[tuple[Any, ...]]:
    """The rows of a ``values_list`` as the driver gives them: days and figures, but no moments."""
    statement, params = values.query.get_compiler(connection=connection).as_sql()
    with connection.cursor() as cursor:
        cursor.execute(statement, params)
        return list(cursor.fetchall())


def save_columns(objects: Sequence[Model], columns: Sequence[str]) -> None:
    """Saves these columns of objects of one kind that are there; see update_rows."""
    if not objects:
        return
    model = type(objects[0])
    fields = {str(field.column): field for field in model._meta.concrete_fields}
    chosen = [fields[name] for name in columns]
    rows = [
        (
            *(
                field.get_db_prep_save(field.value_from_object(each), connection=connection)
                for field in chosen
            ),
            each.pk,
        )
        for each in objects
    ]
    update_rows(model, columns, rows)


def update_rows(
    model: type[Model], columns: Sequence[str], rows: Sequence[tuple[Any, ...]]
) -> None:
    """Sets these columns of rows that are there, in one statement.

    Args:
        columns: by their names in the table (``line_id``).
        rows: for each row its values as the driver takes them (a moment by
            ``connection.ops.adapt_datetimefield_value``), and last its key.
    """
    if not rows:
        return
    quoted = connection.ops.quote_name
    fields = {str(field.column): field for field in model._meta.concrete_fields}
    key = next(name for name, field in fields.items() if field.primary_key)
    table, where = quoted(model._meta.db_table), quoted(key)
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            sets = ", ".join(f"{quoted(name)} = %s" for name in columns)
            # Prepared once, run for each row.
            statement = f"UPDATE {table} SET {sets} WHERE {where} = %s"  # noqa: S608
            cursor.executemany(statement, list(rows))
        else:
            sets = ", ".join(f"{quoted(name)} = new.{quoted(name)}" for name in columns)
            names = ", ".join(quoted(name) for name in (*columns, key))
            arrays = ", ".join(
                f"%s::{fields[name].rel_db_type(connection)}[]" for name in (*columns, key)
            )
            statement = (
                f"UPDATE {table} SET {sets} FROM unnest({arrays}) AS new ({names}) "  # noqa: S608
                f"WHERE {table}.{where} = new.{where}"
            )
            cursor.execute(statement, [list(values) for values in zip(*rows, strict=True)])

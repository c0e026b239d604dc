"""Writes many rows at once, each with values of its own: the ORM's way of doing it costs more time
than the database does."""

from collections.abc import Sequence
from typing import Any

from django.db import connection
from django.db.models import Model


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

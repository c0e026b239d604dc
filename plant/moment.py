"""Reading the whole database as it was at one moment, while others go on writing."""

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connection, transaction
from django.db.backends.base.base import BaseDatabaseWrapper


@contextmanager
def one_moment() -> Iterator[None]:
    """What is read inside is of one moment; nothing may be written inside.

    Inside a transaction that is under way its own moment holds, and this does nothing.
    """
    if connection.in_atomic_block:
        yield
    elif connection.vendor == "sqlite":
        # Not atomic(): that would take the lock of the one who writes. In the write-ahead mode a
        # plain BEGIN sees what was committed before its first read, and holds nobody back.
        with connection.cursor() as cursor:
            cursor.execute("BEGIN")
        try:
            yield
        finally:
            with connection.cursor() as cursor:
                cursor.execute("ROLLBACK")
    else:
        with transaction.atomic():
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
            yield


def tables(db: BaseDatabaseWrapper) -> list[str]:
    """The tables of the database by name, those of Django among them."""
    with db.cursor() as cursor:
        return sorted(
            each.name for each in db.introspection.get_table_list(cursor) if each.type == "t"
        )


def columns(db: BaseDatabaseWrapper, table: str) -> set[str]:
    with db.cursor() as cursor:
        found = db.introspection.get_table_description(cursor, table)
    return {each.name for each in found}

"""The number a row will have, known before it is written, so that its code can be made from it."""

from __future__ import annotations

from django.db import connection, models


def next_id(model: type[models.Model]) -> int:
    """Take the next free primary key of a table. One statement; needs an open transaction.

    On PostgreSQL it comes from the column's sequence, so that two transactions never meet; on
    SQLite, which has one
    writer at a time, it is one more than the largest ever given. The row must be created in the
    same transaction.
    """
    meta = model._meta
    column = meta.pk.column
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                "SELECT nextval(pg_get_serial_sequence(%s, %s))", [meta.db_table, column]
            )
        else:
            cursor.execute(
                "SELECT COALESCE(MAX(seq), 0) + 1 FROM sqlite_sequence WHERE name = %s",
                [meta.db_table],
            )
        row = cursor.fetchone()
    assert row is not None
    return int(row[0])

"""Many reads that see one and the same moment, while others go on writing."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, cast

from django.db import connection, transaction


@contextmanager
def snapshot() -> Iterator[None]:
    """Every read inside sees the database as it is at the first one. Nothing may be written.

    Keep it short: while it is open, neither database can clear away what was changed since.
    Inside a transaction it is that transaction's own view, and nothing changes.
    """
    if connection.in_atomic_block:
        yield
    elif connection.vendor == "sqlite":
        # Our transactions take the lock of the one writer at once; a reader must not.
        database = cast("Any", connection)
        database.ensure_connection()  # before, it has no mode yet
        writing = database.transaction_mode
        database.transaction_mode = "DEFERRED"
        try:
            with transaction.atomic():
                yield
        finally:
            database.transaction_mode = writing
    else:
        with transaction.atomic():
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            yield

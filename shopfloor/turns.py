"""Letting others wait who would write the same tables."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from django.db import connection
from django.db.models import Model


def lock_tables(
    models: Iterable[type[Model]], mode: Literal["EXCLUSIVE", "SHARE ROW EXCLUSIVE"]
) -> None:
    """Let nobody else write these tables until the transaction ends; they may be read.

    At most one statement: SQLite has one writer at a time anyway.

    Args:
        models: Of the tables.
        mode: `EXCLUSIVE` lets nobody lock rows of them either.
    """
    if connection.vendor != "postgresql":
        return
    tables = ", ".join(connection.ops.quote_name(model._meta.db_table) for model in models)
    with connection.cursor() as cursor:
        cursor.execute(f"LOCK TABLE {tables} IN {mode} MODE")

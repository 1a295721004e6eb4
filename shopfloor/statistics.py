"""What PostgreSQL knows of the size of our tables. SQLite plans without."""

from __future__ import annotations

from collections.abc import Iterable

from django.db import connection


def look_over(tables: Iterable[str]) -> None:
    """Let PostgreSQL count what stands in tables, also what this transaction wrote.

    It does so by itself, but only after a commit, and up to a minute later. Until then it plans
    for a table that was empty before as if it still were, and reads all of it again and again.
    """
    if connection.vendor == "postgresql":
        quote = connection.ops.quote_name
        with connection.cursor() as cursor:
            cursor.execute(f"ANALYZE {', '.join(map(quote, tables))}")

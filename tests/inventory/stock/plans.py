"""How SQLite would carry out the statements of a read, and what it thinks of the tables."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from django.db import connection

# What ANALYZE found in a ledger of 292,000 movements, 82,000 postings and as many lots: rows of
# the table, then rows that share the first column of the index, the first two, and so on.
LARGE = (
    ("inventory_movement", "movement_by_lot", "291958 4 1 1 1"),
    ("inventory_movement", "movement_by_posting", "291958 4 1 1 1"),
    ("inventory_posting", "posting_by_time", "82279 11"),
    ("inventory_posting", "posting_by_document", "82279 6 6"),
    ("inventory_posting", "sqlite_autoindex_inventory_posting_1", "82279 507"),
    ("inventory_lot", "sqlite_autoindex_inventory_lot_1", "81719 1"),
    ("inventory_lot", "lot_by_place", "81719 4 1"),
    ("batches_entry", None, "48160"),
    ("batches_shipment", None, "8000"),
    ("batches_shipmentline", "sqlite_autoindex_batches_shipmentline_1", "16000 2 1"),
)


@contextmanager
def statistics_of_a_large_ledger() -> Iterator[None]:
    """Let the planner believe that the tables are large; a rollback takes it back."""
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
        cursor.execute("DELETE FROM sqlite_stat1")
        for row in LARGE:
            cursor.execute("INSERT INTO sqlite_stat1 (tbl, idx, stat) VALUES (%s, %s, %s)", row)
        cursor.execute("ANALYZE sqlite_schema")
    try:
        yield
    finally:
        with connection.cursor() as cursor:
            cursor.execute("DELETE FROM sqlite_stat1")
            cursor.execute("ANALYZE sqlite_schema")


def plans_of(read: Callable[[], Any]) -> list[list[str]]:
    """The plan of each statement of a read, line by line."""
    asked: list[tuple[str, Any]] = []

    def note(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:  # noqa: FBT001 - Django calls it so
        asked.append((sql, params))
        return execute(sql, params, many, context)

    with connection.execute_wrapper(note):
        read()
    with connection.cursor() as cursor:
        plans = []
        for sql, params in asked:
            cursor.execute(f"EXPLAIN QUERY PLAN {sql}", params)
            plans.append([row[-1] for row in cursor.fetchall()])
    return plans


def whole_reads(plans: list[list[str]], *tables: str) -> list[str]:
    """Lines of plans that read a whole table or index of movements or postings.

    A Bloom filter is filled by reading its whole index, though the plan does not say so.

    Args:
        plans: As of `plans_of`.
        tables: Names and aliases that a line may give them.
    """
    return [
        line
        for plan in plans
        for line in plan
        if (line.startswith("SCAN") and line.split()[1] in tables) or "BLOOM" in line
    ]

"""A whole shop goes out as sheets and comes in again, beside the bare driver with the same rows.

Bare is `executemany` on SQLite and COPY on PostgreSQL, of tuples that stand in memory, into the
same tables with their indexes, constraints and triggers, in one transaction. Ours also reads and
checks the sheets, and proves the whole shop before it commits.
"""

from __future__ import annotations

import csv
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final

from django.db import connection, transaction
from django.utils import timezone

from tests.bench.figures import Figure
from tests.bench.places import open_shop

YEARS: Final = 1  # some 150,000 movements with all that stands around them
GOAL_IN: Final = 0.3
GOAL_OUT: Final = 0.2

Rows = list[tuple[Any, ...]]


def rows() -> Iterator[Figure]:
    """Each once: a median would take minutes, and the work is long enough to be steady."""
    from batches.exchange.operations.moving import take_in_shop  # noqa: PLC0415 - as Django is up
    from batches.exchange.selectors.moving_in import about_folder  # noqa: PLC0415
    from batches.exchange.selectors.moving_out import write_shop  # noqa: PLC0415

    with TemporaryDirectory() as kept:
        folder, bare_folder = Path(kept, "ours"), Path(kept, "bare")
        folder.mkdir()
        bare_folder.mkdir()
        with open_shop(years=YEARS):
            ours_out = _seconds(
                lambda: write_shop(
                    folder=folder, now=timezone.now(), has_sign_ins=True, on_rows=lambda _: None
                )
            )
            bare_out = _seconds(lambda: _write_bare(bare_folder))
            tables = _read_bare()
        with open_shop(years=0):
            bare_in = _seconds(lambda: _insert_bare(tables))
        about = about_folder(folder)
        with open_shop(years=0):
            ours_in = _seconds(
                lambda: take_in_shop(folder=folder, about=about, on_rows=lambda _: None)
            )
    movements = about.sheets["movement.csv"].rows
    what = f"a shop of {movements} movements, {about.row_count} rows,"
    yield Figure(f"{what} comes in", ours_in, bare_in, GOAL_IN)
    yield Figure(f"{what} goes out", ours_out, bare_out, GOAL_OUT)


def _seconds(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def _names() -> Iterator[tuple[str, list[str]]]:
    """Tables and their columns, in an order in which they can be filled."""
    from batches.exchange.selectors.moving import moving_tables  # noqa: PLC0415 - as Django is up
    from batches.exchange.steps.moving import in_safe_order  # noqa: PLC0415

    for table in in_safe_order(moving_tables(has_sign_ins=True)):
        yield table.name, [table.column(field) for field in table.fields]


def _selected(table: str, columns: list[str]) -> Any:
    """A cursor of the driver itself on all rows of a table."""
    cursor = connection.connection.cursor()
    cursor.execute(f"SELECT {', '.join(columns)} FROM {table} ORDER BY 1")  # noqa: S608 - our own
    return cursor


def _write_bare(folder: Path) -> None:
    connection.ensure_connection()
    for table, columns in _names():
        with (folder / table.strip('"')).open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(_selected(table, columns))


def _read_bare() -> list[tuple[str, list[str], Rows]]:
    return [(table, columns, _selected(table, columns).fetchall()) for table, columns in _names()]


def _insert_bare(tables: list[tuple[str, list[str], Rows]]) -> None:
    with transaction.atomic():
        for table, columns, some in tables:
            cursor = connection.connection.cursor()
            names = ", ".join(columns)
            if connection.vendor == "postgresql":
                with cursor.copy(f"COPY {table} ({names}) FROM STDIN") as copy:
                    for row in some:
                        copy.write_row(row)
            else:
                marks = ", ".join("?" for _ in columns)
                cursor.executemany(f"INSERT INTO {table} ({names}) VALUES ({marks})", some)  # noqa: S608 - our own

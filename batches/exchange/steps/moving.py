"""Rows of a moved shop into empty tables, as they are: no row is made again, none is left out."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from django.core.management.color import no_style
from django.db import DataError, IntegrityError, connection, transaction

from batches.exchange.rules.moving_about import FolderRefusedError
from batches.exchange.rules.moving_sheets import HEADER_ROW, Cells, read_sheet
from batches.exchange.rules.problems import Problem
from batches.exchange.selectors.moving import MovingTable

Row = tuple[Any, ...]


def _sqlite_moment(cell: str) -> str:
    return cell.replace("T", " ").removesuffix("Z").removesuffix(".000000")


# PostgreSQL reads the cells as they stand. SQLite keeps what it is given, so it is given what
# Django would: times are compared as text.
_FOR_SQLITE: Final[Mapping[str, Callable[[str], object]]] = {
    "BooleanField": "yes".__eq__,
    "DateTimeField": _sqlite_moment,
}


def in_safe_order(tables: Sequence[MovingTable]) -> list[MovingTable]:
    """Rows that freeze with another row come before it; the rest as it stands.

    What a row points at may come later: references are judged at the end of a transaction.
    """
    return sorted(tables, key=lambda table: "insert" not in getattr(table.model, "frozen_when", {}))


def insert_sheet(table: MovingTable, file: Path) -> Iterator[int]:
    """Insert the rows of one sheet; tells after some thousands how many they were.

    Raises:
        FolderRefusedError: a cell cannot be read, or the database refuses a row.
    """
    above = HEADER_ROW
    with file.open(encoding="utf-8", newline="") as lines:
        for columns in read_sheet(table.sheet, lines):
            rows = _rows(table, columns)
            _insert(table, rows, above)
            above += len(rows)
            yield len(rows)


def set_sequences(tables: Sequence[MovingTable]) -> None:
    """Let the next row of each table take the number after its last one."""
    statements = connection.ops.sequence_reset_sql(no_style(), [each.model for each in tables])
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)


def _rows(table: MovingTable, columns: Sequence[Cells]) -> list[Row]:
    """As the driver takes them, with what stands in for columns that did not move."""
    given: list[Sequence[Any]] = [*columns]
    if connection.vendor == "sqlite":
        for place, field in enumerate(table.fields):
            adapt = _FOR_SQLITE.get(field.get_internal_type())
            if adapt is not None:
                given[place] = [None if cell is None else adapt(cell) for cell in columns[place]]
    given += [[stand_in() for _ in columns[0]] for stand_in in table.stand_ins.values()]
    return list(zip(*given, strict=True))


def _insert(table: MovingTable, rows: list[Row], above: int) -> None:
    try:
        with transaction.atomic():
            _write(table, rows)
    except (IntegrityError, DataError, OverflowError):
        raise FolderRefusedError(_refused_row(table, rows, above)) from None


def _refused_row(table: MovingTable, rows: list[Row], above: int) -> Problem:
    """Which row it was, and what the database says of it."""
    for number, row in enumerate(rows, above + 1):
        try:
            with transaction.atomic():
                _write(table, [row])
        except (IntegrityError, DataError, OverflowError) as error:
            said = str(error).partition("\n")[0]
            return table.sheet.problem(number, f"The database does not take it: {said}.")
    raise AssertionError("unreachable: rows that were refused together are refused one by one")


def _write(table: MovingTable, rows: list[Row]) -> None:
    columns = [table.column(field) for field in (*table.fields, *table.stand_ins)]
    names = ", ".join(columns)
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            with (
                connection.wrap_database_errors,
                cursor.copy(f"COPY {table.name} ({names}) FROM STDIN") as copy,
            ):
                for row in rows:
                    copy.write_row(row)
        else:
            marks = ", ".join("%s" for _ in columns)
            cursor.executemany(
                f"INSERT INTO {table.name} ({names}) VALUES ({marks})",  # noqa: S608 - our own
                rows,
            )

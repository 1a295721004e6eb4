"""Rows written in bulk, as plain tuples: COPY on PostgreSQL, executemany on SQLite."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from functools import cache
from typing import Any, Final

from django.core.management.color import no_style
from django.db import connection
from django.db.models import Model

from batches.packing.models import (
    Box,
    CustomerOrder,
    CustomerOrderLine,
    CustomerReturn,
    Shipment,
    ShipmentLine,
)
from batches.quality.models import Check, CheckResult
from batches.runs.models import Batch, BatchEvent, Entry, EntryFactor, EntryTally
from inventory.catalog.models import Place
from inventory.purchasing.models import Receipt, ReceiptLine, SupplierOrder, SupplierOrderLine
from inventory.stock.models import (
    BooksClosing,
    Count,
    CountLine,
    HeldLot,
    Hold,
    HoldRelease,
    Lot,
    LotEvent,
    Movement,
    Posting,
)
from shopfloor.models import Change, RequestKey

Row = tuple[Any, ...]

COLUMNS: Final[dict[type[Model], str]] = {
    Batch: "id code item_id stage_id revision_id state planned_base note by_id recorded_at",
    BatchEvent: "id batch_id before after at recorded_at by_id reason",
    BooksClosing: "id through recorded_at by_id reason",
    Box: "id code place_id state by_id packed_at recorded_at",
    Change: "id at by_id table row_code before after",
    Check: "id definition_id lot_id batch_id entry_id at recorded_at by_id reason lot_pieces tested"
    " failed is_passed is_first is_marginal plan_pieces accept reject letter severity replaces_id",
    CheckResult: "id check_row_id equipment_id tested failed value",
    Count: "id at recorded_at by_id reason posting_id",
    CountLine: "id count_id lot_id expected_base found_base",
    CustomerOrder: "id code customer_id ordered_on state note by_id recorded_at",
    CustomerOrderLine: "id order_id position item_id qty_base price_micro promised_on is_closed",
    CustomerReturn: "posting_id shipment_id",
    Entry: "posting_id batch_id done_by_id good_base scrapped_base minutes",
    EntryFactor: "id entry_id equipment_id name value",
    EntryTally: "id entry_id grade scrap_reason_id equipment_id qty_base",
    HeldLot: "id hold_id lot_id before",
    Hold: "id lot_id at recorded_at by_id reason",
    HoldRelease: "id hold_id at recorded_at by_id reason",
    Lot: "id code item_id parent_id place_id owner grade disposition supplier_id"
    " supplier_lot_code born_at expires_at opened_at discard_at on_hand_base value_micro"
    " touched_at splits",
    LotEvent: "id lot_id kind at recorded_at by_id before after reason posting_id",
    Movement: "id posting_id lot_id qty_base value_micro",
    Place: "id code name kind is_active",
    Posting: "id kind at recorded_at by_id reason outside_kind outside_micro document_kind"
    " document_code reverses_id",
    Receipt: "posting_id supplier_id order_id delivery_note",
    ReceiptLine: "id receipt_id lot_id order_line_id qty_base",
    RequestKey: "id user_id key fingerprint status answer created_at",
    Shipment: "posting_id customer_id order_id carrier",
    ShipmentLine: "id shipment_id lot_id box_id order_line_id qty_base price_micro purpose",
    SupplierOrder: "id code supplier_id ordered_on state note by_id recorded_at",
    SupplierOrderLine: "id order_id position item_id packs pack_base pack_price_micro promised_on"
    " is_closed",
}
HELD_MAX: Final = 100_000  # rows in memory before they are written

_EPOCH: Final = date(1970, 1, 1)


def moment(seconds: int) -> str:
    """Seconds since 1970, UTC, as both databases keep them."""
    day, rest = divmod(seconds, 86_400)
    return f"{_day(day)} {rest // 3600:02}:{rest // 60 % 60:02}:{rest % 60:02}"


def day(seconds: int) -> str:
    """The day of a moment, UTC."""
    return _day(seconds // 86_400)


@cache
def _day(number: int) -> str:
    return (_EPOCH + timedelta(days=number)).isoformat()


class Writer:
    """Gathers rows and writes them in bulk; numbers each table's rows itself."""

    def __init__(self) -> None:
        self._rows: dict[type[Model], list[Row]] = defaultdict(list)
        self._last: dict[type[Model], int] = {}
        self._held = 0

    def next_id(self, model: type[Model]) -> int:
        """The number of the table's next row."""
        if model not in self._last:
            last = model._default_manager.order_by("-pk").values_list("pk", flat=True).first()
            self._last[model] = last or 0
        self._last[model] += 1
        return self._last[model]

    def add(self, model: type[Model], *values: Any) -> None:
        """A row, in the order of `COLUMNS`."""
        self._rows[model].append(values)
        self._held += 1
        if self._held > HELD_MAX:
            self.flush()

    def append(self, model: type[Model], *values: Any) -> int:
        """A row without its number, which is answered."""
        number = self.next_id(model)
        self.add(model, number, *values)
        return number

    def flush(self) -> None:
        """Write what is held."""
        for model, rows in self._rows.items():
            _write(model, rows)
            rows.clear()
        self._held = 0


def _write(model: type[Model], rows: list[Row]) -> None:
    names = COLUMNS[model].split()
    table = connection.ops.quote_name(model._meta.db_table)
    columns = ", ".join(connection.ops.quote_name(name) for name in names)
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            with cursor.cursor.copy(f"COPY {table} ({columns}) FROM STDIN") as copy:
                for row in rows:
                    copy.write_row(row)
        else:
            marks = ", ".join("?" * len(names))
            # The driver's own cursor: Django's would copy every row to look for %s.
            connection.connection.executemany(
                f"INSERT INTO {table} ({columns}) VALUES ({marks})",  # noqa: S608 - our own names
                rows,
            )


@contextmanager
def loading() -> Iterator[Writer]:
    """A writer; at the end foreign keys are proved at once and sequences brought along."""
    writer = Writer()
    lift = _lift_postgresql if connection.vendor == "postgresql" else _lift_sqlite
    with lift():
        yield writer
        writer.flush()
    with connection.cursor() as cursor:
        for sql in connection.ops.sequence_reset_sql(no_style(), list(COLUMNS)):
            cursor.execute(sql)
        if connection.vendor == "postgresql":
            cursor.execute("VACUUM ANALYZE")  # as autovacuum does; SQLite has nobody who would


@contextmanager
def _lift_sqlite() -> Iterator[None]:
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA foreign_keys=OFF")
        cursor.execute("PRAGMA synchronous=OFF")
        cursor.execute("BEGIN")
        yield
        cursor.execute("COMMIT")
        cursor.execute("PRAGMA foreign_key_check")
        assert cursor.fetchall() == [], "every reference leads somewhere"
        cursor.execute("PRAGMA synchronous=FULL")
        cursor.execute("PRAGMA foreign_keys=ON")


@contextmanager
def _lift_postgresql() -> Iterator[None]:
    """Without a check a row; putting a key back checks all rows in one join."""
    tables = [model._meta.db_table for model in COLUMNS]
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT conrelid::regclass::text, conname, pg_get_constraintdef(oid)"
            " FROM pg_constraint WHERE contype = 'f' AND conrelid::regclass::text = ANY(%s)",
            [tables],
        )
        keys = cursor.fetchall()
        for table, name, _ in keys:
            cursor.execute(f'ALTER TABLE {table} DROP CONSTRAINT "{name}"')
        yield
        for table, name, definition in keys:
            cursor.execute(f'ALTER TABLE {table} ADD CONSTRAINT "{name}" {definition}')

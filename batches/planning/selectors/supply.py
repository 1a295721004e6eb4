"""What is on hand and what is to come, and when."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction
from typing import Any, Final, NamedTuple

from django.db.models import Min, Q

from batches.bills.selectors.sheets import BillSheet, sheets_by_id
from batches.runs.models import BatchState
from batches.runs.selectors.batches import batches
from inventory.purchasing.models import OrderState
from inventory.purchasing.selectors import lines_with_received, progress
from inventory.reorder.selectors.shelves import LotHeld
from inventory.stock.models import Disposition, Grade
from shopfloor.days import day_end, shop_day

OPEN_STATES: Final = (BatchState.PLANNED, BatchState.IDLE, BatchState.RUNNING, BatchState.HELD)

_COUNTED: Final = frozenset({Disposition.RELEASED, Disposition.QUARANTINED})


@dataclass(slots=True)
class Shelf:
    """What is on hand of an item: ours, of the first grade, released or waiting for its test.

    What waits for its test counts: if not, receiving an order would look like losing it.

    Attributes:
        ends: Day after which an amount may not be used, and how much; in any order.
        value_micro: What all of it is worth.
    """

    usable_base: int = 0
    quarantined_base: int = 0
    value_micro: int = 0
    ends: list[tuple[date, int]] = field(default_factory=list)

    @property
    def counted_base(self) -> int:
        """All that counts."""
        return self.usable_base + self.quarantined_base


class OpenOrder(NamedTuple):
    """What is still to come on a line of a supplier order."""

    item_id: int
    code: str
    supplier: str
    ordered_on: date
    promised_on: date | None
    qty_base: int


class OpenBatch(NamedTuple):
    """A batch that is not over.

    Attributes:
        began_on: None while it does not run.
        left_base: Good pieces still wanted of it, > 0.
        takes: What that takes, by item id.
    """

    item_id: int
    code: str
    state: str
    planned_on: date | None
    began_on: date | None
    left_base: int
    takes: dict[int, int]


def shelves(lots: Iterable[LotHeld], *, on: date) -> dict[int, Shelf]:
    """What is on hand now and good today, by item id."""
    found: dict[int, Shelf] = {}
    good_until = day_end(on)
    for lot in lots:
        end = lot.end_at
        if (
            lot.owner
            or lot.grade != Grade.FIRST
            or lot.disposition not in _COUNTED
            or (end is not None and end < good_until)
        ):
            continue
        shelf = found.setdefault(lot.item_id, Shelf())
        if lot.disposition == Disposition.QUARANTINED:
            shelf.quarantined_base += lot.on_hand_base
        else:
            shelf.usable_base += lot.on_hand_base
        shelf.value_micro += lot.value_micro
        if end is not None:
            shelf.ends.append((shop_day(end), lot.on_hand_base))
    return found


def open_orders() -> list[OpenOrder]:
    """Lines of open supplier orders on which something is to come. One statement."""
    lines = (
        lines_with_received()
        .filter(is_closed=False, order__state=OrderState.OPEN)
        .select_related("order__supplier")
        .order_by("order_id", "position")
    )
    return [
        OpenOrder(
            line.item_id,
            line.order.code,
            line.order.supplier.code,
            line.order.ordered_on,
            line.promised_on,
            progress(line).open_base,
        )
        for line in lines
        if progress(line).open_base
    ]


def open_batches() -> list[OpenBatch]:
    """Batches that will still give something, but for rework. Two statements."""
    rows: list[Any] = list(
        batches()
        .filter(state__in=OPEN_STATES, revision__isnull=False)
        .annotate(began_at=Min("events__at", filter=Q(events__after=BatchState.RUNNING)))
        .order_by("pk")
    )
    sheets = sheets_by_id(row.revision_id for row in rows)
    found = []
    for row in rows:
        left_base = row.planned_base - row.good_base
        if left_base <= 0:
            continue
        sheet = sheets[row.revision_id]
        found.append(
            OpenBatch(
                row.item_id,
                row.code,
                row.state,
                row.planned_on,
                shop_day(row.began_at) if row.began_at else None,
                left_base,
                _takes(sheet, left_base, is_first_entry=not row.entry_count),
            )
        )
    return found


def _takes(sheet: BillSheet, good_base: int, *, is_first_entry: bool) -> dict[int, int]:
    """What so many more good pieces take."""
    started = math.ceil(good_base / (1 - Fraction(sheet.scrap_ratio)))
    return {
        line.item.id: line.need_base(started, is_first_entry=is_first_entry) for line in sheet.taken
    }


def ids_of(orders: Iterable[OpenOrder], running: Iterable[OpenBatch]) -> set[int]:
    """Items that something is to come of, or that open batches take."""
    found = {order.item_id for order in orders}
    for batch in running:
        found |= {batch.item_id, *batch.takes}
    return found

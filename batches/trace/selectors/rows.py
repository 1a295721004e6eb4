"""Rows of a trace, as the API shows them."""

from __future__ import annotations

from datetime import datetime
from functools import lru_cache
from typing import NamedTuple

from inventory.stock.selectors.amounts import AmountRow, amount_row

# A trace shows the same few amounts again and again: a batch's two halves, a box's two dozen.
amount_of = lru_cache(maxsize=20_000)(amount_row)


class Unit(NamedTuple):
    """How amounts of an item are shown."""

    dimension: str
    unit: str

    def row(self, qty_base: int) -> AmountRow:
        """Base units as people read them."""
        return amount_of(qty_base, dimension=self.dimension, unit=self.unit)


class StartRow(NamedTuple):
    """Where a trace begins; the note says what is unusual about it."""

    kind: str
    code: str
    lots: list[str]
    is_undone: bool
    note: str


class NodeRow(NamedTuple):
    """A lot, and how many flows it is away from the start."""

    code: str
    item: str
    kind: str
    name: str
    grade: str
    place: str
    disposition: str
    supplier: str | None
    supplier_lot_code: str
    born_at: datetime
    on_hand: AmountRow
    depth: int


class EdgeRow(NamedTuple):
    """A lot that went into another, by which posting; batch and entry where it was a run's.

    Amounts are the posting's: what was taken of this lot went into all the lots made there.
    """

    posting: str
    kind: str
    at: datetime
    stage: str | None
    batch: str | None
    entry: str | None
    taken_lot: str
    taken: AmountRow
    made_lot: str | None
    made: AmountRow | None


class ItemAmountRow(NamedTuple):
    """An amount of an item."""

    item: str
    amount: AmountRow


class BatchRow(NamedTuple):
    """A batch with what its entries took and made of the traced lots."""

    batch: str
    stage: str
    item: str
    item_name: str
    entries: int
    first_at: datetime
    last_at: datetime
    taken: list[ItemAmountRow]
    made: list[ItemAmountRow]
    scrapped: AmountRow


class OnHandRow(NamedTuple):
    """What is still ours of an item, at one place in one disposition."""

    item: str
    place: str
    disposition: str
    lots: int
    amount: AmountRow


class BoxAmountRow(NamedTuple):
    """What is in a box of an item, or left in it."""

    box: str
    state: str
    shipment: str | None
    item: str
    amount: AmountRow


class ShippedRow(NamedTuple):
    """What left of an item with one shipment, and what came back of it."""

    shipment: str
    at: datetime
    customer: str
    customer_name: str
    purpose: str
    item: str
    boxes: list[str]
    amount: AmountRow
    returned: AmountRow


class ScrappedRow(NamedTuple):
    """What was scrapped in a batch for one reason, by the entries that took traced lots."""

    batch: str
    stage: str
    item: str
    reason: str
    reason_name: str
    amount: AmountRow


class KindRow(NamedTuple):
    """What came into the lots of an item and went out of them by one kind of posting."""

    kind: str
    came_in: AmountRow
    went_out: AmountRow


class AccountRow(NamedTuple):
    """Every base unit of an item: what came in less what went out is on hand."""

    item: str
    changes: list[KindRow]
    on_hand: AmountRow


class ReceiptRow(NamedTuple):
    """How a lot came in."""

    receipt: str
    at: datetime
    supplier: str
    supplier_name: str
    supplier_lot_code: str
    order: str | None
    delivery_note: str
    lot: str
    item: str
    amount: AmountRow


class Downstream(NamedTuple):
    """Where something went, and where it is now."""

    start: StartRow
    goes_on: bool
    nodes: list[NodeRow]
    edges: list[EdgeRow] | None
    batches: list[BatchRow] | None
    on_hand: list[OnHandRow]
    boxes: list[BoxAmountRow]
    shipments: list[ShippedRow]
    scrapped: list[ScrappedRow]
    account: list[AccountRow]


class Upstream(NamedTuple):
    """What went into something, and where that came from."""

    start: StartRow
    goes_on: bool
    nodes: list[NodeRow]
    edges: list[EdgeRow] | None
    batches: list[BatchRow] | None
    receipts: list[ReceiptRow]

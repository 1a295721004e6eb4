"""Rows of a trace, as the API shows them."""

from __future__ import annotations

from datetime import datetime
from fractions import Fraction
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


def share_text(part: Fraction | int, whole_base: int) -> str:
    """A part of a whole, > 0, to six places; 1 and 0 only where it is exactly that."""
    if part in {0, whole_base}:
        return "1" if part else "0"
    millionths = min(999_999, max(1, round(Fraction(part) / whole_base * 10**6)))
    return f"0.{millionths:06}".rstrip("0")


class StartRow(NamedTuple):
    """Where a trace begins; the note says what is unusual about it."""

    kind: str
    code: str
    lots: list[str]
    is_undone: bool
    note: str


class PartRow(NamedTuple):
    """How much of an amount is meant: by share, and at most."""

    by_share: AmountRow
    up_to: AmountRow


class NodeRow(NamedTuple):
    """A lot, how many flows it is away from the start, and how much of it is meant.

    Downstream that is what of it came of the start, upstream what of it went in; None where the
    trace was cut, for what lies beyond would count too.
    """

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
    whole: AmountRow
    share: str | None
    part: PartRow | None


class EdgeRow(NamedTuple):
    """A lot that went into another, by which posting; batch and entry where it was a run's.

    Amounts are the posting's: what was taken of this lot went into all the lots made there. The
    part is that of what was taken, as of a node.
    """

    posting: str
    kind: str
    at: datetime
    stage: str | None
    batch: str | None
    entry: str | None
    taken_lot: str
    taken_item: str
    taken: AmountRow
    made_lot: str | None
    made_item: str | None
    made: AmountRow | None
    part: PartRow | None


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
    part: PartRow | None


class WhereRow(NamedTuple):
    """An amount of a traced lot, and what became of it.

    All rows of a lot add up to what came in of it.
    """

    lot: str
    item: str
    became: str
    amount: AmountRow
    part: PartRow | None
    place: str | None = None
    box: str | None = None
    shipment: str | None = None
    customer: str | None = None
    at: datetime | None = None


class TotalRow(NamedTuple):
    """What became of all lots of an item in one way, scrapped pieces among them."""

    item: str
    became: str
    lots: int
    amount: AmountRow
    part: PartRow | None


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
    totals: list[TotalRow]
    whereabouts: list[WhereRow]
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

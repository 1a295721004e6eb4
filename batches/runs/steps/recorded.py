"""What an entry answers, out of what its recording holds already: no statement more."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple

from batches.runs.models import Batch, Entry
from batches.runs.selectors.batches import LotAmountRow
from inventory.stock.models import Lot
from inventory.stock.selectors.amounts import AmountRow, Shown, amount_of
from inventory.stock.steps import Change, Posted
from shopfloor.money import money_text


@dataclass(frozen=True, slots=True)
class Recorded:
    """An entry as it was recorded, with what it took and made.

    Attributes:
        taken: Changes of the lots it took, their items loaded.
        made_items: Items of what it made, by id.
    """

    entry: Entry
    batch: Batch
    posted: Posted
    taken: Sequence[Change]
    made_items: Mapping[int, Shown]


class RecordedRow(NamedTuple):
    """An entry as the API answers it."""

    code: str
    batch: str
    posting: str
    at: datetime
    good: AmountRow
    scrapped: AmountRow
    taken: list[LotAmountRow]
    made: list[LotAmountRow]


def recorded_row(recorded: Recorded) -> RecordedRow:
    """The answer to an entry. No statement."""
    entry, item = recorded.entry, recorded.batch.item
    return RecordedRow(
        code=entry.code,
        batch=recorded.batch.code,
        posting=recorded.posted.posting.code,
        at=recorded.posted.posting.at,
        good=amount_of(item, entry.good_base),
        scrapped=amount_of(item, entry.scrapped_base),
        taken=[
            _lot_amount(change.lot, change.lot.item, -change.qty_base, -change.value_micro)
            for change in recorded.taken
        ],
        made=[
            _lot_amount(lot, recorded.made_items[lot.item_id], lot.on_hand_base, lot.value_micro)
            for lot in recorded.posted.made
        ],
    )


def _lot_amount(lot: Lot, item: Shown, qty_base: int, value_micro: int) -> LotAmountRow:
    return LotAmountRow(
        lot=lot.code,
        item=item.code,
        amount=amount_of(item, qty_base),
        value=money_text(value_micro),
    )

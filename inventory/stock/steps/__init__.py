"""The ledger. Nothing outside these steps writes an amount or a value, or what a lot is."""

from __future__ import annotations

from inventory.stock.steps.holding import born_disposition, inherit_holds
from inventory.stock.steps.lots import (
    change_place,
    lock_lots,
    lock_lots_by_id,
    note_event,
    open_whole,
    refuse_unusable,
    split_lot,
)
from inventory.stock.steps.posting import (
    NO_DOCUMENT,
    Change,
    Document,
    Make,
    Posted,
    post,
    take,
)
from inventory.stock.steps.reversing import reverse_posting

__all__ = [
    "NO_DOCUMENT",
    "Change",
    "Document",
    "Make",
    "Posted",
    "born_disposition",
    "change_place",
    "inherit_holds",
    "lock_lots",
    "lock_lots_by_id",
    "note_event",
    "open_whole",
    "post",
    "refuse_unusable",
    "reverse_posting",
    "split_lot",
    "take",
]

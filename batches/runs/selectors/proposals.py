"""What an entry would take now, before it is recorded.

And amounts of an entry as people write them.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import NamedTuple

from django.db.models import TextField

from batches.runs.rules import LotOffer
from inventory.catalog.models import Item
from inventory.catalog.selectors import measure_of
from inventory.stock.models import Lot
from inventory.stock.selectors.lots import usable_until
from shopfloor.errors import NotFoundError
from shopfloor.prepared import Given, Prepared
from shopfloor.units import Measure, to_base


class ItemAmount(NamedTuple):
    """An amount of an item as a person wrote it."""

    item_code: str
    amount: Decimal
    unit: str


_item_of_batch = Prepared(lambda: Item.objects.filter(batches__code=Given("batch", TextField())))


def batch_measure(code: str) -> Measure:
    """How the pieces (or the mixture) of a batch are measured. One statement.

    Raises:
        NotFoundError: no such batch.
    """
    items = _item_of_batch(batch=code)
    if not items:
        raise NotFoundError("No batch has this code. Check it, or scan the traveler.", batch=code)
    return measure_of(items[0])


def items_qty_base(wanted: Sequence[ItemAmount]) -> list[int]:
    """Base units of amounts of items, in the order given. One statement.

    Raises:
        NotFoundError: no such item.
        UnitMismatchError, FractionOfPieceError, AmountTooLargeError: as in `shopfloor.units`.
    """
    codes = {row.item_code for row in wanted}
    items = {item.code: measure_of(item) for item in Item.objects.filter(code__in=codes)}
    missing = sorted(codes - items.keys())
    if missing:
        raise NotFoundError("No item has this code.", items=missing)
    return [to_base(amount=row.amount, unit=row.unit, item=items[row.item_code]) for row in wanted]


def lot_offer(lot: Lot) -> LotOffer:
    """All that a lot holds, to be taken first expired first."""
    return LotOffer(
        lot_id=lot.pk,
        available_base=lot.on_hand_base,
        usable_until=usable_until(lot),
        born_at=lot.born_at,
    )

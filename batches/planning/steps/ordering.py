"""Steps about supplier orders that were suggested."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from inventory.purchasing.models import SupplierOrder
from inventory.purchasing.steps import OrderLineDraft, add_order
from shopfloor.errors import InvalidInputError
from shopfloor.stamp import Stamp


class WantedLine(NamedTuple):
    """Packs of an item, of whom."""

    supplier_code: str
    item_code: str
    packs: int


def add_orders(*, lines: Sequence[WantedLine], note: str, stamp: Stamp) -> list[SupplierOrder]:
    """Write an order to each supplier named, in the order they are named first.

    Raises:
        InvalidInputError: an item stands twice with one supplier.
        Others: as `inventory.purchasing.steps.add_order`; then none is written.
    """
    by_supplier: dict[str, list[OrderLineDraft]] = {}
    seen: set[tuple[str, str]] = set()
    for line in lines:
        if (line.supplier_code, line.item_code) in seen:
            raise InvalidInputError(
                f"{line.item_code} stands twice with {line.supplier_code}. Add the packs up.",
                item=line.item_code,
                supplier=line.supplier_code,
            )
        seen.add((line.supplier_code, line.item_code))
        draft = OrderLineDraft(item_code=line.item_code, packs=line.packs)
        by_supplier.setdefault(line.supplier_code, []).append(draft)
    return [
        add_order(supplier_code=supplier_code, lines=drafts, stamp=stamp, note=note)
        for supplier_code, drafts in by_supplier.items()
    ]

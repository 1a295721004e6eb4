"""What to order today, supplier by supplier: what is due, and what may as well come with it."""

from __future__ import annotations

from datetime import date
from typing import Final, NamedTuple

from batches.packing.selectors import promised_base
from inventory.catalog.models import Supplier
from inventory.catalog.selectors import measure_of
from inventory.reorder.rules.quantity import owed, packs_for
from inventory.reorder.selectors import ReorderRow, reorder_list
from inventory.stock.selectors.amounts import AmountRow, amount_row
from shopfloor.money import money_text

SOON_DAYS_DEFAULT: Final = 14
"""Two weeks: what would be due until then saves an order of its own. Common practice, no source."""


class SuggestedLine(NamedTuple):
    """One item to order.

    Attributes:
        is_due: Whether its position has fallen to its reorder point; else it will, soon.
        order_by: The last day to order it; None where that cannot be told.
        pack_price: Of a pack, for so many; None without a price.
        next_price: The pack price of the next break, and `next_price_from` the packs it takes.
    """

    item: str
    item_name: str
    supplier_item_number: str
    is_due: bool
    order_by: date | None
    position: AmountRow
    reorder_point: AmountRow
    packs: int
    pack: AmountRow
    amount: AmountRow
    pack_price: str | None
    value: str | None
    next_price_from: int | None
    next_price: str | None
    why: str


class SuggestedOrder(NamedTuple):
    """What to ask one supplier for.

    Attributes:
        value: Of all lines that have a price.
        unpriced: How many have none.
    """

    supplier: str
    supplier_name: str
    contact: str
    due: int
    value: str
    unpriced: int
    lines: list[SuggestedLine]


def suggested_orders(*, on: date, soon_days: int = SOON_DAYS_DEFAULT) -> list[SuggestedOrder]:
    """Every supplier of whom something is due, the most urgent first. At most 13 statements.

    Args:
        on: Today, the shop's day.
        soon_days: What falls to its reorder point within so many days comes along, >= 0.
    """
    by_supplier: dict[int, list[tuple[ReorderRow, int]]] = {}
    suppliers: dict[int, Supplier] = {}
    for row in reorder_list(on=on, promised_base=promised_base()):
        packs = _packs(row, soon_days)
        if row.offer is not None and packs:
            suppliers[row.offer.supplier.pk] = row.offer.supplier
            by_supplier.setdefault(row.offer.supplier.pk, []).append((row, packs))
    return [
        _order(suppliers[supplier_id], rows)
        for supplier_id, rows in by_supplier.items()
        if any(row.is_due for row, _ in rows)
    ]


def _packs(row: ReorderRow, soon_days: int) -> int:
    """Packs of an item that is due or soon will be: what would be ordered on its day."""
    advice = row.advice
    if advice is None:
        return 0
    if advice.suggested_packs:
        return advice.suggested_packs
    if advice.order_by_days is None or advice.order_by_days > soon_days or row.pack_base is None:
        return 0
    assert row.offer is not None
    choice = packs_for(
        wanted_base=max(advice.need_base, int(advice.economic_base or 0), 1),
        owed_base=owed(row.position_base),
        caps_base=advice.caps_base,
        pack_base=row.pack_base,
        packs_min=row.offer.packs_min,
    )
    return 0 if choice.overstepped else choice.packs


def _order(supplier: Supplier, rows: list[tuple[ReorderRow, int]]) -> SuggestedOrder:
    values = [_value_micro(row, packs) for row, packs in rows]
    return SuggestedOrder(
        supplier=supplier.code,
        supplier_name=supplier.name,
        contact=supplier.contact,
        due=sum(row.is_due for row, _ in rows),
        value=money_text(sum(filter(None, values))),
        unpriced=sum(value is None for value in values),
        lines=[_line(row, packs, value) for (row, packs), value in zip(rows, values, strict=True)],
    )


def _value_micro(row: ReorderRow, packs: int) -> int | None:
    assert row.offer is not None
    price_micro = row.offer.pack_price_micro(packs)
    return None if price_micro is None else price_micro * packs


def _line(row: ReorderRow, packs: int, value_micro: int | None) -> SuggestedLine:
    assert row.offer is not None
    assert row.pack_base is not None
    item, measure = row.item, measure_of(row.item)

    def shown(qty_base: int) -> AmountRow:
        return amount_row(qty_base, dimension=measure.dimension, unit=item.display_unit)

    price_micro = row.offer.pack_price_micro(packs)
    following = next((each for each in row.offer.price_breaks if each.packs_from > packs), None)
    return SuggestedLine(
        item=item.code,
        item_name=item.name,
        supplier_item_number=row.offer.supplier_item_number,
        is_due=row.is_due,
        order_by=row.order_by,
        position=shown(row.position_base),
        reorder_point=shown(row.reorder_point_base or 0),
        packs=packs,
        pack=shown(row.pack_base),
        amount=shown(packs * row.pack_base),
        pack_price=None if price_micro is None else money_text(price_micro),
        value=None if value_micro is None else money_text(value_micro),
        next_price_from=None if following is None else following.packs_from,
        next_price=None if following is None else money_text(following.pack_price_micro),
        why=_why(row),
    )


def _why(row: ReorderRow) -> str:
    if row.is_due:
        return "Its position has fallen to its reorder point."
    return f"It will be due by {row.order_by}; with this order it needs none of its own."

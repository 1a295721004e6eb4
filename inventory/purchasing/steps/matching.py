"""Which line of an order a delivered item answers. Reads rows that are loaded, writes nothing."""

from __future__ import annotations

from collections.abc import Sequence

from inventory.catalog.models import Item
from inventory.purchasing.errors import OrderLineError, OrderNotOpenError
from inventory.purchasing.models import SupplierOrderLine


def line_meant(
    order_lines: Sequence[SupplierOrderLine], *, item: Item, position: int | None, number: int
) -> SupplierOrderLine | None:
    """The order line that an arriving item answers; None when the order has none for it.

    Args:
        order_lines: All of the order; none when there is no order.
        item: What came.
        position: The line named; None to find the one open line with this item.
        number: Which line of the delivery, for the refusal.

    Raises:
        OrderLineError: no such line, one of another item, or several that it could be.
        OrderNotOpenError: the line named is closed.
    """
    if position is not None:
        return _named(order_lines, item, position, number)
    fitting = [line for line in order_lines if line.item_id == item.pk and not line.is_closed]
    if len(fitting) > 1:
        raise OrderLineError(
            f"The order has several open lines of {item.code}. Name the one this answers.",
            line=number,
            item=item.code,
            order_lines=[line.position for line in fitting],
        )
    return fitting[0] if fitting else None


def _named(
    order_lines: Sequence[SupplierOrderLine], item: Item, position: int, number: int
) -> SupplierOrderLine:
    found = next((line for line in order_lines if line.position == position), None)
    facts = {"line": number, "item": item.code, "order_line": position}
    if found is None:
        raise OrderLineError(
            "There is no such order line. Name the order, and a line of it.",
            **facts,
            order_lines=[line.position for line in order_lines],
        )
    if found.item_id != item.pk:
        raise OrderLineError(
            f"That order line is not for {item.code}. Compare it with the delivery note.", **facts
        )
    if found.is_closed:
        raise OrderNotOpenError(
            "That order line is closed. Receive this without a line, and say what it cost.", **facts
        )
    return found

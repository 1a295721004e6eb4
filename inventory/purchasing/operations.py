"""Business events of purchasing: what we order, what comes, what goes back."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from inventory.purchasing import steps
from inventory.purchasing.models import Receipt, SupplierOrder
from inventory.purchasing.steps import OrderLineDraft, ReceiptLineDraft, ReturnDraft
from inventory.stock.steps import Posted
from shopfloor.operation import operation
from shopfloor.stamp import Stamp


@operation
def place_supplier_order(
    *,
    supplier_code: str,
    lines: Sequence[OrderLineDraft],
    stamp: Stamp,
    code: str = "",
    ordered_on: date | None = None,
    note: str = "",
) -> SupplierOrder:
    """Write down an order; arguments and refusals as `steps.add_order`."""
    return steps.add_order(
        supplier_code=supplier_code,
        lines=lines,
        stamp=stamp,
        code=code,
        ordered_on=ordered_on,
        note=note,
    )


@operation
def close_supplier_order(
    *, order_code: str, stamp: Stamp, position: int | None = None
) -> SupplierOrder:
    """Expect nothing more on a line or on all of an order; refusals as `steps.close_order`."""
    return steps.close_order(order_code=order_code, stamp=stamp, position=position)


@operation
def cancel_supplier_order(*, order_code: str, stamp: Stamp) -> SupplierOrder:
    """Call off an order of which nothing came; refusals as `steps.cancel_order`."""
    return steps.cancel_order(order_code=order_code, stamp=stamp)


@operation
def receive_delivery(
    *,
    supplier_code: str,
    lines: Sequence[ReceiptLineDraft],
    stamp: Stamp,
    order_code: str = "",
    delivery_note: str = "",
) -> Receipt:
    """Take in what came; arguments and refusals as `steps.add_receipt`."""
    return steps.add_receipt(
        supplier_code=supplier_code,
        lines=lines,
        stamp=stamp,
        order_code=order_code,
        delivery_note=delivery_note,
    )


@operation
def reverse_receipt(*, receipt_code: str, stamp: Stamp) -> Posted:
    """Undo a receipt whose lots are untouched; refusals as `steps.undo_receipt`."""
    return steps.undo_receipt(receipt_code=receipt_code, stamp=stamp)


@operation
def return_to_supplier(*, lots: Sequence[ReturnDraft], stamp: Stamp) -> Posted:
    """Send lots back to the supplier they came from; refusals as `steps.send_back`."""
    return steps.send_back(lots=lots, stamp=stamp)


@operation
def reverse_supplier_return(*, posting_code: str, stamp: Stamp) -> Posted:
    """Undo a return that was written down wrongly; refusals as `steps.undo_return`."""
    return steps.undo_return(posting_code=posting_code, stamp=stamp)

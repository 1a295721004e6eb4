"""Reads of orders and receipts; each states its queries.

A reversed receipt does not count as received.
"""

from __future__ import annotations

from datetime import date
from typing import Any, Final, NamedTuple

from django.db.models import F, Min, OuterRef, Prefetch, Q, QuerySet, Subquery, Sum, Window
from django.db.models.functions import Coalesce, RowNumber

from inventory.purchasing.models import (
    OrderState,
    Receipt,
    ReceiptLine,
    SupplierOrder,
    SupplierOrderLine,
)
from inventory.purchasing.rules import open_base
from inventory.stock.models import Movement
from shopfloor.codes.alphabet import Prefix, decode
from shopfloor.days import shop_day
from shopfloor.errors import NotFoundError

ORDER_STATES = OrderState.choices

# Of an order line's receipts, those that were not reversed.
STANDING = Q(receipt_lines__receipt__posting__reversed_by__isnull=True)


class LeadTime(NamedTuple):
    """How long one order line took: the order's day to the shop's day of its first delivery."""

    item_id: int
    supplier_id: int
    days: int


class Progress(NamedTuple):
    """How far an order line is, in base units of its item."""

    ordered_base: int
    received_base: int
    open_base: int


def open_order_base(on: date) -> dict[int, int]:
    """Base units on order of each item, by item id: what is still to come on open lines.

    Only orders placed on that day or before count; of those, what is open now. Items with nothing
    on order are left out. One query.
    """
    lines = (
        lines_with_received()
        .filter(is_closed=False, order__state=OrderState.OPEN, order__ordered_on__lte=on)
        .values_list("item_id", "packs", "pack_base", "received_base")
    )
    found: dict[int, int] = {}
    for item_id, packs, pack_base, received_base in lines:
        still = open_base(
            ordered_base=packs * pack_base, received_base=received_base, is_closed=False
        )
        if still:
            found[item_id] = found.get(item_id, 0) + still
    return found


LATEST_LINES: Final = 24
"""Of an item and supplier: what they took years ago says nothing, and would cost more each year."""


def lead_times_days() -> list[LeadTime]:
    """A row for each order line of which anything came, oldest first; of the latest lines only.

    Days are from the order's day to the shop's day of the line's first receipt that was not
    reversed: the day from which there was something to use. A later part of the same line does not
    count. Two queries: PostgreSQL, not told which lines, would read all receipts there are.
    """
    age = Window(RowNumber(), partition_by=["item", "order__supplier"], order_by=F("pk").desc())
    latest = SupplierOrderLine.objects.annotate(age=age).filter(age__lte=LATEST_LINES)
    latest_ids = list(latest.order_by().values_list("pk", flat=True))
    lines = (
        SupplierOrderLine.objects.filter(pk__in=latest_ids)
        .annotate(first_at=Min("receipt_lines__receipt__posting__at", filter=STANDING))
        .filter(first_at__isnull=False)
        .order_by("pk")
        .values_list("item_id", "order__supplier_id", "order__ordered_on", "first_at")
    )
    return [
        LeadTime(item_id, supplier_id, (shop_day(first_at) - ordered_on).days)
        for item_id, supplier_id, ordered_on, first_at in lines
    ]


def lines_with_received() -> QuerySet[Any]:
    """Order lines with `received_base`."""
    received = Coalesce(Sum("receipt_lines__qty_base", filter=STANDING), 0)
    return SupplierOrderLine.objects.annotate(received_base=received)


def progress(line: Any) -> Progress:
    """How far a line of `lines_with_received` is. No query."""
    ordered_base = line.packs * line.pack_base
    return Progress(
        ordered_base=ordered_base,
        received_base=line.received_base,
        open_base=open_base(
            ordered_base=ordered_base, received_base=line.received_base, is_closed=line.is_closed
        ),
    )


def orders() -> QuerySet[SupplierOrder]:
    """Orders with their lines, to be filtered and paged; three queries a page."""
    lines = lines_with_received().select_related("item").order_by("position")
    return SupplierOrder.objects.select_related("supplier", "by").prefetch_related(
        Prefetch("lines", lines)
    )


def order(code: str) -> SupplierOrder:
    """One order with its lines and its receipts. Three queries.

    Raises:
        NotFoundError: no such order.
    """
    of_order = Receipt.objects.select_related("posting__reversed_by").order_by("pk")
    rows = orders().prefetch_related(Prefetch("receipts", of_order))
    row = rows.filter(code=code.strip().upper()).first()
    if row is None:
        raise NotFoundError("No supplier order has this code. Look at the list.", order=code)
    return row


def receipts() -> QuerySet[Receipt]:
    """Receipts with their lines, to be filtered and paged; three queries a page.

    Each line has `value_micro`, what came in, and `before_base`, what had come on its order line
    before.
    """
    value = Movement.objects.filter(posting=OuterRef("receipt_id"), lot=OuterRef("lot_id"))
    before = (
        ReceiptLine.objects.filter(
            order_line=OuterRef("order_line"),
            pk__lt=OuterRef("pk"),
            receipt__posting__reversed_by__isnull=True,
        )
        .order_by()
        .values("order_line")
        .annotate(sum_base=Sum("qty_base"))
        .values("sum_base")
    )
    lines = (
        ReceiptLine.objects.select_related("lot__item", "lot__place", "order_line__order")
        .annotate(
            value_micro=Coalesce(Subquery(value.values("value_micro")[:1]), 0),
            before_base=Coalesce(Subquery(before), 0),
        )
        .order_by("pk")
    )
    return Receipt.objects.select_related(
        "supplier", "order", "posting__by", "posting__reversed_by"
    ).prefetch_related(Prefetch("lines", lines))


def receipt(code: str) -> Receipt:
    """One receipt with its lines. Two queries.

    Raises:
        NotFoundError: no such receipt.
        CodeUnreadableError, CodeTypoError, WrongKindOfCodeError: not the code of a receipt.
    """
    row = receipts().filter(pk=decode(code, Prefix.RECEIPT)[1]).first()
    if row is None:
        raise NotFoundError("No receipt has this code. Look at the list.", receipt=code)
    return row

"""Customers and what they ordered, with what was shipped of it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from typing import Any, NamedTuple

from django.db.models import OuterRef, QuerySet, Subquery, Sum

from batches.packing.models import (
    Customer,
    CustomerOrder,
    CustomerOrderLine,
    CustomerOrderState,
    Purpose,
    ShipmentLine,
)
from batches.packing.rules import answered
from shopfloor.errors import NotFoundError

# A replacement makes good what was shipped before and a free piece was never ordered.
ANSWERING = (Purpose.SALE, Purpose.SAMPLE)


class OrderLineRow(NamedTuple):
    """A line of an order; pieces."""

    position: int
    item: str
    item_name: str
    ordered: int
    shipped: int
    open: int
    price_micro: int
    promised_on: date | None
    is_closed: bool


class OrderRow(NamedTuple):
    """A customer's order."""

    code: str
    customer: str
    customer_name: str
    ordered_on: date
    state: str
    note: str
    by: str
    recorded_at: datetime
    lines: list[OrderLineRow]


def customers() -> QuerySet[Customer]:
    """Every customer, to be filtered and paged; two statements a page."""
    return Customer.objects.all()


def customer_named(code: str) -> Customer:
    """One statement.

    Raises:
        NotFoundError: no customer has that code.
    """
    customer = Customer.objects.filter(code=code).first()
    if customer is None:
        raise NotFoundError("No customer has this code. Look at the list.", customer=code)
    return customer


def customer_orders() -> QuerySet[CustomerOrder]:
    """Every order, to be filtered and paged; `order_rows` makes rows of a page."""
    return CustomerOrder.objects.select_related("customer", "by")


def order_named(code: str) -> CustomerOrder:
    """One statement.

    Raises:
        NotFoundError: no order has that code.
    """
    order = customer_orders().filter(code=code).first()
    if order is None:
        raise NotFoundError("No customer order has this code. Look at the list.", order=code)
    return order


def shipped_base(order_ids: Iterable[int]) -> dict[tuple[int, int], int]:
    """Pieces shipped on orders, by order and item id, without reversed ones. One statement."""
    sums = (
        _answering(shipment__order__in=list(order_ids))
        .values_list("shipment__order_id", "lot__item_id")
        .annotate(pieces=Sum("qty_base"))
    )
    return {(order, item): int(pieces) for order, item, pieces in sums}


def _answering(**which: Any) -> QuerySet[ShipmentLine]:
    """Lines of shipments that stand and answer an order."""
    return ShipmentLine.objects.filter(
        **which, shipment__posting__reversed_by__isnull=True, purpose__in=ANSWERING
    ).order_by()


def shipped_of_order() -> Subquery:
    """An annotation of order lines: pieces of their item shipped on their order; None: none."""
    lines = _answering(shipment__order=OuterRef("order_id"), lot__item=OuterRef("item_id"))
    sums = lines.values("shipment__order_id").annotate(pieces=Sum("qty_base"))
    return Subquery(sums.values("pieces"))


def answered_by_line(
    lines: Sequence[CustomerOrderLine], shipped: Mapping[tuple[int, int], int] | None = None
) -> dict[int, int]:
    """Pieces shipped on each line, by its id; takes all lines of their orders.

    One statement, none where `shipped_base` of the orders is given.
    """
    if shipped is None:
        shipped = shipped_base({line.order_id for line in lines})
    alike: dict[tuple[int, int], list[CustomerOrderLine]] = defaultdict(list)
    for line in lines:
        alike[line.order_id, line.item_id].append(line)
    found: dict[int, int] = {}
    for key, same in alike.items():
        parts = answered(ordered=[line.qty_base for line in same], shipped=shipped.get(key, 0))
        found |= {line.pk: part for line, part in zip(same, parts, strict=True)}
    return found


def order_rows(orders: Sequence[CustomerOrder]) -> list[OrderRow]:
    """Orders with their lines. Two statements when customer and person are loaded."""
    lines = list(
        CustomerOrderLine.objects.filter(order__in=[order.pk for order in orders])
        .select_related("item")
        .order_by("order_id", "position")
    )
    shipped = answered_by_line(lines)
    by_order: dict[int, list[CustomerOrderLine]] = defaultdict(list)
    for line in lines:
        by_order[line.order_id].append(line)
    return [
        OrderRow(
            code=order.code,
            customer=order.customer.code,
            customer_name=order.customer.name,
            ordered_on=order.ordered_on,
            state=order.state,
            note=order.note,
            by=order.by.username,
            recorded_at=order.recorded_at,
            lines=[
                _line_row(line, shipped[line.pk], is_open=order.state == CustomerOrderState.OPEN)
                for line in by_order[order.pk]
            ],
        )
        for order in orders
    ]


def _line_row(line: CustomerOrderLine, shipped: int, *, is_open: bool) -> OrderLineRow:
    return OrderLineRow(
        position=line.position,
        item=line.item.code,
        item_name=line.item.name,
        ordered=line.qty_base,
        shipped=shipped,
        open=max(line.qty_base - shipped, 0) if is_open else 0,
        price_micro=line.price_micro,
        promised_on=line.promised_on,
        is_closed=line.is_closed,
    )


def promised_base() -> dict[int, int]:
    """Pieces that open customer orders wait for, by item id; never zero. One statement."""
    ordered = (
        CustomerOrderLine.objects.filter(order__state=CustomerOrderState.OPEN)
        .order_by()
        .values_list("order_id", "item_id")
        .annotate(pieces=Sum("qty_base"), shipped=shipped_of_order())
    )
    promised: dict[int, int] = defaultdict(int)
    for _, item, pieces, gone in ordered:
        promised[item] += max(int(pieces) - int(gone or 0), 0)
    return {item: pieces for item, pieces in promised.items() if pieces}

"""A customer's order is entered: which customer, which lures, by when."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from django.db import IntegrityError

from batches.packing.errors import NotPiecesError
from batches.packing.models import CustomerOrder, CustomerOrderLine
from batches.packing.steps.orders import active_customer
from inventory.catalog.errors import DuplicateCodeError
from inventory.catalog.models import DimensionKind, Item
from inventory.catalog.selectors import items_by_code
from inventory.purchasing.errors import DateImpossibleError
from shopfloor.allocation import next_id
from shopfloor.audit import audit_change
from shopfloor.codes.alphabet import Prefix, encode, own_code
from shopfloor.days import shop_day
from shopfloor.stamp import Stamp


@dataclass(frozen=True, slots=True)
class OrderLine:
    """One lure that a customer wants.

    Attributes:
        item_code: What.
        pieces: How many, > 0.
        price_micro: For one, >= 0, millionths of the currency.
        promised_on: The shop's day we promised, if any.
    """

    item_code: str
    pieces: int
    price_micro: int
    promised_on: date | None = None


def add_order(
    *,
    customer_code: str,
    lines: Sequence[OrderLine],
    stamp: Stamp,
    code: str = "",
    ordered_on: date | None = None,
    note: str = "",
) -> CustomerOrder:
    """Write an order and its lines. Needs an open transaction.

    Raises:
        NotFoundError, NotActiveError, NotPiecesError, DateImpossibleError, OwnCodeError,
            DuplicateCodeError: see `enter_customer_order`.
    """
    assert lines
    customer = active_customer(customer_code)
    items = items_by_code(line.item_code for line in lines)
    _refuse_not_pieces(items.values())
    ordered_on = ordered_on or shop_day(stamp.now)
    _refuse_dates(lines, ordered_on, today=shop_day(stamp.now))
    number = None if code else next_id(CustomerOrder)
    code = own_code(code) if number is None else encode(number, Prefix.CUSTOMER_ORDER)
    try:
        order = CustomerOrder.objects.create(
            pk=number,
            code=code,
            customer=customer,
            ordered_on=ordered_on,
            note=note,
            by=stamp.by,
            recorded_at=stamp.now,
        )
    except IntegrityError as error:
        if "code" not in str(error):
            raise
        raise DuplicateCodeError(
            "An order with this code stands already. Give another code, or none.", codes=[code]
        ) from error
    CustomerOrderLine.objects.bulk_create(
        [
            CustomerOrderLine(
                order=order,
                position=position,
                item=items[line.item_code],
                qty_base=line.pieces,
                price_micro=line.price_micro,
                promised_on=line.promised_on,
            )
            for position, line in enumerate(lines, start=1)
        ]
    )
    audit_change(by=stamp.by, at=stamp.now, row=order, before=None)
    return order


def _refuse_not_pieces(items: Iterable[Item]) -> None:
    for item in items:
        if item.dimension != DimensionKind.COUNT:
            raise NotPiecesError("Only what is counted in pieces is ordered.", item=item.code)


def _refuse_dates(lines: Sequence[OrderLine], ordered_on: date, *, today: date) -> None:
    if ordered_on > today:
        raise DateImpossibleError(
            "The order lies in the future. Give the day it came.",
            ordered_on=ordered_on.isoformat(),
            today=today.isoformat(),
        )
    for position, line in enumerate(lines, start=1):
        if line.promised_on is not None and line.promised_on < ordered_on:
            raise DateImpossibleError(
                "A line is promised for the day of the order or later.",
                line=position,
                ordered_on=ordered_on.isoformat(),
                promised_on=line.promised_on.isoformat(),
            )

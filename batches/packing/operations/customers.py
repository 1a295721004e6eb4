"""Customers, and their orders from entry to end."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from django.db import IntegrityError

from batches.packing.errors import OrderShippedError
from batches.packing.models import (
    Customer,
    CustomerOrder,
    CustomerOrderState,
    ShipmentLine,
)
from batches.packing.steps.ordering import OrderLine, add_order
from batches.packing.steps.orders import end_order, lock_open_order
from inventory.catalog.errors import DuplicateCodeError
from shopfloor.audit import audit_change, facts_of
from shopfloor.codes.alphabet import own_code
from shopfloor.errors import NotFoundError
from shopfloor.operation import operation
from shopfloor.stamp import Stamp

CHANGEABLE = frozenset({"name", "address", "is_active"})


@operation
def create_customer(*, code: str, name: str, address: str = "", stamp: Stamp) -> Customer:
    """Enter a customer.

    Raises:
        OwnCodeError: the code could not be printed or told apart.
        DuplicateCodeError: another customer has it.
    """
    code = own_code(code)
    try:
        customer = Customer.objects.create(code=code, name=name, address=address)
    except IntegrityError as error:
        if "code" not in str(error):
            raise
        raise DuplicateCodeError(
            "A customer with this code stands already. Give another code.", codes=[code]
        ) from error
    audit_change(by=stamp.by, at=stamp.now, row=customer, before=None)
    return customer


@operation
def change_customer(*, customer_code: str, changes: Mapping[str, Any], stamp: Stamp) -> Customer:
    """Change a customer's name or address, or whether we sell to them; the audit keeps what it was.

    Args:
        customer_code: Which.
        changes: New values of `name`, `address`, `is_active`, as far as they change.
        stamp: Who, when.

    Raises:
        NotFoundError: no such customer.
    """
    assert changes.keys() <= CHANGEABLE
    customer = Customer.objects.select_for_update(no_key=True).filter(code=customer_code).first()
    if customer is None:
        raise NotFoundError("No customer has this code. Look at the list.", customer=customer_code)
    before = facts_of(customer)
    for name, value in changes.items():
        setattr(customer, name, value)
    customer.save(update_fields=list(changes))
    audit_change(by=stamp.by, at=stamp.now, row=customer, before=before)
    return customer


@operation
def enter_customer_order(
    *,
    customer_code: str,
    lines: Sequence[OrderLine],
    stamp: Stamp,
    code: str = "",
    ordered_on: date | None = None,
    note: str = "",
) -> CustomerOrder:
    """Enter what a customer ordered.

    Args:
        customer_code: Who.
        lines: What, at least one line.
        stamp: Who entered it.
        code: The shop's own, or empty: one is made.
        ordered_on: The shop's day; None for today.
        note: Anything else.

    Raises:
        NotFoundError: no such customer or item.
        NotActiveError: we no longer sell to them.
        NotPiecesError: an item that is not counted in pieces.
        DateImpossibleError: ordered in the future, or promised before it was ordered.
        OwnCodeError, DuplicateCodeError: of the code.
    """
    return add_order(
        customer_code=customer_code,
        lines=lines,
        stamp=stamp,
        code=code,
        ordered_on=ordered_on,
        note=note,
    )


@operation
def close_customer_order(*, order_code: str, stamp: Stamp) -> CustomerOrder:
    """Close an order though not all was shipped: nothing more is promised; the stamp says why.

    Raises:
        NotFoundError: no such order.
        OrderNotOpenError: it is over already.
        ReasonMissingError: no reason.
    """
    order = lock_open_order(order_code)
    end_order(order, CustomerOrderState.CLOSED, stamp)
    return order


@operation
def cancel_customer_order(*, order_code: str, stamp: Stamp) -> CustomerOrder:
    """Cancel an order of which nothing was shipped; the stamp says why.

    Raises:
        NotFoundError: no such order.
        OrderNotOpenError: it is over already.
        OrderShippedError: something was shipped on it.
        ReasonMissingError: no reason.
    """
    order = lock_open_order(order_code)
    if ShipmentLine.objects.filter(
        shipment__order=order, shipment__posting__reversed_by__isnull=True
    ).exists():
        raise OrderShippedError(
            "Something was shipped on this order. Close it instead.", order=order.code
        )
    end_order(order, CustomerOrderState.CANCELLED, stamp)
    return order

"""Customer orders: locked, and closed as what was shipped answers them."""

from __future__ import annotations

from batches.packing.errors import OrderOfOtherCustomerError
from batches.packing.models import Customer, CustomerOrder, CustomerOrderLine, CustomerOrderState
from batches.packing.selectors.orders import answered_by_line, customer_named
from batches.packing.steps.keeping import keep_change
from inventory.catalog.errors import NotActiveError
from inventory.purchasing.errors import OrderNotOpenError
from shopfloor.audit import facts_of
from shopfloor.errors import NotFoundError
from shopfloor.stamp import Stamp


def active_customer(code: str) -> Customer:
    """A customer that we sell to. One statement.

    Raises:
        NotFoundError: no such customer.
        NotActiveError: we no longer sell to them.
    """
    customer = customer_named(code)
    if not customer.is_active:
        raise NotActiveError(
            "We no longer sell to this customer. Make the customer active first.", customer=code
        )
    return customer


def lock_order(code: str) -> CustomerOrder:
    """Lock one order.

    Raises:
        NotFoundError: no such order.
    """
    order = CustomerOrder.objects.select_for_update(no_key=True).filter(code=code).first()
    if order is None:
        raise NotFoundError("No customer order has this code. Look at the list.", order=code)
    return order


def lock_open_order(code: str) -> CustomerOrder:
    """Lock one order that is not over.

    Raises:
        NotFoundError: no such order.
        OrderNotOpenError: it is closed or cancelled.
    """
    order = lock_order(code)
    if order.state != CustomerOrderState.OPEN:
        raise OrderNotOpenError(
            f"The order is {order.state}. Enter a new one.", order=order.code, state=order.state
        )
    return order


def open_order(code: str, customer: Customer) -> CustomerOrder:
    """Lock a customer's open order.

    Raises:
        NotFoundError, OrderNotOpenError, OrderOfOtherCustomerError: as named.
    """
    order = lock_open_order(code)
    if order.customer_id != customer.pk:
        raise OrderOfOtherCustomerError(
            "This order is another customer's.", order=code, customer=customer.code
        )
    return order


def end_order(order: CustomerOrder, state: CustomerOrderState, stamp: Stamp) -> None:
    """Close or cancel a locked open order with its lines; the stamp says why. Three statements.

    Raises:
        ReasonMissingError: no reason.
    """
    stamp.refuse_no_reason()
    before = facts_of(order)
    order.state = state
    order.save(update_fields=["state"])
    order.lines.filter(is_closed=False).update(is_closed=True)
    keep_change(order, before, stamp)


def settle_order(order: CustomerOrder, stamp: Stamp, *, is_reversal: bool = False) -> None:
    """Close the answered lines of a locked order, and the order when all are.

    At most six statements.

    After a reversed shipment, lines that are no longer answered are open again, and so is the
    order, even if somebody
    had closed it by hand: what it was closed upon never left. A cancelled order stays cancelled.
    """
    if order.state == CustomerOrderState.CANCELLED:
        return
    lines = list(CustomerOrderLine.objects.filter(order=order).order_by("position"))
    shipped = answered_by_line(lines)
    changed = []
    for line in lines:
        is_closed = shipped[line.pk] >= line.qty_base or (line.is_closed and not is_reversal)
        if is_closed != line.is_closed:
            line.is_closed = is_closed
            changed.append(line)
    CustomerOrderLine.objects.bulk_update(changed, ["is_closed"])
    is_answered = all(line.is_closed for line in lines)
    state = CustomerOrderState.CLOSED if is_answered else CustomerOrderState.OPEN
    if state != order.state:
        before = facts_of(order)
        order.state = state
        order.save(update_fields=["state"])
        keep_change(order, before, stamp)

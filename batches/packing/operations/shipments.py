"""What leaves to a customer, and what comes back."""

from __future__ import annotations

from collections.abc import Sequence

from batches.packing.models import CustomerOrder, CustomerReturn, Purpose, Shipment
from batches.packing.selectors.shipments import customer_return_named, shipment_named
from batches.packing.steps.boxes import Part, place_outside_boxes, refuse_twice
from batches.packing.steps.orders import active_customer, lock_order, open_order, settle_order
from batches.packing.steps.returning import Back, take_back, undo_return, undo_shipment
from batches.packing.steps.shipping import (
    LooseLot,
    Price,
    Terms,
    lock_load,
    refuse_unfit,
    send,
    split_loose,
)
from inventory.stock.errors import NothingToDoError
from shopfloor.operation import operation
from shopfloor.stamp import Stamp

__all__ = [
    "Back",
    "LooseLot",
    "Part",
    "Price",
    "Purpose",
    "reverse_customer_return",
    "reverse_shipment",
    "ship",
    "take_back_from_customer",
]


@operation
def ship(
    *,
    customer_code: str,
    stamp: Stamp,
    order_code: str = "",
    box_codes: Sequence[str] = (),
    lots: Sequence[LooseLot] = (),
    prices: Sequence[Price] = (),
    purpose: Purpose = Purpose.SALE,
    carrier: str = "",
) -> Shipment:
    """Ship closed boxes with all in them, and loose lots, as one posting; each lot leaves whole.

    Args:
        customer_code: To whom.
        stamp: Who, when.
        order_code: The order it answers, or empty.
        box_codes: Closed boxes; a box in one of them goes along.
        lots: Lots in no box; of each all, or a part, which is split off first.
        prices: By item; else the order's.
        purpose: Why, where neither the lot nor its item says otherwise.
        carrier: Who takes it, in words.

    Raises:
        NotFoundError: no such customer, order, box or lot.
        NotActiveError, OrderNotOpenError, OrderOfOtherCustomerError: to whom.
        BoxShippedError, BoxNotClosedError, BoxInBoxError, BoxEmptyError, BoxChangedError: of a box.
        LotHeldError, LotQuarantinedError, LotRejectedError, LotExpiredError, LotOverOpenedError,
            LotInBoxError, LotNotOursError, LotShortError, NotPiecesError, LotNotThereYetError,
            LotCountedSinceError,
        BalanceBelowZeroError: of a lot; the facts name it and its box.
        PriceMissingError, NamedTwiceError, NothingToDoError, BooksClosedError: as named.
    """
    if not box_codes and not lots:
        raise NothingToDoError("Name a box or a lot to ship.")
    refuse_twice([lot.lot_code for lot in lots], "lot")
    refuse_twice([price.item_code for price in prices], "item")
    load = lock_load(list(box_codes), [lot.lot_code for lot in lots])
    customer = active_customer(customer_code)
    order = open_order(order_code, customer) if order_code else None
    refuse_unfit(load, stamp)
    loose = split_loose(lots, load.loose, stamp)
    terms = Terms(
        purpose=purpose,
        prices={price.item_code: price for price in prices},
        loose={lot.pk: asked for lot, asked in loose},
        order_lines=[] if order is None else list(order.lines.order_by("position")),
    )
    shipment = send(
        load=load,
        lots=[*load.boxed, *(lot for lot, _ in loose)],
        terms=terms,
        customer=customer,
        order=order,
        carrier=carrier,
        stamp=stamp,
    )
    if order is not None:
        settle_order(order, stamp)
    return shipment


@operation
def reverse_shipment(*, shipment_code: str, stamp: Stamp) -> Shipment:
    """Undo a shipment that never left: its lots are back, its boxes closed, its order open again.

    Lots come under the holds that were placed on what they were made of meanwhile.

    Raises:
        NotFoundError: no such shipment.
        NotReversibleError: reversed before, counted since, or pieces came back already.
        ReasonMissingError: no reason.
    """
    stamp.refuse_no_reason()
    shipment = shipment_named(shipment_code)
    undo_shipment(shipment, stamp)
    if shipment.order is not None:
        order: CustomerOrder = lock_order(shipment.order.code)
        settle_order(order, stamp, is_reversal=True)
    return shipment_named(shipment_code)


@operation
def take_back_from_customer(
    *,
    shipment_code: str,
    lines: Sequence[Back],
    place_code: str,
    stamp: Stamp,
    complaint_code: str = "",
) -> CustomerReturn:
    """Take back pieces of a shipment, quarantined, into the very lots that left.

    They come under the holds that were placed on what they were made of meanwhile. The order stays
    as it is: what the customer gets instead is a shipment of its own. It may name the complaint
    that the pieces come back for.

    Raises:
        NotFoundError: no such shipment, place or complaint.
        ComplaintOfOthersError: the complaint is not of these lots.
        NotShippedError, ReturnTooLargeError, ShipmentReversedError, LotElsewhereError,
            NamedTwiceError: as named.
        NotActiveError: the place is out of use.
        InvalidInputError: before it left, or the place is a box.
        BooksClosedError, LotCountedSinceError: it cannot have been then.
        ReasonMissingError: no reason.
    """
    assert lines
    stamp.refuse_no_reason()
    refuse_twice([line.lot_code for line in lines], "lot")
    place = place_outside_boxes(place_code)
    shipment = shipment_named(shipment_code)
    return take_back(
        shipment=shipment, backs=lines, place=place, stamp=stamp, complaint_code=complaint_code
    )


@operation
def reverse_customer_return(*, posting_code: str, stamp: Stamp) -> CustomerReturn:
    """Undo a return that never came: its pieces are out again, its lots as they were before.

    Raises:
        CodeUnreadableError, CodeTypoError, WrongKindOfCodeError: not the code of a posting.
        NotFoundError: no return has that code.
        NotReversibleError: reversed before, or used, moved or counted since.
        TooEarlyError: the time given is before it.
        ReasonMissingError: no reason.
    """
    stamp.refuse_no_reason()
    undo_return(customer_return_named(posting_code), stamp)
    return customer_return_named(posting_code)

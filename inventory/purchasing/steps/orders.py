"""Writes of supplier orders, inside an open transaction."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from inventory.catalog.errors import DuplicateCodeError
from inventory.catalog.models import Item, Offer, Supplier
from inventory.catalog.rules import pack_price_micro
from inventory.catalog.selectors import (
    items_by_code,
    positive_base,
    refuse_out_of_use,
    shown_amount,
    supplier,
)
from inventory.purchasing.errors import (
    DateImpossibleError,
    OfferUnclearError,
    OrderLineError,
    OrderNotOpenError,
    OrderReceivedError,
    PacksBelowMinimumError,
    PriceMissingError,
)
from inventory.purchasing.models import OrderState, SupplierOrder, SupplierOrderLine
from inventory.purchasing.selectors import lines_with_received
from shopfloor.allocation import next_id
from shopfloor.audit import audit_change
from shopfloor.codes.alphabet import Prefix, encode, own_code
from shopfloor.days import shop_day
from shopfloor.errors import InvalidInputError, NotFoundError
from shopfloor.fields import YEAR_MAX, YEAR_MIN, Amount
from shopfloor.money import VALUE_MICRO_MAX, money_text
from shopfloor.numerals import NumberTooLargeError
from shopfloor.stamp import Stamp
from shopfloor.units import AMOUNT_BASE_MAX, AmountTooLargeError

NOTE_LENGTH_MAX: Final = 300
PACKS_MAX: Final = 10**6


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLineDraft:
    """One line to be ordered.

    Attributes:
        item_code: What.
        packs: How many packs, 1 to `PACKS_MAX`.
        pack: How much is in one. None: as in the supplier's offer, the preferred one if several.
        pack_price_micro: Price of a pack, >= 0, millionths of the currency. None: the offer's.
        promised_on: The day the supplier promised, if any.
    """

    item_code: str
    packs: int
    pack: Amount | None = None
    pack_price_micro: int | None = None
    promised_on: date | None = None


def add_order(
    *,
    supplier_code: str,
    lines: Sequence[OrderLineDraft],
    stamp: Stamp,
    code: str = "",
    ordered_on: date | None = None,
    note: str = "",
) -> SupplierOrder:
    """Write down an order. At most nine statements, whatever the number of lines.

    Args:
        supplier_code: Whom it went to.
        lines: At least one; an item may stand on several.
        stamp: Who and when.
        code: The shop's own number of the order; else one is made.
        ordered_on: The day it went out; else the shop's day of the stamp. Not in the future.
        note: Anything else.

    Raises:
        NotFoundError, NotActiveError: supplier or item.
        OfferUnclearError, PriceMissingError, PacksBelowMinimumError: what the offers say of a line.
        AmountNotPositiveError, UnitMismatchError, FractionOfPieceError: a pack.
        OwnCodeError, DuplicateCodeError: its code.
        DateImpossibleError: ordered in the future, or promised before it was ordered.
        InvalidInputError: no line, too many packs, or a line worth more than any shop has.
    """
    if not lines or len(note) > NOTE_LENGTH_MAX:
        raise InvalidInputError("An order has at least one line, and a short note if any.")
    of_supplier = supplier(supplier_code)
    refuse_out_of_use(of_supplier)
    day = _order_day(ordered_on, stamp)
    rows = _line_rows(of_supplier, lines, day)
    order_id = next_id(SupplierOrder)
    order = SupplierOrder(
        pk=order_id,
        code=_free_code(code) if code else encode(order_id, Prefix.SUPPLIER_ORDER),
        supplier=of_supplier,
        ordered_on=day,
        note=note,
        by=stamp.by,
        recorded_at=stamp.now,
    )
    order.save(force_insert=True)
    for row in rows:
        row.order = order
    SupplierOrderLine.objects.bulk_create(rows)
    audit_change(by=stamp.by, at=stamp.now, row=order, before=None)
    return order


def close_order(*, order_code: str, stamp: Stamp, position: int | None = None) -> SupplierOrder:
    """Expect nothing more on one line of an open order, or on all of it; the stamp says why.

    At most five statements.

    Raises:
        NotFoundError: no such order.
        OrderNotOpenError: the order, or the line, is closed or cancelled.
        OrderLineError: no such line.
        ReasonMissingError: no reason.
    """
    stamp.refuse_no_reason()
    order = lock_open_order(order_code)
    lines = list(order.lines.order_by("position"))
    chosen = lines if position is None else [_open_line(lines, position)]
    before = _open_positions(lines)
    for line in chosen:
        line.is_closed = True
    SupplierOrderLine.objects.bulk_update(chosen, ["is_closed"])
    if not _open_positions(lines):
        order.state = OrderState.CLOSED
        order.save(update_fields=["state"])
    _audit(order, before, _open_positions(lines), stamp)
    return order


def cancel_order(*, order_code: str, stamp: Stamp) -> SupplierOrder:
    """Call off an open order of which nothing came; the stamp says why. Five statements.

    Raises:
        NotFoundError: no such order.
        OrderNotOpenError: it is closed or cancelled.
        OrderReceivedError: something of it came and was not reversed: close it instead.
        ReasonMissingError: no reason.
    """
    stamp.refuse_no_reason()
    order = lock_open_order(order_code)
    lines = list(lines_with_received().filter(order=order).order_by("position"))
    received = [line.position for line in lines if line.received_base]
    if received:
        raise OrderReceivedError(
            "Some of this order came, so it cannot be cancelled. Close it instead.",
            order=order.code,
            lines=received,
        )
    before = _open_positions(lines)
    order.lines.update(is_closed=True)
    order.state = OrderState.CANCELLED
    order.save(update_fields=["state"])
    _audit(order, before, [], stamp)
    return order


def lock_open_order(order_code: str) -> SupplierOrder:
    """Lock an order that something is to happen to. One statement.

    Raises:
        NotFoundError: no such order.
        OrderNotOpenError: it is closed or cancelled.
    """
    orders = SupplierOrder.objects.select_for_update(of=("self",)).select_related("supplier")
    order = orders.filter(code=order_code.strip().upper()).first()
    if order is None:
        raise NotFoundError("No supplier order has this code. Look at the list.", order=order_code)
    if order.state != OrderState.OPEN:
        raise OrderNotOpenError(
            f"The order is {order.state}. Nothing more is expected of it; what still comes is "
            "received without an order.",
            order=order.code,
            state=order.state,
        )
    return order


def _order_day(ordered_on: date | None, stamp: Stamp) -> date:
    today = shop_day(stamp.now)
    day = ordered_on or shop_day(stamp.at)
    if day.year < YEAR_MIN or day > today:
        raise DateImpossibleError(
            f"An order goes out today or before, and not before {YEAR_MIN}.",
            ordered_on=day.isoformat(),
            today=today.isoformat(),
        )
    return day


def _line_rows(
    of_supplier: Supplier, lines: Sequence[OrderLineDraft], ordered_on: date
) -> list[SupplierOrderLine]:
    items = items_by_code(line.item_code for line in lines)
    offers = _offers_of(of_supplier, items)
    rows = []
    for position, line in enumerate(lines, start=1):
        item = items[line.item_code]
        refuse_out_of_use(item)
        if not 1 <= line.packs <= PACKS_MAX:
            raise InvalidInputError(
                f"Order 1 to {PACKS_MAX} packs.", line=position, packs=line.packs
            )
        _refuse_promise(line, ordered_on, position)
        pack_base, price = _pack_and_price(line, item, offers, position)
        _refuse_too_much(line, item, pack_base, price)
        rows.append(
            SupplierOrderLine(
                position=position,
                item=item,
                packs=line.packs,
                pack_base=pack_base,
                pack_price_micro=price,
                promised_on=line.promised_on,
            )
        )
    return rows


def _offers_of(of_supplier: Supplier, items: Mapping[str, Item]) -> dict[int, list[Offer]]:
    """The supplier's active offers of the items, by item id."""
    found: dict[int, list[Offer]] = {}
    offers = Offer.objects.filter(
        supplier=of_supplier, item__in=set(items.values()), is_active=True
    )
    for offer in offers.prefetch_related("prices").order_by("pk"):
        found.setdefault(offer.item_id, []).append(offer)
    return found


def _pack_and_price(
    line: OrderLineDraft, item: Item, offers: Mapping[int, Sequence[Offer]], position: int
) -> tuple[int, int]:
    """Base units in a pack and its price, from the draft or from an offer."""
    of_item = offers.get(item.pk, [])
    if line.pack is None:
        offer = _offer_meant(of_item, item, position)
        pack_base = offer.pack_base
        if line.packs < offer.packs_min:
            raise PacksBelowMinimumError(
                f"The supplier sells {offer.packs_min} packs or more of {item.code}."
                " Order so many, or give pack and price as agreed.",
                line=position,
                packs_min=offer.packs_min,
            )
    else:
        pack_base = positive_base(item, line.pack)
    if line.pack_price_micro is not None:
        return pack_base, line.pack_price_micro
    breaks = [
        (price.packs_from, price.pack_price_micro)
        for offer in of_item
        if offer.pack_base == pack_base
        for price in offer.prices.all()
    ]
    price = pack_price_micro(line.packs, breaks)
    if price is None:
        raise PriceMissingError(
            f"No offer says the price of so many packs of {item.code}. Give the price of a pack.",
            line=position,
            item=item.code,
        )
    return pack_base, price


def _offer_meant(of_item: Sequence[Offer], item: Item, position: int) -> Offer:
    preferred = [offer for offer in of_item if offer.is_preferred]
    candidates = preferred or of_item
    if len(candidates) == 1:
        return candidates[0]
    amounts = [shown_amount(item, offer.pack_base) for offer in of_item]
    raise OfferUnclearError(
        f"Say how much of {item.code} is in a pack: the supplier offers "
        + ("several." if of_item else "none."),
        line=position,
        item=item.code,
        packs=[{"amount": f"{pack.amount:f}", "unit": pack.unit} for pack in amounts],
    )


def _refuse_promise(line: OrderLineDraft, ordered_on: date, position: int) -> None:
    promised_on = line.promised_on
    if promised_on is not None and not (ordered_on <= promised_on and promised_on.year <= YEAR_MAX):
        raise DateImpossibleError(
            "A delivery is promised for the day of the order or later.",
            line=position,
            ordered_on=ordered_on.isoformat(),
            promised_on=promised_on.isoformat(),
        )


def _refuse_too_much(line: OrderLineDraft, item: Item, pack_base: int, price: int) -> None:
    if line.packs * pack_base > AMOUNT_BASE_MAX:
        raise AmountTooLargeError(
            "The packs hold more than any shop can. Check the number and the pack.",
            item=item.code,
            packs=line.packs,
        )
    if not 0 <= line.packs * price <= VALUE_MICRO_MAX:
        raise NumberTooLargeError(
            "The line is worth less than nothing, or more than any shop has. Check the price.",
            item=item.code,
            pack_price=money_text(price),
        )


def _free_code(code: str) -> str:
    """The shop's own number of an order, unless it is taken."""
    own = own_code(code)
    if SupplierOrder.objects.filter(code=own).exists():
        raise DuplicateCodeError(f"The code {own} is taken. Give another, or none.", code=own)
    return own


def _open_line(lines: Sequence[SupplierOrderLine], position: int) -> SupplierOrderLine:
    line = next((line for line in lines if line.position == position), None)
    if line is None:
        raise OrderLineError(
            "The order has no such line.", line=position, lines=[row.position for row in lines]
        )
    if line.is_closed:
        raise OrderNotOpenError("This line is closed already.", line=position)
    return line


def _open_positions(lines: Sequence[SupplierOrderLine]) -> list[int]:
    return [line.position for line in lines if not line.is_closed]


def _audit(order: SupplierOrder, before: list[int], after: list[int], stamp: Stamp) -> None:
    audit_change(
        by=stamp.by,
        at=stamp.now,
        row=order,
        before={"state": OrderState.OPEN.value, "open_lines": before, "reason": ""},
        after={"state": str(order.state), "open_lines": after, "reason": stamp.reason},
    )

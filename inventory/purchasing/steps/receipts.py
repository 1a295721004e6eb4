"""Writes of receipts, inside an open transaction: one posting a delivery, one lot a line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, Final

from inventory.catalog.errors import DuplicateCodeError
from inventory.catalog.models import Item, Place, Supplier
from inventory.catalog.selectors import (
    items_by_code,
    places_by_code,
    positive_base,
    refuse_out_of_use,
    supplier,
)
from inventory.purchasing.errors import (
    ArrivesQuarantinedError,
    DateImpossibleError,
    ExpiryBeforeReceiptError,
    PlaceMissingError,
    PriceMissingError,
    StandsTwiceError,
    ValueOfOthersError,
    WrongSupplierError,
)
from inventory.purchasing.models import (
    OrderState,
    Receipt,
    ReceiptLine,
    SupplierOrder,
    SupplierOrderLine,
)
from inventory.purchasing.rules import delivery_value_micro
from inventory.purchasing.selectors import lines_with_received, receipt
from inventory.purchasing.steps.matching import line_meant
from inventory.purchasing.steps.orders import lock_open_order
from inventory.purchasing.steps.scanned import filled
from inventory.stock.models import Disposition, Lot, OutsideKind, PostingKind
from inventory.stock.steps import Document, Make, Posted, post, reverse_posting
from shopfloor.codes.alphabet import own_code
from shopfloor.days import day_end, shop_day
from shopfloor.errors import InvalidInputError
from shopfloor.fields import Amount
from shopfloor.money import VALUE_MICRO_MAX, money_text
from shopfloor.numerals import NumberTooLargeError
from shopfloor.stamp import Stamp

TEXT_LENGTH_MAX: Final = 60
OWNER_LENGTH_MAX: Final = 120
EXPIRY_YEAR_MAX: Final = 2199


@dataclass(frozen=True, slots=True, kw_only=True)
class ReceiptLineDraft:
    """One lot that came.

    Attributes:
        item_code: What; empty if the label that was scanned says it.
        amount: How much, in any unit that can be turned into the item's; None likewise.
        order_position: The line of the order that it answers. None: the one open line of the order
            with this item, if there is one.
        value_micro: What all of it cost, >= 0, millionths of the currency. None: at the price of
            the order line.
        lot_code: The shop's own code; else one is made.
        supplier_lot_code: The supplier's.
        expires_on: The last day it may be used. None: the item's shelf life from the day it came.
        place_code: Where it is put; else the item's storage place.
        disposition: "quarantined" to have it wait for a test; else as the item arrives.
        owner: Whose it is, if a customer's; then it has no value.
        scan: The supplier's GS1 label; what was typed must agree with it.
    """

    item_code: str = ""
    amount: Amount | None = None
    order_position: int | None = None
    value_micro: int | None = None
    lot_code: str = ""
    supplier_lot_code: str = ""
    expires_on: date | None = None
    place_code: str = ""
    disposition: str = ""
    owner: str = ""
    scan: str = ""


@dataclass(slots=True)
class _Arriving:
    """A draft with all it names looked up."""

    number: int
    draft: ReceiptLineDraft
    item: Item
    place: Place
    qty_base: int
    order_line: Any = None
    value_micro: int = 0


def add_receipt(
    *,
    supplier_code: str,
    lines: Sequence[ReceiptLineDraft],
    stamp: Stamp,
    order_code: str = "",
    delivery_note: str = "",
) -> Receipt:
    """Write down a delivery: one posting, a new lot for each line. At most 19 statements.

    More than was ordered is taken in like anything else that came; a line closes once all of it
    came, and the order once all its lines are closed.

    Args:
        supplier_code: Who delivered.
        lines: At least one.
        stamp: Who recorded it and when it came.
        order_code: The order it answers, if any.
        delivery_note: The number on the paper that came with it.

    Raises:
        NotFoundError, NotActiveError: supplier, item or place.
        WrongSupplierError, OrderNotOpenError, DateImpossibleError: the order.
        OrderLineError: no such line, one of another item, or several that it could be.
        AmountNotPositiveError, UnitMismatchError, FractionOfPieceError: an amount.
        PriceMissingError: neither a value nor an order line that says one.
        ValueOfOthersError: a value, or an order line, for a lot of a customer.
        PlaceMissingError, ArrivesQuarantinedError, ExpiryBeforeReceiptError: as named.
        OwnCodeError, DuplicateCodeError: a lot code.
        LabelEmptyError, LabelItemUnknownError, LabelAmountMissingError, LabelDiffersError: a scan.
        BooksClosedError: the books are closed through that day.
    """
    if not lines or len(delivery_note) > TEXT_LENGTH_MAX:
        raise InvalidInputError("A delivery has at least one line, and a short number if any.")
    by_supplier = supplier(supplier_code)
    refuse_out_of_use(by_supplier)
    order = _order(order_code, by_supplier, stamp) if order_code else None
    lines = filled(lines, supplier=by_supplier, on=shop_day(stamp.at))
    arriving = _look_up(lines)
    order_lines = (
        list(lines_with_received().filter(order=order).order_by("position")) if order else []
    )
    _match(arriving, order_lines)
    codes = _lot_codes(lines)
    posted = post(
        kind=PostingKind.RECEIVED,
        stamp=stamp,
        makes=[
            _make(line, code, by_supplier, stamp)
            for line, code in zip(arriving, codes, strict=True)
        ],
        outside_kind=OutsideKind.PURCHASE,
        document=_document(order, delivery_note),
    )
    written = Receipt.objects.create(
        posting=posted.posting, supplier=by_supplier, order=order, delivery_note=delivery_note
    )
    ReceiptLine.objects.bulk_create(
        [
            ReceiptLine(
                receipt=written, lot=lot, order_line=line.order_line, qty_base=line.qty_base
            )
            for line, lot in zip(arriving, posted.made, strict=True)
        ]
    )
    if order is not None:
        _close_received(order, order_lines)
    return written


def undo_receipt(*, receipt_code: str, stamp: Stamp) -> Posted:
    """Reverse a receipt whose lots are untouched; the stamp says why. At most 16 statements.

    The order lines it answered are open again where less than ordered has come, and with them
    their order. Its lot codes stay taken: the lots are history.

    Raises:
        NotFoundError: no such receipt.
        NotReversibleError: it was reversed before, or a lot of it was used, moved or counted.
        ReasonMissingError: no reason.
    """
    stamp.refuse_no_reason()
    undone = receipt(receipt_code)
    posted = reverse_posting(undone.posting, stamp)
    if undone.order_id is not None:
        _reopen(undone)
    return posted


def _order(order_code: str, by_supplier: Supplier, stamp: Stamp) -> SupplierOrder:
    order = lock_open_order(order_code)
    if order.supplier_id != by_supplier.pk:
        raise WrongSupplierError(
            f"The order went to {order.supplier.code}. Compare it with the delivery note.",
            order=order.code,
            ordered_from=order.supplier.code,
            supplier=by_supplier.code,
        )
    if shop_day(stamp.at) < order.ordered_on:
        raise DateImpossibleError(
            "The order went out after this came. Check both days, or receive it without the order.",
            order=order.code,
            ordered_on=order.ordered_on.isoformat(),
            received_on=shop_day(stamp.at).isoformat(),
        )
    return order


def _look_up(lines: Sequence[ReceiptLineDraft]) -> list[_Arriving]:
    items = items_by_code(line.item_code for line in lines)
    places = places_by_code(line.place_code for line in lines if line.place_code)
    arriving = []
    for number, draft in enumerate(lines, start=1):
        item = items[draft.item_code]
        refuse_out_of_use(item)
        place = places[draft.place_code] if draft.place_code else item.storage_place
        if place is None:
            raise PlaceMissingError(
                f"{item.code} has no storage place. Say where it is put.",
                line=number,
                item=item.code,
            )
        refuse_out_of_use(place)
        _refuse_long(draft, number)
        assert draft.amount is not None, "typed, or filled in from the label"
        arriving.append(
            _Arriving(number, draft, item, place, qty_base=positive_base(item, draft.amount))
        )
    return arriving


def _refuse_long(draft: ReceiptLineDraft, number: int) -> None:
    """On every database alike: one of the two does not mind the length of a text."""
    if len(draft.supplier_lot_code) > TEXT_LENGTH_MAX or len(draft.owner) > OWNER_LENGTH_MAX:
        raise InvalidInputError(
            f"A supplier's lot code has at most {TEXT_LENGTH_MAX} characters, an owner's name "
            f"{OWNER_LENGTH_MAX}.",
            line=number,
        )


def _match(arriving: Sequence[_Arriving], order_lines: Sequence[Any]) -> None:
    """Give each line its order line and its value; counts what came on the order lines along."""
    for line in arriving:
        if line.draft.owner:
            _refuse_value_of_others(line)
            continue
        line.order_line = line_meant(
            order_lines, item=line.item, position=line.draft.order_position, number=line.number
        )
        line.value_micro = _value_micro(line)
        if line.order_line is not None:
            line.order_line.received_base += line.qty_base


def _refuse_value_of_others(line: _Arriving) -> None:
    if line.draft.value_micro or line.draft.order_position is not None:
        raise ValueOfOthersError(
            "A lot of a customer has no value here and answers no order of ours.",
            line=line.number,
            owner=line.draft.owner,
        )


def _value_micro(line: _Arriving) -> int:
    value = line.draft.value_micro
    if value is None and line.order_line is not None:
        value = delivery_value_micro(
            before_base=line.order_line.received_base,
            now_base=line.qty_base,
            pack_base=line.order_line.pack_base,
            pack_price_micro=line.order_line.pack_price_micro,
        )
    if value is None:
        raise PriceMissingError(
            f"Say what {line.item.code} cost: no order line says it. 0 if it came free.",
            line=line.number,
            item=line.item.code,
        )
    if not 0 <= value <= VALUE_MICRO_MAX:
        raise NumberTooLargeError(
            "The line is worth less than nothing, or more than any shop has. Check it.",
            line=line.number,
            value=money_text(value),
        )
    return value


def _lot_codes(lines: Sequence[ReceiptLineDraft]) -> list[str]:
    """The shop's own lot codes in their one form, empty where one is made.

    Raises:
        StandsTwiceError, DuplicateCodeError: a code is not free.
    """
    codes = [own_code(line.lot_code) if line.lot_code else "" for line in lines]
    given = [code for code in codes if code]
    twice = sorted({code for code in given if given.count(code) > 1})
    if twice:
        raise StandsTwiceError("A lot code stands twice in the delivery.", lots=twice)
    taken = (
        sorted(Lot.objects.filter(code__in=given).values_list("code", flat=True)) if given else []
    )
    if taken:
        raise DuplicateCodeError(
            "A lot with this code stands already. Give another code, or none.", codes=taken
        )
    return codes


def _make(line: _Arriving, code: str, by_supplier: Supplier, stamp: Stamp) -> Make:
    return Make(
        item_id=line.item.pk,
        place_id=line.place.pk,
        qty_base=line.qty_base,
        value_micro=line.value_micro,
        code=code,
        owner=line.draft.owner,
        disposition=_disposition(line),
        supplier_id=by_supplier.pk,
        supplier_lot_code=line.draft.supplier_lot_code,
        expires_at=_expires_at(line, stamp),
    )


def _disposition(line: _Arriving) -> str:
    asked, usual = line.draft.disposition or line.item.arrives, line.item.arrives
    if asked not in {Disposition.RELEASED, Disposition.QUARANTINED}:
        raise InvalidInputError(
            "What comes is released or quarantined.", line=line.number, disposition=asked[:20]
        )
    if asked == Disposition.RELEASED and usual == Disposition.QUARANTINED:
        raise ArrivesQuarantinedError(
            f"{line.item.code} waits for its test whenever it comes. Release the lot after it.",
            line=line.number,
            item=line.item.code,
        )
    return asked


def _expires_at(line: _Arriving, stamp: Stamp) -> datetime | None:
    """The end of its last day, the shop's day."""
    received_on, expires_on = shop_day(stamp.at), line.draft.expires_on
    if expires_on is None:
        if line.item.shelf_life_days is None:
            return None
        return day_end(received_on + timedelta(days=line.item.shelf_life_days))
    if expires_on < received_on:
        raise ExpiryBeforeReceiptError(
            "It had expired before it came. Check the date; if it is right, send it back.",
            line=line.number,
            expires_on=expires_on.isoformat(),
            received_on=received_on.isoformat(),
        )
    if expires_on.year > EXPIRY_YEAR_MAX:
        raise DateImpossibleError(
            "Nothing lasts that long. Check the year, or leave the day out.",
            line=line.number,
            expires_on=expires_on.isoformat(),
        )
    return day_end(expires_on)


def _document(order: SupplierOrder | None, delivery_note: str) -> Document:
    """The paper behind the posting; the receipt's own code comes from the posting's number."""
    if order is not None:
        return Document("supplier_order", order.code)
    return Document("delivery_note", delivery_note) if delivery_note else Document("receipt")


def _close_received(order: SupplierOrder, order_lines: Sequence[Any]) -> None:
    full = [
        line
        for line in order_lines
        if not line.is_closed and line.received_base >= line.packs * line.pack_base
    ]
    for line in full:
        line.is_closed = True
    if full:
        SupplierOrderLine.objects.filter(pk__in=[line.pk for line in full]).update(is_closed=True)
    if all(line.is_closed for line in order_lines):
        order.state = OrderState.CLOSED
        order.save(update_fields=["state"])


def _reopen(undone: Receipt) -> None:
    """Open the order lines that a reversed receipt had answered."""
    order = SupplierOrder.objects.select_for_update(of=("self",)).get(receipts=undone)
    answered = [line.order_line_id for line in undone.lines.all() if line.order_line_id is not None]
    lines = lines_with_received().filter(pk__in=answered, is_closed=True)
    short = [line.pk for line in lines if line.received_base < line.packs * line.pack_base]
    if not short:
        return
    SupplierOrderLine.objects.filter(pk__in=short).update(is_closed=False)
    order.state = OrderState.OPEN
    order.save(update_fields=["state"])

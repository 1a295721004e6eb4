"""What leaves: boxes with all in them, loose lots, prices, and the one posting for it all."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import Q

from batches.packing.errors import (
    BoxEmptyError,
    BoxInBoxError,
    BoxNotClosedError,
    BoxShippedError,
    LotInBoxError,
    NotPiecesError,
)
from batches.packing.models import (
    Box,
    BoxState,
    Customer,
    CustomerOrder,
    CustomerOrderLine,
    Purpose,
    Shipment,
    ShipmentLine,
)
from batches.packing.selectors.boxes import boxes_inside
from batches.packing.selectors.orders import ANSWERING, answered_by_line
from batches.packing.steps.boxes import lots_in, refuse_changed, refuse_not_there
from batches.packing.steps.locking import lock_boxes_by_id, lock_lots_there_by_id
from batches.runs.errors import LotNotOursError
from inventory.catalog.models import DimensionKind, PlaceKind
from inventory.purchasing.errors import PriceMissingError
from inventory.stock.models import Lot, OutsideKind, PostingKind
from inventory.stock.steps import Document, post, refuse_unusable, split_lot, take
from shopfloor.errors import ConflictError, NotFoundError
from shopfloor.stamp import Stamp


@dataclass(frozen=True, slots=True)
class LooseLot:
    """A lot that leaves in no box of ours.

    Attributes:
        lot_code: Which.
        pieces: How many of it; None: all.
        price_micro: For one; None: the price of its item.
        purpose: None: that of its item, else of the shipment.
    """

    lot_code: str
    pieces: int | None = None
    price_micro: int | None = None
    purpose: Purpose | None = None


@dataclass(frozen=True, slots=True)
class Price:
    """What one piece of an item costs this customer this time, and why it leaves."""

    item_code: str
    price_micro: int
    purpose: Purpose | None = None


@dataclass(frozen=True, slots=True)
class Load:
    """Locked boxes and lots that are to leave.

    Attributes:
        boxes: Every box, those in boxes too, by the id of its place.
        boxed: The lots in them.
        loose: Lots by code, not yet split.
    """

    boxes: dict[int, Box]
    boxed: list[Lot]
    loose: dict[str, Lot]


def lock_load(box_codes: Sequence[str], lot_codes: Sequence[str]) -> Load:
    """Find and lock all that is to leave: lots first, then boxes. At most ten statements.

    Raises:
        NotFoundError: no such box or lot.
        BoxShippedError: a box left before.
        BoxChangedError: somebody packed in between.
    """
    roots = dict(Box.objects.filter(code__in=box_codes).values_list("code", "pk"))
    _refuse_unknown("box", box_codes, roots)
    box_ids = set().union(*boxes_inside(roots.values()).values())
    places = Box.objects.filter(pk__in=box_ids).values("place_id")
    found = Lot.objects.filter(Q(place__in=places, on_hand_base__gt=0) | Q(code__in=lot_codes))
    ids = dict(found.values_list("code", "pk"))
    _refuse_unknown("lot", lot_codes, ids)
    lots = lock_lots_there_by_id(ids.values())
    boxes = {box.place_id: box for box in lock_boxes_by_id(box_ids)}
    _refuse_shipped(boxes.values())
    boxed = [lot for lot in lots.values() if lot.place_id in boxes]
    refuse_changed(box_ids, set().union(*boxes_inside(roots.values()).values()))
    refuse_changed({lot.pk for lot in boxed}, lots_in(boxes))
    loose = {lot.code: lot for lot in lots.values() if lot.code in set(lot_codes)}
    return Load(boxes=boxes, boxed=boxed, loose=loose)


def _refuse_shipped(boxes: Iterable[Box]) -> None:
    shipped = [box.code for box in boxes if box.state == BoxState.SHIPPED]
    if shipped:
        raise BoxShippedError("This box was shipped before.", boxes=shipped)


def _refuse_unknown(noun: str, codes: Iterable[str], found: dict[str, int]) -> None:
    missing = sorted(set(codes) - found.keys())
    if missing:
        raise NotFoundError(f"No {noun} has this code. Check it, or scan it again.", codes=missing)


def refuse_unfit(load: Load, stamp: Stamp) -> None:
    """Refuse a load that may not leave. No statement unless it is backdated.

    Raises:
        BoxNotClosedError, BoxInBoxError, BoxEmptyError: of a box.
        LotHeldError, LotQuarantinedError, LotRejectedError, LotExpiredError, LotOverOpenedError: of
            a lot; the facts
            name the box it is in.
        LotInBoxError, LotNotOursError, NotPiecesError: of a lot.
    """
    _refuse_boxes(load)
    for lot in load.loose.values():
        if lot.place.kind == PlaceKind.BOX:
            raise LotInBoxError(
                "This lot is in a box. Ship the box, or take the lot out.",
                lot=lot.code,
                box=lot.place.code,
            )
    lots = [*load.boxed, *load.loose.values()]
    for lot in lots:
        facts = {"lot": lot.code, "box": _box_code(load, lot)}
        if lot.owner:
            raise LotNotOursError(
                "This lot belongs to somebody else. Take it out.", **facts, owner=lot.owner
            )
        if lot.item.dimension != DimensionKind.COUNT:
            raise NotPiecesError(
                "Only what is counted in pieces is shipped.", **facts, item=lot.item.code
            )
    try:
        refuse_unusable(lots, stamp.at)
    except ConflictError as refused:
        boxes = {lot.code: _box_code(load, lot) for lot in lots}
        refused.facts["box"] = boxes.get(str(refused.facts.get("lot")))
        raise


def _box_code(load: Load, lot: Lot) -> str | None:
    box = load.boxes.get(lot.place_id)
    return None if box is None else box.code


def _refuse_boxes(load: Load) -> None:
    boxes = {box.pk: box for box in load.boxes.values()}
    filled = {load.boxes[lot.place_id].pk for lot in load.boxed}
    filled |= {box.parent_id for box in boxes.values() if box.parent_id is not None}
    for box in boxes.values():
        if box.state != BoxState.CLOSED:
            raise BoxNotClosedError("This box is still open. Close it first.", box=box.code)
        if box.parent is not None and box.parent_id not in boxes:
            raise BoxInBoxError(
                "This box stands in another one. Ship that one, or take this one out of it.",
                box=box.code,
                parent=box.parent.code,
            )
        if box.pk not in filled:
            raise BoxEmptyError("This box is empty. Leave it here.", box=box.code)


def split_loose(
    loose: Sequence[LooseLot], lots: dict[str, Lot], stamp: Stamp
) -> list[tuple[Lot, LooseLot]]:
    """Split off what leaves of each loose lot, so that a shipped lot always leaves whole.

    A part costs one posting of its own, see `put_lots`.

    Returns:
        The lots that leave, each with what was asked for it.

    Raises:
        LotShortError, LotNotThereYetError: as named.
    """
    leaving = []
    for asked in loose:
        lot = lots[asked.lot_code]
        refuse_not_there(lot, asked.pieces, stamp)
        if asked.pieces is not None and asked.pieces < lot.on_hand_base:
            lot = split_lot(lot, asked.pieces, stamp)
        leaving.append((lot, asked))
    return leaving


@dataclass(frozen=True, slots=True)
class Terms:
    """What decides the price and purpose of each lot.

    Attributes:
        purpose: Of the shipment.
        prices: By item code.
        loose: What was asked for a loose lot, by lot id.
        order_lines: The order's lines, first one first.
    """

    purpose: Purpose
    prices: dict[str, Price]
    loose: dict[int, LooseLot]
    order_lines: Sequence[CustomerOrderLine]

    def purpose_of(self, lot: Lot) -> Purpose:
        """Why a lot leaves: the lot's own purpose, else the item's, else the shipment's."""
        asked, price = self.loose.get(lot.pk), self.prices.get(lot.item.code)
        own = None if asked is None else asked.purpose
        return own or (None if price is None else price.purpose) or self.purpose

    def price_of(self, lot: Lot, purpose: Purpose, answered: Sequence[CustomerOrderLine]) -> int:
        """Price for one, in millionths of the currency.

        The lot's own, else the item's, else the order's; what is not sold costs nothing unless a
        price is given.

        Args:
            lot: What leaves.
            purpose: Why.
            answered: The order lines that it answers.

        Raises:
            PriceMissingError: a sale without a price, or of lines with different ones.
        """
        asked, price = self.loose.get(lot.pk), self.prices.get(lot.item.code)
        if asked is not None and asked.price_micro is not None:
            return asked.price_micro
        if price is not None:
            return price.price_micro
        if purpose != Purpose.SALE:
            return 0
        ordered = {line.price_micro for line in answered}
        if len(ordered) != 1:
            why = "the lot answers order lines of different prices" if ordered else "none is known"
            raise PriceMissingError(
                f"Give a price for this item: {why}.",
                item=lot.item.code,
                lot=lot.code,
                order_lines=[line.position for line in answered],
            )
        return ordered.pop()


def send(
    *,
    load: Load,
    lots: Sequence[Lot],
    terms: Terms,
    customer: Customer,
    order: CustomerOrder | None,
    carrier: str,
    stamp: Stamp,
) -> Shipment:
    """Post the lots out as one event and write the shipment. At most nine statements.

    Raises:
        PriceMissingError, LotShortError, BooksClosedError, LotNotThereYetError,
            LotCountedSinceError,
        BalanceBelowZeroError: as named.
    """
    lines = []
    waiting = _Waiting(terms.order_lines)
    for lot in lots:
        purpose = terms.purpose_of(lot)
        answered = waiting.answered_by(lot) if purpose in ANSWERING else []
        lines.append(
            ShipmentLine(
                lot=lot,
                box=load.boxes.get(lot.place_id),
                order_line=answered[0] if answered else None,
                qty_base=lot.on_hand_base,
                price_micro=terms.price_of(lot, purpose, answered),
                purpose=purpose,
            )
        )
    paper = (
        Document("customer", customer.code)
        if order is None
        else Document("customer_order", order.code)
    )
    posted = post(
        kind=PostingKind.SHIPPED,
        stamp=stamp,
        changes=[take(lot, lot.on_hand_base) for lot in lots],
        outside_kind=OutsideKind.COST_OF_GOODS,
        document=paper,
    )
    shipment = Shipment.objects.create(
        posting=posted.posting, customer=customer, order=order, carrier=carrier
    )
    for line in lines:
        line.shipment = shipment
    ShipmentLine.objects.bulk_create(lines)
    Box.objects.filter(pk__in=[box.pk for box in load.boxes.values()]).update(
        state=BoxState.SHIPPED
    )
    return shipment


class _Waiting:
    """Pieces that each line of an order still waits for, while lots are given to lines."""

    def __init__(self, lines: Sequence[CustomerOrderLine]) -> None:
        self._lines = lines
        shipped = answered_by_line(lines) if lines else {}
        self._rest = {line.pk: line.qty_base - shipped[line.pk] for line in lines}

    def answered_by(self, lot: Lot) -> list[CustomerOrderLine]:
        """The lines of its item that a lot fills, first one first; the pieces come off.

        The last line takes what is too many.
        """
        same = [line for line in self._lines if line.item_id == lot.item_id]
        filled = []
        pieces = lot.on_hand_base
        for line in same:
            taken = min(pieces, max(self._rest[line.pk], 0))
            self._rest[line.pk] -= taken
            pieces -= taken
            if taken:
                filled.append(line)
        return filled or same[-1:]

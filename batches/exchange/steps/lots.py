"""Opening stock, deliveries, and what happened to a lot by hand."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType
from typing import Final

from batches.exchange.rules.reading import Row
from batches.exchange.steps.rowing import Importing, amount_in, refusals_of
from batches.packing.errors import LotInBoxError
from batches.packing.steps.boxes import place_outside_boxes
from inventory.catalog.models import PlaceKind
from inventory.catalog.selectors import positive_base
from inventory.purchasing.steps.receipts import ReceiptLineDraft, add_receipt
from inventory.stock.errors import (
    LotNotThereYetError,
    LotOpenedBeforeError,
    NothingToDoError,
    WrongDispositionError,
)
from inventory.stock.models import Disposition, Grade, Hold, Lot, OutsideKind, PostingKind
from inventory.stock.steps import change_place, lock_lots_by_id, open_whole, post, split_lot, take
from inventory.stock.steps.holding import end_hold, place_hold, set_disposition
from inventory.stock.steps.opening import OpeningLot, post_opening_lots
from inventory.stock.steps.refusals import refuse_closed_books
from shopfloor.days import day_end
from shopfloor.stamp import Stamp


def post_opening(importing: Importing) -> None:
    """A posting a row, so that a refusal names it."""
    for row in importing.each("opening_lots"):
        expires_on = row["expires_on"]
        lot = OpeningLot(
            item_code=row["item"],
            qty_base=importing.qty_base(row["item"], row["amount"], row["unit"]),
            value_micro=row["value"] or 0,
            place_code=row["place"] or "",
            lot_code=row["lot"] or "",
            supplier_code=row["supplier"] or "",
            supplier_lot_code=row["supplier_lot"] or "",
            expires_at=None if expires_on is None else day_end(expires_on),
            disposition=row["disposition"] or Disposition.RELEASED,
            grade=row["grade"] or Grade.FIRST,
            owner=row["owner"] or "",
        )
        with refusals_of(row):
            post_opening_lots(lots=[lot], stamp=importing.stamp(row["at"]))


def post_receipt(rows: Sequence[Row], importing: Importing) -> None:
    """One delivery."""
    head = rows[0]
    with refusals_of(head):
        add_receipt(
            supplier_code=head["supplier"],
            lines=[_line(row) for row in rows],
            stamp=importing.stamp(head["at"]),
            order_code=head["order"] or "",
            delivery_note=head["receipt"],
        )


def _line(row: Row) -> ReceiptLineDraft:
    amount = amount_in(row)
    assert amount is not None
    return ReceiptLineDraft(
        item_code=row["item"],
        amount=amount,
        value_micro=row["value"],
        lot_code=row["lot"] or "",
        supplier_lot_code=row["supplier_lot"] or "",
        expires_on=row["expires_on"],
        place_code=row["place"] or "",
    )


def post_lot_event(rows: Sequence[Row], importing: Importing) -> None:
    """One thing that happened to a lot by hand."""
    (row,) = rows
    stamp = importing.stamp(row["at"], row["reason"] or "")
    with refusals_of(row):
        for lot in _locked(row, importing, stamp):
            amount = amount_in(row)
            qty_base = None if amount is None else positive_base(lot.item, amount)
            _EVENTS[row["event"]](lot, qty_base, row, stamp)


def _locked(row: Row, importing: Importing, stamp: Stamp) -> list[Lot]:
    """The lots that a row means; several where a batch made several."""
    meant = importing.lots.lots(row["lot"], stamp.at)
    lots = list(lock_lots_by_id(lot.pk for lot in meant).values())
    if row["event"] == "release":
        # Of several that a batch made, some may have been stopped.
        lots = [lot for lot in lots if lot.disposition != Disposition.RELEASED] or lots
    early = [lot for lot in lots if lot.born_at > stamp.at]
    if early:
        raise LotNotThereYetError(
            "The lot came in after the time given.",
            lots=[{"lot": lot.code, "came_in_at": lot.born_at.isoformat()} for lot in early],
        )
    return lots


def _open(lot: Lot, qty_base: int | None, _: Row, stamp: Stamp) -> None:
    if lot.opened_at is not None:
        raise LotOpenedBeforeError(
            "This lot was opened before.", opened_at=lot.opened_at.isoformat()
        )
    refuse_closed_books(stamp, locked=lot)
    if qty_base is not None and qty_base != lot.on_hand_base:
        lot = split_lot(lot, qty_base, stamp)
    open_whole(lot, stamp)


def _hold(lot: Lot, _: int | None, __: Row, stamp: Stamp) -> None:
    if lot.disposition == Disposition.REJECTED:
        raise WrongDispositionError("A rejected lot is stopped already.")
    place_hold(lot, stamp)


def _release(lot: Lot, _: int | None, __: Row, stamp: Stamp) -> None:
    """End the one hold that was placed on this very lot, or its quarantine."""
    holds = list(Hold.objects.filter(held_lots__lot=lot, release__isnull=True).order_by("pk"))
    if not holds:
        waiting = [Disposition.QUARANTINED, Disposition.REJECTED]
        set_disposition(lot, Disposition.RELEASED, stamp, allowed_from=waiting)
    elif [hold.lot_id for hold in holds] == [lot.pk] and lot.disposition == Disposition.HELD:
        end_hold(holds[0], stamp)
    else:
        raise WrongDispositionError(
            "Holds of other lots keep this one. Release them first.",
            holds=[hold.code for hold in holds],
        )


def _move(lot: Lot, qty_base: int | None, row: Row, stamp: Stamp) -> None:
    place = place_outside_boxes(row["place"])
    if lot.place.kind == PlaceKind.BOX:
        raise LotInBoxError("The lot is in a box.", box=lot.place.code)
    if qty_base is not None and qty_base != lot.on_hand_base:
        split_lot(lot, qty_base, stamp, place=place)
    elif lot.place_id == place.pk:
        raise NothingToDoError("The lot is there already.")
    else:
        change_place(lot, place, stamp)


def _dispose(lot: Lot, qty_base: int | None, _: Row, stamp: Stamp) -> None:
    if not lot.on_hand_base:
        raise NothingToDoError("Nothing is left of the lot.")
    post(
        kind=PostingKind.DISPOSED,
        stamp=stamp,
        changes=[take(lot, lot.on_hand_base if qty_base is None else qty_base)],
        outside_kind=OutsideKind.LOSS,
    )


_EVENTS: Final[Mapping[str, Callable[[Lot, int | None, Row, Stamp], None]]] = MappingProxyType(
    {"open": _open, "hold": _hold, "release": _release, "move": _move, "dispose": _dispose}
)

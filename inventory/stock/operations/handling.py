"""What happens to one lot by hand.

Opened, split, moved, held, released, rejected, disposed of, its expiry extended.
"""

from __future__ import annotations

from datetime import datetime

from inventory.catalog.models import Place, PlaceKind
from inventory.stock.errors import (
    LotOpenedBeforeError,
    NothingToDoError,
    TooEarlyError,
    WrongDispositionError,
)
from inventory.stock.models import (
    Disposition,
    EventKind,
    Hold,
    Lot,
    LotEvent,
    OutsideKind,
    PostingKind,
)
from inventory.stock.steps.holding import end_hold, place_hold, set_disposition
from inventory.stock.steps.lots import change_place, lock_lots, note_event, open_whole, split_lot
from inventory.stock.steps.posting import Posted, post, take
from inventory.stock.steps.refusals import refuse_closed_books, refuse_not_there_yet
from shopfloor.codes.alphabet import Prefix, decode
from shopfloor.errors import ConflictError, InvalidInputError, NotFoundError
from shopfloor.operation import operation
from shopfloor.stamp import Stamp


class PlaceNotActiveError(InvalidInputError):
    """The place is out of use."""

    code = "place_not_active"


class BoxPlaceError(ConflictError):
    """What is in a box goes in and out by packing alone."""

    code = "box_place"


@operation
def split_off(*, lot_code: str, qty_base: int, stamp: Stamp, place_code: str = "") -> Lot:
    """Make part of a lot a lot of its own, `PARENT.n`; with a place, there.

    Raises:
        NotFoundError: no such lot or place.
        LotShortError: the part is not less than the whole.
        BooksClosedError, LotNotThereYetError, LotCountedSinceError, BalanceBelowZeroError: it
            cannot have been then.
    """
    place = _place(place_code) if place_code else None
    lot = _lock(lot_code, stamp)
    if place is not None:
        _refuse_boxed(lot)
    return split_lot(lot, qty_base, stamp, place=place)


@operation
def move_lot(*, lot_code: str, place_code: str, stamp: Stamp, qty_base: int | None = None) -> Lot:
    """Put a lot, or part of it, somewhere else; part of it becomes a lot of its own.

    Returns:
        The lot at the new place.

    Raises:
        NotFoundError, LotShortError, BooksClosedError, LotNotThereYetError: as for a split.
        NothingToDoError: the whole lot is there already.
        BoxPlaceError: the lot is in a box, or the place is one.
    """
    place = _place(place_code)
    lot = _lock(lot_code, stamp)
    _refuse_boxed(lot)
    if qty_base is not None and qty_base != lot.on_hand_base:
        return split_lot(lot, qty_base, stamp, place=place)
    if lot.place_id == place.pk:
        raise NothingToDoError("The lot is there already.", lot=lot.code, place=place.code)
    change_place(lot, place, stamp)
    return lot


@operation
def open_lot(*, lot_code: str, stamp: Stamp, qty_base: int | None = None) -> Lot:
    """Open a container: a whole lot, or one container of it, which becomes a lot of its own.

    Raises:
        LotOpenedBeforeError: it is open already.
        NotFoundError, LotShortError, BooksClosedError, LotNotThereYetError: as for a split.
    """
    lot = _lock(lot_code, stamp)
    if lot.opened_at is not None:
        raise LotOpenedBeforeError(
            "This lot was opened before.", lot=lot.code, opened_at=lot.opened_at.isoformat()
        )
    refuse_closed_books(stamp, locked=lot)
    if qty_base is not None and qty_base != lot.on_hand_base:
        lot = split_lot(lot, qty_base, stamp)
    open_whole(lot, stamp)
    return lot


@operation
def hold_lot(*, lot_code: str, stamp: Stamp) -> Hold:
    """Hold a lot and everything it flowed into that is still ours.

    Raises:
        NotFoundError: no such lot.
        ReasonMissingError: no reason.
        WrongDispositionError: it was rejected; a rejected lot is stopped for good.
    """
    stamp.refuse_no_reason()
    lot = _lock(lot_code, stamp)
    if lot.disposition == Disposition.REJECTED:
        raise WrongDispositionError(
            "A rejected lot is stopped already.", lot=lot.code, disposition=lot.disposition
        )
    return place_hold(lot, stamp)


@operation
def release_hold(*, hold_code: str, stamp: Stamp) -> list[Lot]:
    """End one hold; lots that no other hold has go back to what they were.

    Raises:
        NotFoundError: no such hold.
        HoldEndedError: it was released before.
        ReasonMissingError: no reason.
    """
    stamp.refuse_no_reason()
    hold = Hold.objects.filter(pk=decode(hold_code, Prefix.HOLD)[1]).first()
    if hold is None:
        raise NotFoundError("No hold has this code.", hold=hold_code)
    return end_hold(hold, stamp)


@operation
def release_lot(*, lot_code: str, stamp: Stamp) -> Lot:
    """Release a quarantined or rejected lot, or end the one hold that was placed on this very lot.

    Raises:
        NotFoundError: no such lot.
        WrongDispositionError: it is released already, or other holds keep it: the facts name them.
        ReasonMissingError: no reason.
    """
    stamp.refuse_no_reason()
    lot = _lock(lot_code, stamp)
    holds = list(
        Hold.objects.filter(held_lots__lot=lot, release__isnull=True)
        .select_related("lot")
        .order_by("pk")
    )
    if not holds:
        set_disposition(
            lot,
            Disposition.RELEASED,
            stamp,
            allowed_from=[Disposition.QUARANTINED, Disposition.REJECTED],
        )
        return lot
    is_own = len(holds) == 1 and holds[0].lot_id == lot.pk
    if not is_own or lot.disposition == Disposition.REJECTED:
        raise WrongDispositionError(
            "Holds keep this lot. Release them by their codes.",
            lot=lot.code,
            disposition=lot.disposition,
            holds=[
                {"hold": hold.code, "placed_on": hold.lot.code, "reason": hold.reason}
                for hold in holds
            ],
        )
    end_hold(holds[0], stamp)
    lot.refresh_from_db()
    return lot


@operation
def reject_lot(*, lot_code: str, stamp: Stamp) -> Lot:
    """Reject a lot: from then on it is disposed of or goes back to its supplier, nothing else.

    Raises:
        NotFoundError: no such lot.
        WrongDispositionError: it is rejected already.
        ReasonMissingError: no reason.
    """
    stamp.refuse_no_reason()
    lot = _lock(lot_code, stamp)
    set_disposition(
        lot,
        Disposition.REJECTED,
        stamp,
        allowed_from=[Disposition.QUARANTINED, Disposition.RELEASED, Disposition.HELD],
    )
    return lot


@operation
def extend_expiry(*, lot_code: str, expires_at: datetime, stamp: Stamp) -> Lot:
    """Give a lot a later expiry, after a test that the reason names.

    Raises:
        NotFoundError: no such lot.
        InvalidInputError: no reason, or not later than now and than the expiry it has.
        TooEarlyError: it was extended after the time given.
    """
    stamp.refuse_no_reason()
    lot = _lock(lot_code, stamp)
    if lot.expires_at is None or expires_at <= lot.expires_at or expires_at <= stamp.at:
        raise InvalidInputError(
            "The new expiry must be later than now and than the one the lot has.",
            lot=lot.code,
            expires_at=None if lot.expires_at is None else lot.expires_at.isoformat(),
            wanted=expires_at.isoformat(),
        )
    later = LotEvent.objects.filter(lot=lot, kind=EventKind.EXPIRY, at__gt=stamp.at)
    if lot.touched_at > stamp.at and (last := later.order_by("-at").first()) is not None:
        raise TooEarlyError(
            "The expiry was extended after the time given. Give a later time.",
            lot=lot.code,
            at=stamp.at.isoformat(),
            not_before=last.at.isoformat(),
        )
    before, lot.expires_at = lot.expires_at, expires_at
    note_event(
        lot, EventKind.EXPIRY, before=before.isoformat(), after=expires_at.isoformat(), stamp=stamp
    )
    return lot


@operation
def dispose_of_lot(*, lot_code: str, qty_base: int, stamp: Stamp) -> Posted:
    """Take an amount of one lot out for good, whatever its state; its value is a loss.

    Follow the safety data sheet and local codes for what may be thrown away and how.

    Raises:
        NotFoundError: no such lot.
        LotShortError: the lot holds less.
        ReasonMissingError: no reason.
        BooksClosedError, LotNotThereYetError, LotCountedSinceError, BalanceBelowZeroError: it
            cannot have been then.
    """
    stamp.refuse_no_reason()
    lot = _lock(lot_code, stamp)
    return post(
        kind=PostingKind.DISPOSED,
        stamp=stamp,
        changes=[take(lot, qty_base)],
        outside_kind=OutsideKind.LOSS,
    )


def _lock(lot_code: str, stamp: Stamp) -> Lot:
    lot = lock_lots([lot_code])[lot_code]
    refuse_not_there_yet([lot], stamp)
    return lot


def _refuse_boxed(lot: Lot) -> None:
    if lot.place.kind == PlaceKind.BOX:
        raise BoxPlaceError(
            "The lot is in a box. Take it out of the box first.", lot=lot.code, box=lot.place.code
        )


def _place(code: str) -> Place:
    place = Place.objects.filter(code=code).first()
    if place is None:
        raise NotFoundError("No place has this code.", place=code)
    if place.kind == PlaceKind.BOX:
        raise BoxPlaceError("This place is a box. Pack the lot into the box instead.", box=code)
    if not place.is_active:
        raise PlaceNotActiveError("This place is out of use. Choose another.", place=code)
    return place

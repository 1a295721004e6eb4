"""What comes back: a shipment that never left, or pieces that a customer sends back."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

from batches.packing.errors import (
    ComplaintOfOthersError,
    LotElsewhereError,
    NotShippedError,
    ReturnTooLargeError,
    ShipmentReversedError,
)
from batches.packing.models import Box, BoxState, Complaint, CustomerReturn, Shipment
from batches.packing.selectors.boxes import boxes_around
from batches.packing.selectors.complaints import complaint_named, left_of
from batches.packing.selectors.shipments import returned_sums
from batches.packing.steps.locking import lock_boxes_by_id, lock_lots_there_by_id
from inventory.catalog.models import Place
from inventory.stock.errors import NotReversibleError
from inventory.stock.models import (
    Disposition,
    EventKind,
    Hold,
    Lot,
    LotEvent,
    Movement,
    OutsideKind,
    Posting,
    PostingKind,
)
from inventory.stock.steps import (
    Change,
    Document,
    change_place,
    lock_lots_by_id,
    post,
    reverse_posting,
)
from inventory.stock.steps.holding import end_hold, place_hold, rejoin_holds, set_disposition
from shopfloor.errors import InvalidInputError
from shopfloor.money import share
from shopfloor.stamp import Stamp

TEST_FIRST: Final = "Came back from a customer: test it before it is released."


@dataclass(frozen=True, slots=True)
class Back:
    """Pieces of a shipped lot that come back."""

    lot_code: str
    pieces: int


def undo_shipment(shipment: Shipment, stamp: Stamp) -> None:
    """Reverse a shipment: its lots are in their boxes again, and the boxes closed.

    Raises:
        NotReversibleError: reversed before, counted since, or pieces came back already.
    """
    lines = list(shipment.lines.all())
    lock_lots_by_id(line.lot_id for line in lines)
    returns = list(
        CustomerReturn.objects.filter(
            shipment=shipment, posting__reversed_by__isnull=True
        ).select_related("posting")
    )
    if returns:
        raise NotReversibleError(
            "Pieces of this shipment came back already, so it did leave. Take the rest back too,"
            " or reverse the returns first.",
            stands_in_the_way=[
                {"posting": row.posting.code, "kind": PostingKind.RETURNED} for row in returns
            ],
        )
    reverse_posting(shipment.posting, stamp)
    # Only boxes of this very shipment can be around its boxes: a shipped box is moved no more.
    around = boxes_around({line.box_id for line in lines if line.box_id is not None})
    boxes = lock_boxes_by_id(set().union(*around.values()))
    Box.objects.filter(pk__in=[box.pk for box in boxes]).update(state=BoxState.CLOSED)


def take_back(
    *,
    shipment: Shipment,
    backs: Sequence[Back],
    place: Place,
    stamp: Stamp,
    complaint_code: str = "",
) -> CustomerReturn:
    """Take pieces back into the very lots that left; they are quarantined and stand at the place.

    The value is their share of what the lot was worth when it left; the last piece brings the rest.

    Raises:
        NotShippedError, ReturnTooLargeError, ShipmentReversedError, LotElsewhereError: as named.
        InvalidInputError: before it left.
        BooksClosedError, LotCountedSinceError: it cannot have been then.
        NotFoundError, ComplaintOfOthersError: of the complaint.
    """
    shipped = {line.lot.code: line for line in shipment.lines.select_related("lot")}
    strangers = sorted({back.lot_code for back in backs} - shipped.keys())
    if strangers:
        raise NotShippedError(
            "This lot did not leave with this shipment.", shipment=shipment.code, lots=strangers
        )
    locked = lock_lots_there_by_id(shipped[back.lot_code].lot_id for back in backs)
    lots = {lot.code: lot for lot in locked.values()}
    _refuse_impossible(shipment, stamp)
    _refuse_elsewhere(lots.values(), place)
    complaint = _complaint_of(lots.values(), complaint_code) if complaint_code else None
    posted = post(
        kind=PostingKind.RETURNED,
        stamp=stamp,
        changes=_changes(shipment, backs, lots),
        outside_kind=OutsideKind.COST_OF_GOODS,
        document=Document("shipment", shipment.code),
    )
    returned = CustomerReturn.objects.create(
        posting=posted.posting, shipment=shipment, complaint=complaint
    )
    for lot in lots.values():
        if lot.place_id != place.pk:
            change_place(lot, place, stamp, posting=posted.posting)
        if lot.disposition == Disposition.RELEASED:
            set_disposition(
                lot,
                Disposition.QUARANTINED,
                stamp,
                allowed_from=[Disposition.RELEASED],
                posting=posted.posting,
            )
        elif lot.disposition == Disposition.HELD:
            # Held while it was away: that hold's end alone must not release what came back.
            place_hold(lot, replace(stamp, reason=TEST_FIRST))
    rejoin_holds(lots.values(), stamp)
    return returned


def undo_return(returned: CustomerReturn, stamp: Stamp) -> None:
    """Reverse a return: its pieces are out again, and its lots are what they were before it.

    Raises:
        NotReversibleError: reversed before, or used, moved or counted since.
        TooEarlyError: the time given is before it.
    """
    posting = returned.posting
    ids = list(Movement.objects.filter(posting=posting).values_list("lot_id", flat=True))
    reverse_posting(posting, stamp)
    waiting = Hold.objects.filter(
        lot__in=ids, reason=TEST_FIRST, recorded_at=posting.recorded_at, release=None
    )
    for hold in waiting.order_by("pk"):
        end_hold(hold, stamp)
    events = list(LotEvent.objects.filter(posting=posting).order_by("pk"))
    places = Place.objects.in_bulk({event.before for event in events}, field_name="code")
    lots = lock_lots_there_by_id(ids)  # as the reversal and the ends of the holds left them
    for event in events:
        lot = lots[event.lot_id]
        if event.kind == EventKind.PLACE:
            change_place(lot, places[event.before], stamp)
        elif lot.disposition == Disposition.QUARANTINED:
            set_disposition(
                lot, Disposition.RELEASED, stamp, allowed_from=[Disposition.QUARANTINED]
            )


def _refuse_impossible(shipment: Shipment, stamp: Stamp) -> None:
    """Judged after the lots are locked, so that a reversal at the same moment is seen."""
    undone = Posting.objects.filter(reverses=shipment.posting_id).first()
    if undone is not None:
        raise ShipmentReversedError(
            "This shipment was reversed: nothing left, so nothing comes back.",
            shipment=shipment.code,
            reversed_by=undone.code,
        )
    if stamp.at < shipment.posting.at:
        raise InvalidInputError(
            "Nothing comes back before it left. Give a later time.",
            at=stamp.at.isoformat(),
            left_at=shipment.posting.at.isoformat(),
        )


def _complaint_of(lots: Iterable[Lot], code: str) -> Complaint:
    """The complaint that these lots come back for."""
    complaint = complaint_named(code)
    meant = {line.lot_id for line in left_of([complaint])[0]}
    others = [lot.code for lot in lots if lot.pk not in meant]
    if others:
        raise ComplaintOfOthersError(
            "The complaint is not of these lots. Leave it out, or name the one that is.",
            complaint=complaint.code,
            lots=others,
        )
    return complaint


def _refuse_elsewhere(lots: Iterable[Lot], place: Place) -> None:
    elsewhere = [
        {"lot": lot.code, "place": lot.place.code}
        for lot in lots
        if lot.on_hand_base > 0 and lot.place_id != place.pk
    ]
    if elsewhere:
        raise LotElsewhereError(
            "What came back of this lot before stands at another place. Bring it together first.",
            lots=elsewhere,
            place=place.code,
        )


def _changes(shipment: Shipment, backs: Sequence[Back], lots: dict[str, Lot]) -> list[Change]:
    """Amounts and values that come back. Two statements."""
    before = returned_sums([shipment.pk])
    left = {
        lot: (-qty, -value)
        for lot, qty, value in Movement.objects.filter(
            posting=shipment.posting_id, lot__in=list(lots.values())
        ).values_list("lot_id", "qty_base", "value_micro")
    }
    changes, too_many = [], []
    for back in backs:
        lot = lots[back.lot_code]
        pieces_back, value_back = before.get((shipment.pk, lot.pk), (0, 0))
        pieces = left[lot.pk][0] - pieces_back
        if back.pieces > pieces:
            too_many.append({"lot": lot.code, "still_out": pieces, "wanted": back.pieces})
            continue
        changes.append(
            Change(lot, back.pieces, share(left[lot.pk][1] - value_back, back.pieces, pieces))
        )
    if too_many:
        raise ReturnTooLargeError(
            "More would come back than is still out of this shipment. Count again.", lots=too_many
        )
    return changes

"""Boxes: made, locked, put into one another, and filled with lots."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.db import IntegrityError

from batches.packing.errors import (
    BoxChangedError,
    BoxCycleError,
    BoxInBoxError,
    BoxNotOpenError,
    BoxShippedError,
    LotInBoxError,
    LotNotInBoxError,
    NotPiecesError,
)
from batches.packing.models import Box, BoxState
from batches.packing.selectors.boxes import boxes_around
from batches.packing.steps.keeping import keep_change
from batches.packing.steps.locking import lock_boxes, lock_boxes_by_id
from batches.runs.errors import NamedTwiceError
from inventory.catalog.errors import DuplicateCodeError, NotActiveError
from inventory.catalog.models import DimensionKind, Place, PlaceKind
from inventory.stock.errors import LotShortError
from inventory.stock.models import Lot
from inventory.stock.steps import change_place, refuse_unusable, split_lot
from inventory.stock.steps.refusals import refuse_not_there_yet, shortfall
from shopfloor.allocation import next_id
from shopfloor.audit import facts_of
from shopfloor.codes.alphabet import Prefix, encode, own_code
from shopfloor.errors import InvalidInputError, NotFoundError
from shopfloor.stamp import Stamp


@dataclass(frozen=True, slots=True)
class Part:
    """Pieces of a lot to be put somewhere; None: the whole lot."""

    lot_code: str
    pieces: int | None = None


def new_box(*, code: str, parent: Box | None, stamp: Stamp) -> Box:
    """Make an empty open box and the place that it is.

    Args:
        code: The shop's own, or empty: one is made.
        parent: A locked open box that it stands in.
        stamp: Who, when.

    Raises:
        OwnCodeError: the code could not be printed or told apart.
        DuplicateCodeError: a box or place has it.
    """
    number = None if code else next_id(Box)
    code = own_code(code) if number is None else encode(number, Prefix.BOX)
    try:
        place = Place.objects.create(code=code, name=f"Box {code}", kind=PlaceKind.BOX)
        return Box.objects.create(
            pk=number,
            code=code,
            place=place,
            parent=parent,
            by=stamp.by,
            packed_at=stamp.at,
            recorded_at=stamp.now,
        )
    except IntegrityError as error:
        if "code" not in str(error):
            raise
        raise DuplicateCodeError(
            "A box or another place with this code stands already. Give another code, or none.",
            codes=[code],
        ) from error


def lock_with_parent(code: str) -> Box:
    """Lock one box and the box that it stands in, so that neither changes under the other.

    Raises:
        NotFoundError: no box has that code.
        BoxChangedError: it was put elsewhere in between.
    """
    seen = Box.objects.filter(code=code).values_list("code", "parent__code").first()
    found = lock_boxes([code] if seen is None else [each for each in seen if each])
    box = found[code]
    parent = None if box.parent is None else box.parent.code
    refuse_changed(seen, (code, parent))
    if parent is not None:
        box.parent = found[parent]
    return box


def refuse_not_open(box: Box) -> None:
    """Refuse to put something into a box or take it out.

    Raises:
        BoxNotOpenError, BoxShippedError: as named.
    """
    if box.state == BoxState.SHIPPED:
        raise BoxShippedError("This box left the shop. Pack another one.", box=box.code)
    if box.state != BoxState.OPEN:
        raise BoxNotOpenError("This box is closed. Reopen it first.", box=box.code)


def refuse_in_closed(box: Box) -> None:
    """Refuse to touch a locked box that stands in a closed one.

    Raises:
        BoxInBoxError: as named.
    """
    if box.parent is not None and box.parent.state != BoxState.OPEN:
        raise BoxInBoxError(
            "The box stands in a closed one. Reopen that one first.",
            box=box.code,
            parent=box.parent.code,
        )


def change_state(box: Box, state: BoxState, stamp: Stamp) -> None:
    """Set a locked box's state; the audit keeps who did and why."""
    before = facts_of(box)
    box.state = state
    box.save(update_fields=["state"])
    keep_change(box, before, stamp)


def change_parent(box_code: str, parent_code: str | None, stamp: Stamp) -> Box:
    """Put a box into an open one, or let it stand alone.

    The boxes around both are locked too: of people who each put a box into another's, the last sees
    what the others did, however long the ring would be.

    Raises:
        NotFoundError: no such box.
        BoxCycleError: the parent stands in the box.
        BoxInBoxError: it stands in a closed box.
        BoxNotOpenError, BoxShippedError: the parent cannot be packed, or the box left.
    """
    codes = {box_code} if parent_code is None else {box_code, parent_code}
    ids = dict(Box.objects.filter(code__in=codes).values_list("code", "pk"))
    missing = sorted(codes - ids.keys())
    if missing:
        raise NotFoundError("No box has this code. Scan its label again.", boxes=missing)
    around, found = _lock_around(ids.values())
    box = found[box_code]
    if box.state == BoxState.SHIPPED:
        raise BoxShippedError("This box left the shop.", box=box.code)
    refuse_in_closed(box)
    parent = None if parent_code is None else found[parent_code]
    if parent is not None:
        refuse_not_open(parent)
        if box.pk in around[parent.pk]:
            raise BoxCycleError(
                "The box cannot stand in itself, nor in one that stands in it.",
                box=box.code,
                parent=parent.code,
            )
    before = facts_of(box)
    box.parent = parent
    box.save(update_fields=["parent"])
    keep_change(box, before, stamp)
    return box


def _lock_around(box_ids: Collection[int]) -> tuple[dict[int, set[int]], dict[str, Box]]:
    """Lock boxes and all that they stand in; look again until no new one appears.

    Returns:
        Ids of each box and of all that it stands in, by its id; and all of them by code.
    """
    found: dict[int, Box] = {}
    while True:
        around = boxes_around(box_ids)
        new = set().union(*around.values()) - found.keys()
        if not new:
            return around, {box.code: box for box in found.values()}
        found |= {box.pk: box for box in lock_boxes_by_id(new)}


def refuse_twice(codes: Sequence[str], what: str) -> None:
    """Refuse a request that names the same thing twice.

    Raises:
        NamedTwiceError: with the codes.
    """
    twice = sorted({code for code in codes if codes.count(code) > 1})
    if twice:
        raise NamedTwiceError(f"The same {what} stands twice. Name it once.", codes=twice)


def put_lots(box: Box, parts: Sequence[Part], lots: Mapping[str, Lot], stamp: Stamp) -> list[Lot]:
    """Put lots, or parts of them, into a locked open box.

    A part costs one posting of its own, five statements: in one posting for all, every lot taken
    would flow into every part, and each box would hold pieces of every lot. A whole lot moves in
    two statements.

    Args:
        box: The box.
        parts: Each lot once.
        lots: Locked lots, by code.
        stamp: Who, when.

    Returns:
        The lots now in the box, in the order of `parts`.

    Raises:
        LotHeldError, LotQuarantinedError, LotRejectedError, LotExpiredError, LotOverOpenedError:
            only what may be used
            is packed.
        NotPiecesError, LotInBoxError, LotShortError, LotNotThereYetError: as named.
    """
    wanted = [lots[part.lot_code] for part in parts]
    for lot in wanted:
        if lot.item.dimension != DimensionKind.COUNT:
            raise NotPiecesError(
                "Only what is counted in pieces is packed.", lot=lot.code, item=lot.item.code
            )
        if lot.place.kind == PlaceKind.BOX:
            raise LotInBoxError(
                "This lot is in a box already. Take it out of there first.",
                lot=lot.code,
                box=lot.place.code,
            )
    refuse_unusable(wanted, stamp.at)
    return place_parts(box.place, parts, lots, stamp)


def take_lots_out(
    box: Box, parts: Sequence[Part], lots: Mapping[str, Lot], place: Place, stamp: Stamp
) -> list[Lot]:
    """Take lots, or parts of them, out of a locked open box to a place; held ones too.

    Raises:
        LotNotInBoxError, LotShortError, LotNotThereYetError: as named.
    """
    strangers = [part.lot_code for part in parts if lots[part.lot_code].place_id != box.place_id]
    if strangers:
        raise LotNotInBoxError("This lot is not in the box.", box=box.code, lots=strangers)
    return place_parts(place, parts, lots, stamp)


def place_parts(
    place: Place, parts: Sequence[Part], lots: Mapping[str, Lot], stamp: Stamp
) -> list[Lot]:
    """Bring locked lots, or parts of them, to a place.

    Raises:
        LotShortError, LotNotThereYetError: as named; nothing was written.
    """
    for part in parts:
        refuse_not_there(lots[part.lot_code], part.pieces, stamp)
    placed = []
    for part in parts:
        lot = lots[part.lot_code]
        if part.pieces is not None and part.pieces < lot.on_hand_base:
            placed.append(split_lot(lot, part.pieces, stamp, place=place))
        else:
            change_place(lot, place, stamp)
            placed.append(lot)
    return placed


def refuse_not_there(lot: Lot, pieces: int | None, stamp: Stamp) -> None:
    """Refuse pieces, None for all, that a locked lot does not hold or did not yet.

    Raises:
        LotShortError, LotNotThereYetError: as named.
    """
    wanted = 1 if pieces is None else pieces
    if wanted > lot.on_hand_base:
        raise LotShortError(
            f"Lot {lot.code} holds less than is wanted of it."
            " Take less, or take the rest from another lot.",
            lots=[shortfall(lot, wanted)],
        )
    refuse_not_there_yet([lot], stamp)


def place_outside_boxes(code: str) -> Place:
    """A place in use that is no box. One statement.

    Raises:
        NotFoundError: no such place.
        NotActiveError: it is out of use.
        InvalidInputError: it is a box.
    """
    place = Place.objects.filter(code=code).first()
    if place is None:
        raise NotFoundError("No place has this code.", place=code)
    if not place.is_active:
        raise NotActiveError("This place is out of use. Choose another.", place=code)
    if place.kind == PlaceKind.BOX:
        raise InvalidInputError("This is a box. Choose a shelf or bench.", place=code)
    return place


def lots_in(places: Iterable[int]) -> set[int]:
    """Ids of the lots that hold something at these places. One statement."""
    found = Lot.objects.filter(place__in=list(places), on_hand_base__gt=0)
    return set(found.values_list("pk", flat=True))


def refuse_changed(before: object, now: object) -> None:
    """Refuse when what was locked is no longer what there is.

    Raises:
        BoxChangedError: somebody packed in between.
    """
    if before != now:
        raise BoxChangedError("Somebody packed one of these boxes at this moment. Try again.")

"""What a packer does with a box."""

from __future__ import annotations

from collections.abc import Sequence

from batches.packing.errors import BoxEmptyError, BoxNotClosedError
from batches.packing.models import Box, BoxState
from batches.packing.steps.boxes import (
    Part,
    change_parent,
    change_state,
    lock_with_parent,
    lots_in,
    new_box,
    place_outside_boxes,
    put_lots,
    refuse_in_closed,
    refuse_not_open,
    refuse_twice,
    take_lots_out,
)
from batches.packing.steps.locking import lock_box, lock_lots_there
from inventory.stock.errors import NothingToDoError
from shopfloor.operation import operation
from shopfloor.stamp import Stamp


@operation
def pack_box(
    *, contents: Sequence[Part], stamp: Stamp, code: str = "", parent_code: str = ""
) -> Box:
    """Make a box and put lots, or parts of lots, into it; with nothing, an empty one.

    Args:
        contents: Each lot once; only released lots of what is counted in pieces.
        stamp: Who, when.
        code: The shop's own, or empty: one is made.
        parent_code: An open box that it stands in, or empty.

    Raises:
        NotFoundError: no such lot or box.
        OwnCodeError, DuplicateCodeError: of the code.
        BoxNotOpenError, BoxShippedError: of the parent.
        NamedTwiceError: a lot stands twice.
        LotHeldError, LotQuarantinedError, LotRejectedError, LotExpiredError, LotOverOpenedError,
            LotInBoxError, LotShortError, NotPiecesError, BooksClosedError, LotNotThereYetError,
            LotCountedSinceError,
        BalanceBelowZeroError: of a lot.
    """
    codes = [part.lot_code for part in contents]
    refuse_twice(codes, "lot")
    lots = lock_lots_there(codes) if codes else {}
    parent = lock_box(parent_code) if parent_code else None
    if parent is not None:
        refuse_not_open(parent)
    box = new_box(code=code, parent=parent, stamp=stamp)
    put_lots(box, contents, lots, stamp)
    return box


@operation
def add_to_box(*, box_code: str, contents: Sequence[Part], stamp: Stamp) -> Box:
    """Put more lots, or parts of lots, into an open box.

    Raises:
        BoxNotOpenError, BoxShippedError: of the box; else as `pack_box`.
    """
    codes = [part.lot_code for part in contents]
    _refuse_nothing(codes, box_code)
    lots = lock_lots_there(codes)
    box = lock_box(box_code)
    refuse_not_open(box)
    put_lots(box, contents, lots, stamp)
    return box


@operation
def take_out_of_box(
    *, box_code: str, contents: Sequence[Part], place_code: str, stamp: Stamp
) -> Box:
    """Take lots, or parts of lots, out of an open box to a shelf or bench; held ones too.

    Raises:
        NotFoundError: no such lot, box or place.
        BoxNotOpenError, BoxShippedError: of the box.
        LotNotInBoxError, LotShortError, NamedTwiceError, BooksClosedError, LotNotThereYetError,
            LotCountedSinceError,
        BalanceBelowZeroError: of a lot.
        NotActiveError, InvalidInputError: the place is out of use, or a box.
    """
    codes = [part.lot_code for part in contents]
    _refuse_nothing(codes, box_code)
    place = place_outside_boxes(place_code)
    lots = lock_lots_there(codes)
    box = lock_box(box_code)
    refuse_not_open(box)
    take_lots_out(box, contents, lots, place, stamp)
    return box


def _refuse_nothing(codes: list[str], box_code: str) -> None:
    if not codes:
        raise NothingToDoError("Name at least one lot.", box=box_code)
    refuse_twice(codes, "lot")


@operation
def close_box(*, box_code: str, stamp: Stamp) -> Box:
    """Close an open box; nothing goes in or out until it is reopened.

    Raises:
        NotFoundError: no such box.
        BoxNotOpenError, BoxShippedError: it is not open.
        BoxEmptyError: nothing is in it.
        BoxNotClosedError: a box in it is still open.
    """
    box = lock_box(box_code)
    refuse_not_open(box)
    inner = list(Box.objects.filter(parent=box).order_by("pk"))
    still_open = [each.code for each in inner if each.state == BoxState.OPEN]
    if still_open:
        raise BoxNotClosedError(
            "A box in this one is still open. Close it first.", boxes=still_open
        )
    if not inner and not lots_in([box.place_id]):
        raise BoxEmptyError("There is nothing in this box.", box=box.code)
    change_state(box, BoxState.CLOSED, stamp)
    return box


@operation
def reopen_box(*, box_code: str, stamp: Stamp) -> Box:
    """Open a closed box again.

    Raises:
        NotFoundError: no such box.
        BoxNotClosedError, BoxShippedError: it is not closed.
        BoxInBoxError: it stands in a closed box.
    """
    box = lock_with_parent(box_code)
    if box.state != BoxState.CLOSED:
        refuse_not_open(box)
        raise BoxNotClosedError("This box is open already.", box=box.code)
    refuse_in_closed(box)
    change_state(box, BoxState.OPEN, stamp)
    return box


@operation
def put_box_in(*, box_code: str, parent_code: str | None, stamp: Stamp) -> Box:
    """Put a box into an open one; with None it stands alone.

    Raises:
        NotFoundError: no such box.
        BoxCycleError: the parent stands in the box.
        BoxInBoxError: it stands in a closed box.
        BoxNotOpenError, BoxShippedError: the parent cannot be packed, or the box left.
    """
    return change_parent(box_code, parent_code, stamp)

"""Taking in what stood on the shelves when the shop began with this service."""

from __future__ import annotations

from collections.abc import Sequence

from inventory.stock.steps.opening import OpeningLot, post_opening_lots
from inventory.stock.steps.posting import Posted
from shopfloor.operation import operation
from shopfloor.stamp import Stamp

__all__ = ["OpeningLot", "take_in_opening_lots"]


@operation
def take_in_opening_lots(*, lots: Sequence[OpeningLot], stamp: Stamp) -> Posted:
    """Take in opening stock as one posting, a lot a line.

    Raises:
        NotFoundError: no such item, place or supplier.
        DuplicateCodeError, BooksClosedError: as named.
    """
    return post_opening_lots(lots=lots, stamp=stamp)

"""Locks of lots and boxes that hold although somebody moves them meanwhile.

On PostgreSQL a locking query that waited judges the row that it then gets against the other tables
as they were before it waited. Joined to the place it stood at, a lot that was moved meanwhile falls
out of the answer. So boxes are locked without a join, and lots are asked for again if one is
missing: the second query waits for nobody.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable

from batches.packing.models import Box
from inventory.stock.models import Lot
from inventory.stock.steps import lock_lots, lock_lots_by_id
from shopfloor.errors import NotFoundError


def lock_all_lots(codes: Collection[str]) -> dict[str, Lot]:
    """Lock lots by code. One statement, two when one was moved meanwhile.

    Raises:
        NotFoundError: with the codes that no lot has.
    """
    try:
        return lock_lots(codes)
    except NotFoundError:
        return lock_lots(codes)


def lock_all_lots_by_id(ids: Iterable[int]) -> dict[int, Lot]:
    """Lock lots that are known to stand. One statement, two when one was moved meanwhile."""
    wanted = set(ids)
    found = lock_lots_by_id(wanted)
    return found if len(found) == len(wanted) else lock_lots_by_id(wanted)


def lock_boxes_by_id(ids: Iterable[int]) -> list[Box]:
    """Lock boxes in the order of their ids, with place and parent. At most three statements."""
    locked = Box.objects.select_for_update().filter(pk__in=set(ids)).order_by("pk")
    return list(locked.prefetch_related("place", "parent"))


def lock_boxes(codes: Iterable[str]) -> dict[str, Box]:
    """Lock boxes by code. At most four statements.

    Raises:
        NotFoundError: with the codes that no box has.
    """
    wanted = set(codes)
    ids = list(Box.objects.filter(code__in=wanted).values_list("pk", flat=True))
    found = {box.code: box for box in lock_boxes_by_id(ids)}
    missing = sorted(wanted - found.keys())
    if missing:
        raise NotFoundError("No box has this code. Scan its label again.", boxes=missing)
    return found


def lock_box(code: str) -> Box:
    """Lock one box.

    Raises:
        NotFoundError: no box has that code.
    """
    return lock_boxes([code])[code]

"""Locks of lots and boxes, each with what it stands in.

The places are asked for after the lock: a locking query that waited judges the row that it then
gets against the other tables as they were before, and a lot moved meanwhile would fall out of it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable

from django.db.models import prefetch_related_objects

from batches.packing.models import Box
from inventory.stock.models import Lot
from inventory.stock.steps import lock_lots, lock_lots_by_id
from shopfloor.errors import NotFoundError


def lock_lots_there(codes: Collection[str]) -> dict[str, Lot]:
    """Lock lots by code, each with the place it stands at. Two statements.

    Raises:
        NotFoundError: with the codes that no lot has.
    """
    lots = lock_lots(codes)
    prefetch_related_objects(list(lots.values()), "place")
    return lots


def lock_lots_there_by_id(ids: Iterable[int]) -> dict[int, Lot]:
    """Lock lots that are known to stand, each with the place it stands at. Two statements."""
    lots = lock_lots_by_id(ids)
    prefetch_related_objects(list(lots.values()), "place")
    return lots


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

"""Every lot that went into the entries of a period, directly or on the way, and into which."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import datetime
from itertools import groupby
from operator import attrgetter
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from inventory.stock.models import Lot, Movement
from inventory.stock.selectors.among import Among
from inventory.stock.selectors.lineage import Direction, flow_sides, reached_ids

Places = npt.NDArray[np.int64]
"""Of entries among the entries, rising."""


class Begun(NamedTuple):
    """From when on something grows old."""

    event: str
    at: datetime


class LotRow(NamedTuple):
    """A lot upstream."""

    code: str
    item: str
    supplier: str | None
    born_at: datetime
    opened_at: datetime | None
    expires_at: datetime | None

    @property
    def begun(self) -> Begun | None:
        """When it was opened, or mixed here; None for anything else."""
        if self.opened_at is not None:
            return Begun("opening", self.opened_at)
        if self.expires_at is not None and self.supplier is None:
            return Begun("it was made", self.born_at)
        return None


def lots_of_entries(entry_ids: Sequence[int]) -> Iterator[tuple[LotRow, Places]]:
    """Each lot upstream and the places of the entries it went into. Four statements."""
    place = {entry_id: number for number, entry_id in enumerate(entry_ids)}
    # Entries as the bits of a number: joining those of ten thousand lots costs next to nothing.
    entries_of: dict[int, int] = defaultdict(int)
    taken = Movement.objects.filter(Among("posting", place), qty_base__lt=0)
    for posting_id, lot_id in taken.values_list("posting_id", "lot_id"):
        entries_of[lot_id] |= 1 << place[posting_id]
    ids = reached_ids(entries_of, Direction.UPSTREAM)
    # A posting takes only lots that stood before it, so what was made of a lot has been seen by
    # the time the lot itself was made.
    sides = reversed(flow_sides(ids, Direction.UPSTREAM))
    for _, posting in groupby(sides, key=attrgetter("posting_id")):
        amounts = list(posting)
        entries = 0
        for side in amounts:
            if side.qty_base > 0:
                entries |= entries_of.get(side.lot_id, 0)
        for side in amounts:
            if side.qty_base < 0:
                entries_of[side.lot_id] |= entries
    columns = ("code", "item__code", "supplier__code", "born_at", "opened_at", "expires_at")
    for lot_id, *row in Lot.objects.filter(Among("pk", ids)).values_list("pk", *columns):
        yield LotRow(*row), _places(entries_of[lot_id])


def _places(bits: int) -> Places:
    of_bytes = bits.to_bytes((bits.bit_length() + 7) // 8, "little")
    found = np.unpackbits(np.frombuffer(of_bytes, dtype=np.uint8), bitorder="little")
    return np.flatnonzero(found)

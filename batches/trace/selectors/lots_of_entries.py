"""Every lot that went into the entries of a period, directly or on the way, and into which."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from itertools import groupby
from operator import itemgetter
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
from django.db.models import Case, F, Q, When

from inventory.stock.models import Lot
from inventory.stock.selectors.among import Among
from inventory.stock.selectors.lineage import Direction, flow_rows, reached_from_taken_ids

AT_ONCE: Final = 1_000
Places = npt.NDArray[np.int64]
"""Of entries among the entries, rising."""


class Begun(NamedTuple):
    """From when on something grows old."""

    event: str
    at: datetime


class LotRow(NamedTuple):
    """A lot upstream; `begun` is None of what does not grow old."""

    code: str
    item: str
    supplier: str | None
    begun: Begun | None


class Lots(NamedTuple):
    """Lots upstream of entries, and the places of the entries that each went into.

    Attributes:
        rows: The lots.
        places: Of the first lot, then of the second ...
        ends: Where those of each end.
    """

    rows: list[LotRow]
    places: Places
    ends: Places

    def places_of(self, number: int) -> Places:
        """Those of one lot."""
        return self.places[self.ends[number - 1] if number else 0 : self.ends[number]]


def lots_of_entries(entry_ids: Sequence[int]) -> Lots:
    """Every lot upstream. Three statements."""
    place = {entry_id: number for number, entry_id in enumerate(entry_ids)}
    ids = reached_from_taken_ids(entry_ids)
    # Entries as the bits of a number: joining those of ten thousand lots costs next to nothing.
    entries_of: dict[int, int] = defaultdict(int)
    sides = flow_rows(ids, Direction.UPSTREAM, also=entry_ids)
    for posting_id, lot_id, qty_base in sides:
        if qty_base < 0 and posting_id in place:
            entries_of[lot_id] |= 1 << place[posting_id]
    # A posting takes only lots that stood before it, so what was made of a lot has been seen by
    # the time the lot itself was made.
    for _, posting in groupby(reversed(sides), key=itemgetter(0)):
        amounts = list(posting)
        entries = 0
        for _, lot_id, qty_base in amounts:
            if qty_base > 0:
                entries |= entries_of.get(lot_id, 0)
        for _, lot_id, qty_base in amounts:
            if qty_base < 0:
                entries_of[lot_id] |= entries
    rows = list(_lots(ids))
    bits = [entries_of[lot_id] for lot_id, _ in rows]
    return Lots(
        [row for _, row in rows],
        _places(bits, len(place)),
        np.cumsum([each.bit_count() for each in bits], dtype=np.int64),
    )


def _lots(ids: Iterable[int]) -> Iterator[tuple[int, LotRow]]:
    """Lots by id; when they were opened, or mixed here: any other does not grow old. One statement.

    Of ten thousand lots these are a few, and reading times takes long.
    """
    mixed = Q(expires_at__isnull=False, supplier__isnull=True)
    made_at = Case(When(mixed | Q(opened_at__isnull=False), then=F("born_at")))
    lots = Lot.objects.filter(Among("pk", ids)).order_by()
    rows = lots.values_list("pk", "code", "item__code", "supplier__code", "opened_at", made_at)
    for lot_id, code, item, supplier, opened_at, born_at in rows:
        begun = None
        if opened_at is not None:
            begun = Begun("opening", opened_at)
        elif born_at is not None:
            begun = Begun("it was made", born_at)
        yield lot_id, LotRow(code, item, supplier, begun)


def _places(bits: Sequence[int], entries: int) -> Places:
    """Which bits of each number are set, of one number after the other."""
    size = (entries + 7) // 8
    found = []
    for start in range(0, len(bits), AT_ONCE):
        some = bits[start : start + AT_ONCE]
        joined = b"".join(number.to_bytes(size, "little") for number in some)
        table = np.frombuffer(joined, dtype=np.uint8).reshape(len(some), size)
        found.append(np.nonzero(np.unpackbits(table, axis=1, bitorder="little"))[1])
    return np.concatenate([*found, np.zeros(0, dtype=np.int64)])

"""What stands on the shelves of items, by whether it can be counted on."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import NamedTuple

from inventory.reorder.rules import Ending
from inventory.stock.models import Disposition, Lot
from shopfloor.days import day_end, shop_day


@dataclass(slots=True)
class OnHand:
    """Base units of one item on hand.

    Attributes:
        usable_base: Ours, released, and good to the end of the day.
        quarantined_base: Ours, waiting for its test, and good to the end of the day. It counts in
            the position: if not, receiving an order of it would look like losing it.
        held_base: Ours and held.
        rejected_base: Ours and rejected.
        expired_base: Ours, released or quarantined, and past its end by the end of the day.
        others_base: Of somebody else.
        endings: What of the usable and quarantined will end, and when.
    """

    usable_base: int = 0
    quarantined_base: int = 0
    held_base: int = 0
    rejected_base: int = 0
    expired_base: int = 0
    others_base: int = 0
    endings: list[Ending] = field(default_factory=list)


class LotHeld(NamedTuple):
    """A lot that holds something."""

    item_id: int
    owner: str
    grade: str
    disposition: str
    expires_at: datetime | None
    discard_at: datetime | None
    on_hand_base: int
    value_micro: int

    @property
    def end_at(self) -> datetime | None:
        """When it expires or its opened container must go, whichever is first."""
        ends = (each for each in (self.expires_at, self.discard_at) if each is not None)
        return min(ends, default=None)


def lots_held(item_ids: Sequence[int] | None = None) -> list[LotHeld]:
    """All that is on hand, of some items or of all. One statement."""
    lots = Lot.objects.filter(on_hand_base__gt=0).order_by()
    if item_ids is not None:
        lots = lots.filter(item__in=item_ids)
    return list(map(LotHeld._make, lots.values_list(*LotHeld._fields)))


def on_hand(lots: Iterable[LotHeld], *, item_ids: Iterable[int], on: date) -> dict[int, OnHand]:
    """What is on hand now, by item id, each of them; the day decides what has expired."""
    found = {item_id: OnHand() for item_id in item_ids}
    good_until = day_end(on)
    for lot in lots:
        if lot.item_id in found:
            _add(found[lot.item_id], lot, on, good_until)
    return found


def _add(row: OnHand, lot: LotHeld, on: date, good_until: datetime) -> None:
    end, qty_base = lot.end_at, lot.on_hand_base
    if lot.owner:
        row.others_base += qty_base
    elif lot.disposition == Disposition.HELD:
        row.held_base += qty_base
    elif lot.disposition == Disposition.REJECTED:
        row.rejected_base += qty_base
    elif end is not None and end < good_until:
        row.expired_base += qty_base
    else:
        if lot.disposition == Disposition.QUARANTINED:
            row.quarantined_base += qty_base
        else:
            row.usable_base += qty_base
        if end is not None:
            row.endings.append(Ending((shop_day(end) - on).days, qty_base))

"""What stands on the shelves of items, by whether it can be counted on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

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


def on_hand(*, item_ids: Sequence[int], on: date) -> dict[int, OnHand]:
    """What is on hand now, by item id, each of them; the day decides what has expired.

    A lot ends when it expires or when its opened container must go, whichever is first. One
    statement.
    """
    found = {item_id: OnHand() for item_id in item_ids}
    good_until = day_end(on)
    lots = Lot.objects.filter(item__in=item_ids, on_hand_base__gt=0).values_list(
        "item_id", "owner", "disposition", "expires_at", "discard_at", "on_hand_base"
    )
    for item_id, owner, disposition, expires_at, discard_at, qty_base in lots.order_by():
        row = found[item_id]
        end = min((each for each in (expires_at, discard_at) if each is not None), default=None)
        if owner:
            row.others_base += qty_base
        elif disposition == Disposition.HELD:
            row.held_base += qty_base
        elif disposition == Disposition.REJECTED:
            row.rejected_base += qty_base
        elif end is not None and end < good_until:
            row.expired_base += qty_base
        else:
            if disposition == Disposition.QUARANTINED:
                row.quarantined_base += qty_base
            else:
                row.usable_base += qty_base
            if end is not None:
                row.endings.append(Ending((shop_day(end) - on).days, qty_base))
    return found

"""Stock that will expire before anybody can use it."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from inventory.reorder.rules.demand import rounded_down

if TYPE_CHECKING:
    from collections.abc import Iterable


class Ending(NamedTuple):
    """An amount on hand and the days until it may no longer be used, 0 for today."""

    days: int
    qty_base: int


def lost_base(*, endings: Iterable[Ending], mean_per_day_base: float, within_days: float) -> int:
    """Base units that will end unused within some days, at the mean use; rounded down.

    First expired, first out, which uses as much as can be used: no other order loses less. What
    ends later is not lost yet: it is looked at again before an order for it would be late.

    Args:
        endings: Amounts that expire, in any order.
        mean_per_day_base: Use of a day, >= 0.
        within_days: Days looked ahead: lead time and review.
    """
    used = lost = 0.0
    for ending in sorted(each for each in endings if each.days <= within_days):
        can_use = max(0.0, mean_per_day_base * ending.days - used)
        use = min(float(ending.qty_base), can_use)
        used += use
        lost += ending.qty_base - use
    return max(0, rounded_down(lost))

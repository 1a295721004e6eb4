"""How much to order and by when: economic quantity, price breaks, packs, shelf life."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from inventory.reorder.rules.demand import Spread, rounded_down

if TYPE_CHECKING:
    from collections.abc import Sequence


class PriceBreak(NamedTuple):
    """From this many packs on, every pack of the order costs this much."""

    packs_from: int
    pack_price_micro: int


class PackChoice(NamedTuple):
    """Packs to order; whether shelf life cut the order, or could not be kept."""

    packs: int
    is_cut: bool
    is_beyond_shelf_life: bool


def economic_quantity(
    *, use_per_year: float, order_cost_micro: float, holding_micro_per_year: float
) -> float:
    """Economic order quantity sqrt(2 D S / H): in packs if use and holding are by the pack.

    Source: F. W. Harris, "How Many Parts to Make at Once", Factory 10(2), 1913.
    """
    return math.sqrt(2 * use_per_year * order_cost_micro / holding_micro_per_year)


def cost_per_year_micro(
    *,
    packs: float,
    pack_price_micro: int,
    packs_per_year: float,
    order_cost_micro: float,
    holding_ratio_per_year: float,
) -> float:
    """Purchase, ordering and holding cost of a year when every order is `packs`, > 0."""
    ordering = packs_per_year / packs * order_cost_micro
    holding = holding_ratio_per_year * pack_price_micro * packs / 2
    return packs_per_year * pack_price_micro + ordering + holding


def cheapest_packs(
    *,
    price_breaks: Sequence[PriceBreak],
    packs_per_year: float,
    order_cost_micro: float,
    holding_ratio_per_year: float,
) -> float:
    """Packs an order at the least cost a year, a price holding for the whole order.

    Within a price's range the cost is convex, so its best is the economic quantity moved into the
    range; the cheapest of these is the answer.

    Source: S. Nahmias, Production and Operations Analysis, all-units quantity discounts.
    """
    breaks = sorted(price_breaks)
    ends = [each.packs_from - 1 for each in breaks[1:]] + [math.inf]
    costed: list[tuple[float, float]] = []
    for (start, price_micro), end in zip(breaks, ends, strict=True):
        economic = economic_quantity(
            use_per_year=packs_per_year,
            order_cost_micro=order_cost_micro,
            holding_micro_per_year=holding_ratio_per_year * price_micro,
        )
        packs = max(float(start), min(economic, end))
        cost = cost_per_year_micro(
            packs=packs,
            pack_price_micro=price_micro,
            packs_per_year=packs_per_year,
            order_cost_micro=order_cost_micro,
            holding_ratio_per_year=holding_ratio_per_year,
        )
        costed.append((cost, packs))
    return min(costed)[1]


def packs_for(
    *, wanted_base: int, owed_base: int, cap_base: int | None, pack_base: int, packs_min: int
) -> PackChoice:
    """Whole packs: rounded up, cut to the cap, never below the smallest order or what is owed.

    Args:
        wanted_base: Amount to order; 0 or less is no order.
        owed_base: Promised beyond all we have and expect, 0 <= owed_base.
        cap_base: Most that can be used before it expires; None for no limit.
        pack_base: Base units in a pack, >= 1.
        packs_min: Packs in the supplier's smallest order, >= 1.
    """
    if wanted_base <= 0:
        return PackChoice(0, is_cut=False, is_beyond_shelf_life=False)
    packs = max(packs_min, -(-wanted_base // pack_base))
    if cap_base is None:
        return PackChoice(packs, is_cut=False, is_beyond_shelf_life=False)
    kept = min(packs, max(packs_min, -(-owed_base // pack_base), cap_base // pack_base))
    return PackChoice(kept, is_cut=kept < packs, is_beyond_shelf_life=kept * pack_base > cap_base)


def owed(position_base: int) -> int:
    """What is promised beyond all we have and expect: the part of a position below zero."""
    return max(0, -position_base)


def shelf_cap(*, use: Spread, lead: Spread, position_base: int, shelf_life_days: int) -> int:
    """Base units of an order that can be used before they expire, rounded down.

    Use over the shelf life, less what is still here when the order comes (first expired, first
    out: the order waits behind it), plus what is already owed.
    """
    left_base = max(0.0, position_base - use.mean * lead.mean)
    usable_base = max(0, rounded_down(use.mean * shelf_life_days - left_base))
    return usable_base + owed(position_base)


def last_day_to_order(
    *, position_base: int, safety_base: int, use: Spread, lead: Spread
) -> int | None:
    """Days from today until the position less the use over lead time falls to the safety stock.

    Rounded down, since an order a day late is late; 0 when that day is past; None without use.
    """
    if use.mean == 0:
        return None
    spare_base = position_base - use.mean * lead.mean - safety_base
    return max(0, rounded_down(spare_base / use.mean))

"""How much to order and by when: economic quantity, price breaks, packs, shelf life."""

from __future__ import annotations

import math
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

from inventory.reorder.rules.demand import Spread, rounded_down

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from inventory.reorder.rules.forecast import Forecast


class PriceBreak(NamedTuple):
    """From this many packs on, every pack of the order costs this much."""

    packs_from: int
    pack_price_micro: int


class Limit(StrEnum):
    """What keeps an order small."""

    SHELF_LIFE = "its shelf life"
    STORAGE = "the room there is for it"
    CASH = "the most to spend on an order of it"


class PackChoice(NamedTuple):
    """Packs to order; the limits that cut them, and those that even the least oversteps."""

    packs: int
    cut_by: tuple[Limit, ...]
    overstepped: tuple[Limit, ...]


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


def whole_packs(packs: float) -> int:
    """The cheaper of the two whole numbers about an economic quantity, >= 1.

    The cost Q / 2 + E^2 / 2Q of n and of n + 1 is the same where E^2 = n (n + 1).
    """
    least = max(1, math.floor(packs))
    return least if packs**2 <= least * (least + 1) else least + 1


def packs_for(
    *,
    wanted_base: int,
    owed_base: int,
    caps_base: Mapping[Limit, int],
    pack_base: int,
    packs_min: int,
) -> PackChoice:
    """Whole packs: rounded up, cut to the caps, never below the smallest order or what is owed.

    Args:
        wanted_base: Amount to order; 0 or less is no order.
        owed_base: Promised beyond all we have and expect, 0 <= owed_base.
        caps_base: Most that each limit allows.
        pack_base: Base units in a pack, >= 1.
        packs_min: Packs in the supplier's smallest order, >= 1.
    """
    if wanted_base <= 0:
        return PackChoice(0, (), ())
    packs = max(packs_min, -(-wanted_base // pack_base))
    least = max(packs_min, -(-owed_base // pack_base))
    kept = min([packs, *(max(least, cap // pack_base) for cap in caps_base.values())])
    return PackChoice(
        kept,
        tuple(
            each
            for each, cap in caps_base.items()
            if kept < packs and kept == max(least, cap // pack_base)
        ),
        tuple(each for each, cap in caps_base.items() if kept * pack_base > cap),
    )


def owed(position_base: int) -> int:
    """What is promised beyond all we have and expect: the part of a position below zero."""
    return max(0, -position_base)


def shelf_cap(*, forecast: Forecast, lead: Spread, position_base: int, shelf_life_days: int) -> int:
    """Base units of an order that will be used before they expire, rounded down.

    Use up to the day it expires, less a standard deviation so that five in six are used, less what
    is used first (first expired, first out): what is here or on order, or what is used before it
    comes. Plus what is already owed.
    """
    ends = forecast.over(lead.mean + shelf_life_days)
    first = max(float(position_base), forecast.mean_over(lead.mean))
    return max(0, rounded_down(ends.mean - ends.sd - first)) + owed(position_base)


def storage_cap(*, forecast: Forecast, lead: Spread, position_base: int, room_base: int) -> int:
    """Base units for which there will be room when the order comes, rounded down."""
    left = max(0.0, position_base - forecast.mean_over(lead.mean))
    return max(0, rounded_down(room_base - left))


def cash_cap(*, price_breaks: Sequence[PriceBreak], pack_base: int, most_micro: int) -> int | None:
    """Base units that so much money buys, at the price of that many; None without a price."""
    breaks = sorted(price_breaks)
    if not breaks or not breaks[0].pack_price_micro:
        return None
    packs = 0
    for at, (start, price_micro) in enumerate(breaks):
        if not price_micro:
            return None
        end = breaks[at + 1].packs_from - 1 if at + 1 < len(breaks) else math.inf
        can = min(most_micro // price_micro, end)
        if at == 0 or can >= start:
            packs = int(can)
    return packs * pack_base


def last_day_to_order(
    *, position_base: int, safety_base: float, forecast: Forecast, lead: Spread
) -> int | None:
    """Days from today until the position less the use over lead time falls to the safety stock.

    Rounded down, since an order a day late is late; 0 when that day is past; None without use.
    """
    if not forecast.yearly_base:
        return None
    lasts = forecast.days_of(position_base - safety_base)
    return None if math.isinf(lasts) else max(0, rounded_down(lasts - lead.mean))

"""How each item is ordered: as a person set it, else as its price and its packs suggest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from batches.planning.models import PlanningPolicy
from batches.planning.rules.lot_sizing import METHODS, Sizing
from batches.planning.rules.methods import NO_LIMIT, LotSizing
from batches.planning.rules.weeks import DAYS_PER_WEEK
from batches.planning.selectors.supply import Shelf
from inventory.catalog.models import Item
from inventory.reorder.models import ReorderPolicy
from inventory.reorder.rules import HOLDING_RATIO_PER_YEAR_DEFAULT, ORDER_COST_MICRO_DEFAULT
from inventory.reorder.selectors.buying import UsedOffer

_WEEKS_PER_YEAR: Final = 365 / DAYS_PER_WEEK
_MINUTES_PER_WEEK: Final = DAYS_PER_WEEK * 24 * 60


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemSizing:
    """How one item is ordered; see `Sizing`.

    Attributes:
        is_set: A person chose the way.
        order_cost_micro: Of placing an order or setting up.
        keeping_micro: Of keeping a base unit for a week; 0: not known.
    """

    method: LotSizing
    is_set: bool
    lot_base: int
    weeks_max: int
    pack_base: int
    least_base: int
    order_cost_micro: int
    keeping_micro: float

    @property
    def balance(self) -> float:
        """Base units times weeks that are worth an order."""
        return self.order_cost_micro / self.keeping_micro if self.keeping_micro else 0.0


def item_sizing(
    item: Item, *, is_made: bool, offer: UsedOffer | None, shelf: Shelf | None
) -> ItemSizing:
    """Of one item. No statement where its policies are loaded.

    What is bought at a known price is ordered at the least cost; all else lot for lot.
    """
    policy: PlanningPolicy | None = getattr(item, "planning_policy", None)
    buying: ReorderPolicy | None = getattr(item, "reorder_policy", None)
    used = None if is_made else offer
    keeping_micro = _unit_micro(used, shelf) * _holding_ratio(buying) / _WEEKS_PER_YEAR
    usual = LotSizing.WAGNER_WHITIN if used and keeping_micro else LotSizing.LOT_FOR_LOT
    chosen = policy.lot_sizing if policy else ""
    method = LotSizing(chosen) if chosen else usual
    weeks_max = _weeks_kept(item, is_made=is_made)
    if method is LotSizing.PERIOD and policy and policy.weeks_served:
        weeks_max = min(weeks_max, policy.weeks_served)
    order_cost_micro = buying.order_cost_micro if buying else None
    return ItemSizing(
        method=method,
        is_set=bool(chosen),
        lot_base=(policy.lot_base if policy else None) or 1,
        weeks_max=weeks_max,
        pack_base=used.pack_base if used else 1,
        least_base=used.pack_base * used.packs_min if used else 1,
        order_cost_micro=(
            ORDER_COST_MICRO_DEFAULT if order_cost_micro is None else order_cost_micro
        ),
        keeping_micro=keeping_micro,
    )


def stacked(sizings: Sequence[ItemSizing]) -> Sizing:
    """All of them as arrays."""
    return Sizing(
        method=np.array([METHODS.index(each.method) for each in sizings], np.int8),
        lot_base=np.array([each.lot_base for each in sizings], np.int64),
        weeks_max=np.array([each.weeks_max for each in sizings], np.int64),
        balance=np.array([each.balance for each in sizings], np.float64),
        pack_base=np.array([each.pack_base for each in sizings], np.int64),
        least_base=np.array([each.least_base for each in sizings], np.int64),
    )


def _holding_ratio(policy: ReorderPolicy | None) -> float:
    ratio = policy.holding_ratio_per_year if policy else None
    return float(HOLDING_RATIO_PER_YEAR_DEFAULT if ratio is None else ratio)


def _unit_micro(offer: UsedOffer | None, shelf: Shelf | None) -> float:
    """What a base unit costs: as offered, else as what is on hand did; 0: not known."""
    price_micro = offer.pack_price_micro(offer.packs_min) if offer else None
    if offer and price_micro is not None:
        return price_micro / offer.pack_base
    return shelf.value_micro / shelf.counted_base if shelf and shelf.counted_base else 0.0


def _weeks_kept(item: Item, *, is_made: bool) -> int:
    """Weeks that an order may serve before it expires, at least the one it comes in."""
    if is_made:
        life = item.made_life_minutes
        return NO_LIMIT if life is None else max(1, life // _MINUTES_PER_WEEK)
    days = item.shelf_life_days
    return NO_LIMIT if days is None else max(1, days // DAYS_PER_WEEK)

"""The advice on one item: what goes in, what comes out."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import TYPE_CHECKING, Final

from inventory.reorder.rules.compound import Uses
from inventory.reorder.rules.demand import (
    LeadTimeSource,
    Spread,
    lead_time,
    rounded_up,
    use_per_day,
)
from inventory.reorder.rules.forecast import Forecast, steady
from inventory.reorder.rules.outlook import LATER_DAYS, Outlook, outlook
from inventory.reorder.rules.pattern import SELDOM, Pattern
from inventory.reorder.rules.points import (
    DemandRule,
    ReorderPoint,
    Service,
    cycle_point,
    fill_point,
    point_set_by_hand,
)
from inventory.reorder.rules.quantity import (
    Limit,
    PackChoice,
    PriceBreak,
    cash_cap,
    cheapest_packs,
    last_day_to_order,
    owed,
    packs_for,
    shelf_cap,
    storage_cap,
    whole_packs,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    import numpy.typing as npt

SERVICE_LEVEL_ABOVE: Final = Decimal("0.5")
"""One half needs no safety stock, and less would take it away."""

SERVICE_LEVEL_MAX: Final = Decimal("0.9999")
"""Further out the tail of any fitted distribution is a guess."""


class Fault(StrEnum):
    """What makes advice impossible; `errors.py` has the words for each."""

    SERVICE_LEVEL_OUTSIDE = "service_level_outside"
    NO_USE_HISTORY = "no_use_history"
    USED_ONCE = "used_once"
    LEAD_TIME_UNKNOWN = "lead_time_unknown"
    LEAD_TIME_NEGATIVE = "lead_time_negative"
    LEAD_TIME_ZERO = "lead_time_zero"


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class ReorderInputs:
    """Everything the advice on one item rests on.

    Attributes:
        use_base_by_day: `(days,)` int64 base units, >= 0, oldest day first; days without use are 0.
        forecast: Made of the same days; None where they are too few to choose a method by.
        lead_times_days: Days from order to receipt, one a received order.
        lead_time_quoted_days: The supplier's word.
        review_days: Days between two looks at the reorder list, >= 0.
        service: What the service level is a share of.
        service_level: Share of use that shall find what it needs on the shelf, or of order cycles
            that shall pass without a stock-out: (0.5, 0.9999].
        pack_base: Base units in the supplier's pack, >= 1.
        packs_min: Packs in the supplier's smallest order, >= 1.
        shelf_life_days: Days an order keeps after receipt, >= 0; None when it does not spoil.
        opened_life_days: Days an opened pack keeps, > 0; None when that does not matter.
        price_breaks: The supplier's prices; empty when none is known.
        order_cost_micro: Cost of placing and receiving one order.
        holding_ratio_per_year: Cost of holding a year, as a share of value.
        room_base: Most that there is room for.
        order_value_max_micro: Most to spend on one order.
        point_set_base: A person's reorder point, >= 0; it stands, and needs no history of use.
    """

    use_base_by_day: npt.NDArray[np.int64]
    lead_times_days: Sequence[int]
    lead_time_quoted_days: int | None
    review_days: int
    service_level: Decimal
    on_hand_base: int
    on_order_base: int
    promised_base: int
    service: Service = Service.FILL
    forecast: Forecast | None = None
    pack_base: int = 1
    packs_min: int = 1
    shelf_life_days: int | None = None
    opened_life_days: float | None = None
    price_breaks: tuple[PriceBreak, ...] = ()
    order_cost_micro: int | None = None
    holding_ratio_per_year: Decimal | None = None
    room_base: int | None = None
    order_value_max_micro: int | None = None
    point_set_base: int | None = None

    @property
    def position_base(self) -> int:
        """On hand and on order, less promised; may be below zero."""
        return self.on_hand_base + self.on_order_base - self.promised_base


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class ReorderAdvice:
    """The advice and every figure it rests on.

    Attributes:
        use_per_day_base: Of the days on record.
        forecast: Of the days to come.
        demand_base: Use over lead time and review, as forecast.
        economic_base: Economic order quantity before rounding; None without prices and costs.
        order_base: The size of an order that the reorder point reckons with.
        need_base: What lifts the position to the reorder point plus the review's expected use.
        caps_base: Most that each limit allows.
        choice: Packs to order, and what cut them.
        wasted_ratio: Share of an opened pack that its opened life leaves unused.
        order_by_days: Days from today to the last day to order, 0 today; None without use.
    """

    history_days: int
    use_per_day_base: Spread
    forecast: Forecast
    lead_time_days: Spread
    lead_time_source: LeadTimeSource
    demand_base: Spread
    demand_rule: DemandRule
    safety_stock_base: int
    reorder_point_base: int
    position_base: int
    economic_base: float | None
    order_base: float
    need_base: int
    caps_base: dict[Limit, int]
    choice: PackChoice
    suggested_base: int
    wasted_ratio: float
    outlook: Outlook
    order_by_days: int | None

    @property
    def suggested_packs(self) -> int:
        """Packs to order, 0 when none is due."""
        return self.choice.packs

    @property
    def shelf_cap_base(self) -> int | None:
        """Most that will be used before it expires; None when it does not spoil."""
        return self.caps_base.get(Limit.SHELF_LIFE)


def first_fault(inputs: ReorderInputs) -> Fault | None:
    """What stands in the way of advice, or None; to be asked before `advise`."""
    if not SERVICE_LEVEL_ABOVE < inputs.service_level <= SERVICE_LEVEL_MAX:
        return Fault.SERVICE_LEVEL_OUTSIDE
    fault = _history_fault(inputs.use_base_by_day) if inputs.point_set_base is None else None
    return fault or _lead_time_fault(inputs.lead_times_days, inputs.lead_time_quoted_days)


def advise(inputs: ReorderInputs) -> ReorderAdvice:
    """Advise on one item that has no fault.

    An order is due once the position has fallen to the reorder point. It is the economic quantity
    or the need, whichever is more, in whole packs, cut to what shelf life, room and cash allow.
    """
    _assert_meant(inputs)
    use = use_per_day(inputs.use_base_by_day)
    forecast = inputs.forecast or steady(use, len(inputs.use_base_by_day))
    lead, source = lead_time(inputs.lead_times_days, inputs.lead_time_quoted_days)
    demand = use_until(forecast, lead, inputs.review_days)
    review_base = demand.mean - forecast.mean_over(lead.mean)
    position = inputs.position_base
    economic = _economic_base(inputs, yearly_base=forecast.yearly_base)
    caps = _caps_base(inputs, forecast=forecast, lead=lead)
    economic_whole = (
        0 if economic is None else whole_packs(economic / inputs.pack_base) * inputs.pack_base
    )
    order_base = _order_base(inputs, caps, max(economic_whole, review_base))
    point = _point(inputs, forecast=forecast, lead=lead, order_base=order_base)
    need = max(0, point.point_base + rounded_up(review_base) - position)
    least = 1 if forecast.yearly_base else 0  # at the point itself, without review, the need is 0
    wanted = max(need, economic_whole, least)
    choice = packs_for(
        wanted_base=wanted if position <= point.point_base else 0,
        owed_base=owed(position),
        caps_base=caps,
        pack_base=inputs.pack_base,
        packs_min=inputs.packs_min,
    )
    return ReorderAdvice(
        history_days=len(inputs.use_base_by_day),
        use_per_day_base=use,
        forecast=forecast,
        lead_time_days=lead,
        lead_time_source=source,
        demand_base=demand,
        demand_rule=point.rule,
        safety_stock_base=point.safety_base,
        reorder_point_base=point.point_base,
        position_base=position,
        economic_base=economic,
        order_base=order_base,
        need_base=need,
        caps_base=caps,
        choice=choice,
        suggested_base=choice.packs * inputs.pack_base,
        wasted_ratio=_wasted_ratio(inputs, per_day=use.mean),
        outlook=outlook(
            position_base=position,
            today=use_until(forecast, lead, 0),
            later=use_until(forecast, lead, LATER_DAYS),
            forecast=forecast,
        ),
        order_by_days=last_day_to_order(
            position_base=position,
            # Exact: rounded up it would take a day off.
            safety_base=max(0.0, point.point_base - demand.mean),
            forecast=forecast,
            lead=lead,
        ),
    )


def use_until(forecast: Forecast, lead: Spread, more_days: float) -> Spread:
    """Use over lead time and some days more: sd = sqrt(sd_use^2 + d^2 sd_L^2), d the use of a day.

    Source: S. Chopra & P. Meindl, Supply Chain Management, chapter on safety inventory.
    """
    days = lead.mean + more_days
    use = forecast.over(days)
    per_day = forecast.mean_over(days + 0.5) - forecast.mean_over(max(0.0, days - 0.5))
    return Spread(use.mean, math.hypot(use.sd, per_day * lead.sd))


def _history_fault(use_base_by_day: npt.NDArray[np.int64]) -> Fault | None:
    import numpy as np  # noqa: PLC0415 - heavy, and not needed to start

    if len(use_base_by_day) == 0:
        return Fault.NO_USE_HISTORY
    return Fault.USED_ONCE if np.count_nonzero(use_base_by_day) == 1 else None


def _lead_time_fault(received_days: Sequence[int], quoted_days: int | None) -> Fault | None:
    days = list(received_days) or ([] if quoted_days is None else [quoted_days])
    if not days:
        return Fault.LEAD_TIME_UNKNOWN
    if min(days) < 0:
        return Fault.LEAD_TIME_NEGATIVE
    return Fault.LEAD_TIME_ZERO if max(days) == 0 else None


def _assert_meant(inputs: ReorderInputs) -> None:
    """Our own mistakes: the database refuses these, or `first_fault` was not asked."""
    assert first_fault(inputs) is None
    assert inputs.review_days >= 0
    assert inputs.pack_base >= 1
    assert inputs.packs_min >= 1
    assert inputs.point_set_base is None or inputs.point_set_base >= 0
    assert inputs.shelf_life_days is None or inputs.shelf_life_days >= 0
    assert all(each.pack_price_micro >= 0 for each in inputs.price_breaks)


def _point(
    inputs: ReorderInputs, *, forecast: Forecast, lead: Spread, order_base: float
) -> ReorderPoint:
    until = use_until(forecast, lead, inputs.review_days)
    if inputs.point_set_base is not None:
        return point_set_by_hand(point_base=inputs.point_set_base, demand=until)
    uses = None
    if forecast.pattern in SELDOM:
        used = inputs.use_base_by_day
        uses = Uses(used[used > 0], is_unequal=forecast.pattern is Pattern.LUMPY)
    level = float(inputs.service_level)
    if inputs.service is Service.CYCLE:
        return cycle_point(until=until, service_level=level, uses=uses)
    return fill_point(
        before=use_until(forecast, lead, 0),
        # Somebody who looks all the time looks once a day.
        until=use_until(forecast, lead, 1) if inputs.review_days == 0 else until,
        order_base=order_base,
        fill_rate=level,
        uses=uses,
    )


def _economic_base(inputs: ReorderInputs, *, yearly_base: float) -> float | None:
    """None when a cost is unknown or nothing: a free item has no economic quantity."""
    order_cost, holding = inputs.order_cost_micro, inputs.holding_ratio_per_year
    prices_micro = [each.pack_price_micro for each in inputs.price_breaks]
    if not (order_cost and holding and yearly_base and prices_micro and all(prices_micro)):
        return None
    packs = cheapest_packs(
        price_breaks=inputs.price_breaks,
        packs_per_year=yearly_base / inputs.pack_base,
        order_cost_micro=order_cost,
        holding_ratio_per_year=float(holding),
    )
    # A year's use at most: further ahead nobody knows. Common practice, no source.
    return min(packs * inputs.pack_base, yearly_base)


def _order_base(inputs: ReorderInputs, caps_base: dict[Limit, int], wanted_base: float) -> float:
    """The size orders will have: no less than the least, no more than the limits, as of today."""
    least = float(inputs.pack_base * inputs.packs_min)
    lasting = [cap for limit, cap in caps_base.items() if limit is Limit.CASH]
    return max(least, min([wanted_base, *lasting]))


def _caps_base(inputs: ReorderInputs, *, forecast: Forecast, lead: Spread) -> dict[Limit, int]:
    position = inputs.position_base
    caps: dict[Limit, int] = {}
    if inputs.shelf_life_days is not None:
        caps[Limit.SHELF_LIFE] = shelf_cap(
            forecast=forecast,
            lead=lead,
            position_base=position,
            shelf_life_days=inputs.shelf_life_days,
        )
    if inputs.room_base is not None:
        caps[Limit.STORAGE] = storage_cap(
            forecast=forecast, lead=lead, position_base=position, room_base=inputs.room_base
        )
    if inputs.order_value_max_micro is not None:
        cash = cash_cap(
            price_breaks=inputs.price_breaks,
            pack_base=inputs.pack_base,
            most_micro=inputs.order_value_max_micro,
        )
        caps |= {} if cash is None else {Limit.CASH: cash}
    return caps


def _wasted_ratio(inputs: ReorderInputs, *, per_day: float) -> float:
    """What of an opened pack is left when its opened life ends."""
    if inputs.opened_life_days is None or not per_day:
        return 0.0
    return max(0.0, 1 - per_day * inputs.opened_life_days / inputs.pack_base)

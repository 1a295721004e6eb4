"""The advice on one item: what goes in, what comes out, and the words for why."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import TYPE_CHECKING, Final

from inventory.reorder.rules.demand import (
    SLOW_MEAN_BELOW_BASE,
    DemandRule,
    LeadTimeSource,
    ReorderPoint,
    Spread,
    demand_over,
    lead_time,
    point_set_by_hand,
    reorder_point,
    rounded_up,
    use_per_day,
)
from inventory.reorder.rules.quantity import (
    PackChoice,
    PriceBreak,
    cheapest_packs,
    last_day_to_order,
    owed,
    packs_for,
    shelf_cap,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    import numpy.typing as npt

SERVICE_LEVEL_ABOVE: Final = Decimal("0.5")
"""One half needs no safety stock, and less would take it away."""

SERVICE_LEVEL_MAX: Final = Decimal("0.9999")
"""Further out the tail of any fitted distribution is a guess."""

_DAYS_PER_YEAR: Final = 365
_HISTORY_DAYS_ENOUGH: Final = 28  # four weeks; common practice, no source


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
        lead_times_days: Days from order to receipt, one a received order.
        lead_time_quoted_days: The supplier's word, used only when no order was received yet.
        review_days: Days between two looks at the reorder list, >= 0.
        service_level: Share of order cycles that shall pass without a stock-out, (0.5, 0.9999].
        pack_base: Base units in the supplier's pack, >= 1.
        packs_min: Packs in the supplier's smallest order, >= 1.
        shelf_life_days: Days an order keeps after receipt, >= 0; None when it does not spoil.
        price_breaks: The supplier's prices; empty when none is known.
        order_cost_micro: Cost of placing and receiving one order.
        holding_ratio_per_year: Cost of holding a year, as a share of value.
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
    pack_base: int = 1
    packs_min: int = 1
    shelf_life_days: int | None = None
    price_breaks: tuple[PriceBreak, ...] = ()
    order_cost_micro: int | None = None
    holding_ratio_per_year: Decimal | None = None
    point_set_base: int | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class ReorderAdvice:
    """The advice and every figure it rests on.

    Attributes:
        demand_base: Use over lead time and review.
        economic_base: Economic order quantity before rounding; None without prices and costs.
        need_base: What lifts the position to the reorder point plus the review's expected use.
        shelf_cap_base: Most that can be used before it expires; None when it does not spoil.
        order_by_days: Days from today to the last day to order, 0 today; None without use.
        why: Sentences without amounts: those are in the figures, for the page to put in units.
    """

    history_days: int
    use_per_day_base: Spread
    lead_time_days: Spread
    lead_time_source: LeadTimeSource
    demand_base: Spread
    demand_rule: DemandRule
    safety_stock_base: int
    reorder_point_base: int
    position_base: int
    economic_base: float | None
    need_base: int
    shelf_cap_base: int | None
    suggested_packs: int
    suggested_base: int
    order_by_days: int | None
    why: tuple[str, ...]


def first_fault(inputs: ReorderInputs) -> Fault | None:
    """What stands in the way of advice, or None; to be asked before `advise`."""
    if not SERVICE_LEVEL_ABOVE < inputs.service_level <= SERVICE_LEVEL_MAX:
        return Fault.SERVICE_LEVEL_OUTSIDE
    fault = _history_fault(inputs.use_base_by_day) if inputs.point_set_base is None else None
    return fault or _lead_time_fault(inputs.lead_times_days, inputs.lead_time_quoted_days)


def advise(inputs: ReorderInputs) -> ReorderAdvice:
    """Advise on one item that has no fault.

    An order is due once the position has fallen to the reorder point. It is the economic quantity
    or the need, whichever is more, in whole packs, cut to what shelf life lets us use.
    """
    _assert_meant(inputs)
    use = use_per_day(inputs.use_base_by_day)
    lead, source = lead_time(inputs.lead_times_days, inputs.lead_time_quoted_days)
    demand = demand_over(use=use, lead=lead, review_days=inputs.review_days)
    point = _point(inputs, demand=demand)
    position = inputs.on_hand_base + inputs.on_order_base - inputs.promised_base
    economic = _economic_base(inputs, use=use)
    need = max(0, point.point_base + rounded_up(use.mean * inputs.review_days) - position)
    least = 1 if use.mean > 0 else 0  # at the point itself, without review, the need is still 0
    cap = _shelf_cap_base(inputs, use=use, lead=lead, position_base=position)
    wanted = max(need, rounded_up(economic or 0.0), least)
    choice = packs_for(
        wanted_base=wanted if position <= point.point_base else 0,
        owed_base=owed(position),
        cap_base=cap,
        pack_base=inputs.pack_base,
        packs_min=inputs.packs_min,
    )
    return ReorderAdvice(
        history_days=len(inputs.use_base_by_day),
        use_per_day_base=use,
        lead_time_days=lead,
        lead_time_source=source,
        demand_base=demand,
        demand_rule=point.rule,
        safety_stock_base=point.safety_base,
        reorder_point_base=point.point_base,
        position_base=position,
        economic_base=economic,
        need_base=need,
        shelf_cap_base=cap,
        suggested_packs=choice.packs,
        suggested_base=choice.packs * inputs.pack_base,
        order_by_days=last_day_to_order(
            position_base=position, safety_base=point.safety_base, use=use, lead=lead
        ),
        why=(
            *_why_use(inputs.use_base_by_day),
            _why_lead(lead=lead, source=source, received=len(inputs.lead_times_days)),
            _WHY_POINT[point.rule],
            *_why_order(choice=choice, economic_base=economic, need_base=need, use=use),
        ),
    )


def _history_fault(use_base_by_day: npt.NDArray[np.int64]) -> Fault | None:
    if len(use_base_by_day) == 0:
        return Fault.NO_USE_HISTORY
    return Fault.USED_ONCE if int((use_base_by_day != 0).sum()) == 1 else None


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


def _point(inputs: ReorderInputs, *, demand: Spread) -> ReorderPoint:
    if inputs.point_set_base is not None:
        return point_set_by_hand(point_base=inputs.point_set_base, demand=demand)
    return reorder_point(demand=demand, service_level=inputs.service_level)


def _economic_base(inputs: ReorderInputs, *, use: Spread) -> float | None:
    """None when a cost is unknown or nothing: a free item has no economic quantity."""
    order_cost, holding = inputs.order_cost_micro, inputs.holding_ratio_per_year
    prices_micro = [each.pack_price_micro for each in inputs.price_breaks]
    if not (order_cost and holding and use.mean and prices_micro and all(prices_micro)):
        return None
    packs = cheapest_packs(
        price_breaks=inputs.price_breaks,
        packs_per_year=use.mean * _DAYS_PER_YEAR / inputs.pack_base,
        order_cost_micro=order_cost,
        holding_ratio_per_year=float(holding),
    )
    return packs * inputs.pack_base


def _shelf_cap_base(
    inputs: ReorderInputs, *, use: Spread, lead: Spread, position_base: int
) -> int | None:
    if inputs.shelf_life_days is None:
        return None
    return shelf_cap(
        use=use,
        lead=lead,
        position_base=position_base,
        shelf_life_days=inputs.shelf_life_days,
    )


_WHY_POINT: Final = {
    DemandRule.NORMAL: "Safety stock from the normal curve over lead time and review.",
    DemandRule.POISSON: (
        f"Slow mover, under {SLOW_MEAN_BELOW_BASE} units over lead time and review: "
        "the smallest point that covers Poisson demand."
    ),
    DemandRule.NEGATIVE_BINOMIAL: (
        f"Slow mover used in lumps, under {SLOW_MEAN_BELOW_BASE} units over lead time and review: "
        "the smallest point that covers negative binomial demand."
    ),
    DemandRule.SET_BY_HAND: "The reorder point was set by hand.",
}


def _why_use(use_base_by_day: npt.NDArray[np.int64]) -> list[str]:
    days = len(use_base_by_day)
    said = [f"Use over {days} days of history."]
    if not use_base_by_day.any():
        said.append("Nothing was used in that time.")
    elif days < _HISTORY_DAYS_ENOUGH:
        said.append(f"Under {_HISTORY_DAYS_ENOUGH} days, mean and spread are a rough guess.")
    return said


def _why_lead(*, lead: Spread, source: LeadTimeSource, received: int) -> str:
    if source is LeadTimeSource.QUOTED:
        return f"No order received yet: the quoted {lead.mean:.0f} days are taken as certain."
    if received == 1:
        return f"Lead time of the one received order, {lead.mean:.0f} days, taken as certain."
    return (
        f"Lead time of {received} received orders: mean {lead.mean:.1f} days, "
        f"standard deviation {lead.sd:.1f}."
    )


def _why_order(
    *, choice: PackChoice, economic_base: float | None, need_base: int, use: Spread
) -> list[str]:
    if choice.packs == 0:
        return ["The position is above the reorder point: no order yet."] if use.mean else []
    said = ["The position has fallen to the reorder point."]
    if economic_base is None:
        said.append("Without prices and costs the order covers the need only, in whole packs.")
    elif economic_base > need_base:
        said.append("The order is the economic order quantity, in whole packs.")
    else:
        said.append("The order is the need, no less than the economic quantity, in whole packs.")
    if choice.is_cut:
        said.append("Cut to what can be used within its shelf life.")
    if choice.is_beyond_shelf_life:
        said.append("Even the least that can be ordered cannot all be used within its shelf life.")
    return said

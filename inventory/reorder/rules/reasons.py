"""Why the advice is what it is: sentences without amounts, which the page puts in units."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from inventory.reorder.rules.demand import QUOTE_ORDERS, LeadTimeSource
from inventory.reorder.rules.points import SLOW_MEAN_BELOW_BASE, DemandRule, Service

if TYPE_CHECKING:
    from inventory.reorder.rules.advice import ReorderAdvice, ReorderInputs

_HISTORY_DAYS_ENOUGH: Final = 28  # four weeks; common practice, no source

_POINT: Final = {
    DemandRule.NORMAL: "Safety stock from the normal curve over lead time and review.",
    DemandRule.GAMMA: "Safety stock from a gamma curve over lead time and review.",
    DemandRule.POISSON: (
        f"Slow mover, under {SLOW_MEAN_BELOW_BASE} units over lead time and review: "
        "the smallest point that covers Poisson demand."
    ),
    DemandRule.NEGATIVE_BINOMIAL: (
        f"Slow mover used in lumps, under {SLOW_MEAN_BELOW_BASE} units over lead time and review: "
        "the smallest point that covers negative binomial demand."
    ),
    DemandRule.COMPOUND: (
        "Used seldom: the smallest point for uses that come by chance, each as large as those "
        "on record."
    ),
    DemandRule.SET_BY_HAND: "The reorder point was set by hand.",
}


def reasons(inputs: ReorderInputs, advice: ReorderAdvice) -> tuple[str, ...]:
    """From use to order."""
    return (
        *_of_use(inputs, advice),
        _of_lead(inputs, advice),
        *_of_point(inputs, advice),
        *_of_order(advice),
    )


def _of_use(inputs: ReorderInputs, advice: ReorderAdvice) -> list[str]:
    days = advice.history_days
    said = [f"Use over {days} days of history."]
    if not inputs.use_base_by_day.any():
        said.append("Nothing was used in that time.")
    elif days < _HISTORY_DAYS_ENOUGH:
        said.append(f"Under {_HISTORY_DAYS_ENOUGH} days, mean and spread are a rough guess.")
    if inputs.forecast is not None:
        said.append(
            f"Use is {advice.forecast.pattern}; forecast by the {advice.forecast.method}, "
            "which did best in forecasts from its own past."
        )
    return said


def _of_lead(inputs: ReorderInputs, advice: ReorderAdvice) -> str:
    mean, sd = advice.lead_time_days
    spread = f"{mean:.1f} days, standard deviation {sd:.1f}"
    received = len(inputs.lead_times_days)
    orders = "one received order" if received == 1 else f"{received} received orders"
    if advice.lead_time_source is LeadTimeSource.QUOTED:
        return f"No order received yet: lead time as quoted, {spread} taken for granted."
    if advice.lead_time_source is LeadTimeSource.RECEIVED:
        return f"Lead time of {orders}: {spread}."
    share = QUOTE_ORDERS / (QUOTE_ORDERS + received)
    return f"Lead time of {orders} and, at {share:.0%}, of the quote: {spread}."


def _of_point(inputs: ReorderInputs, advice: ReorderAdvice) -> list[str]:
    said = [_POINT[advice.demand_rule]]
    if advice.demand_rule is DemandRule.SET_BY_HAND:
        return said
    level = f"{inputs.service_level * 100:f}".rstrip("0").rstrip(".")
    if inputs.service is Service.FILL:
        said.append(f"Of all that is needed, {level} % shall be on the shelf when it is needed.")
        if advice.reorder_point_base < advice.demand_base.mean:
            said.append(
                "Orders are so large that the shelf may be empty at the end of some of them."
            )
    else:
        said.append(f"Of all orders, {level} % shall come before the shelf is empty.")
    return said


def _of_order(advice: ReorderAdvice) -> list[str]:
    said = []
    if advice.wasted_ratio > 0:
        said.append(
            f"Of an opened pack {advice.wasted_ratio:.0%} is not used within its opened life: "
            "look for a smaller one."
        )
    if advice.choice.packs == 0:
        if advice.forecast.yearly_base:
            said.append("The position is above the reorder point: no order yet.")
        return said
    said.append("The position has fallen to the reorder point.")
    if advice.economic_base is None:
        said.append("Without prices and costs the order covers the need only, in whole packs.")
    elif advice.economic_base > advice.need_base:
        said.append("The order is the economic order quantity, in whole packs.")
    else:
        said.append("The order is the need, no less than the economic quantity, in whole packs.")
    said += [f"Cut to {each}." for each in advice.choice.cut_by]
    said += [
        f"Even the least that can be ordered is more than {each} allows."
        for each in advice.choice.overstepped
    ]
    return said

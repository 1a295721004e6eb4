"""Why a line of the reorder list says what it says, with amounts in the unit people see."""

from __future__ import annotations

from inventory.catalog.selectors import measure_of
from inventory.reorder.rules import Limit, ReorderAdvice, reasons
from inventory.reorder.selectors.rows import ReorderRow
from shopfloor.money import money_text
from shopfloor.units import display, in_words


def why(row: ReorderRow) -> list[str]:
    """The figures first, then the reasons. No query."""
    said = [_position(row)]
    if row.advice is None:
        assert row.no_advice is not None
        if row.is_point_set:
            said.append(_point(row))
        return [*said, row.no_advice.detail]
    if row.advice.history_days:
        said.append(_use(row, row.advice))
    said.append(_point(row))
    said += _order(row, row.advice)
    said += _outlook(row, row.advice)
    return [*said, *reasons(row.inputs, row.advice)]


def in_short(row: ReorderRow) -> str:
    """Why now, or why not yet, in one sentence. No query."""
    if row.no_advice is not None:
        return row.no_advice.detail
    point = "" if row.reorder_point_base is None else _shown(row, row.reorder_point_base)
    left = f"{_shown(row, row.position_base)} left and on order"
    if row.days_left is None:
        return f"{left}; nothing is used."
    days = "" if row.cover_days is None else f", for {max(0, row.cover_days):,.0f} days"
    is_below = "at or below" if row.is_due else "above"
    return f"{left}{days}: {is_below} the reorder point of {point}."


def _shown(row: ReorderRow, qty_base: float) -> str:
    return display(round(qty_base), row.item.display_unit, measure_of(row.item))


def _position(row: ReorderRow) -> str:
    parts = [f"{_shown(row, row.usable_base)} usable on hand"]
    if row.quarantined_base:
        parts.append(f"{_shown(row, row.quarantined_base)} in quarantine")
    if row.on_order_base:
        parts.append(f"{_shown(row, row.on_order_base)} on order")
    if row.promised_base:
        parts.append(f"less {_shown(row, row.promised_base)} promised")
    if row.expiring_base:
        parts.append(f"less {_shown(row, row.expiring_base)} that expires before it can be used")
    return f"Position {_shown(row, row.position_base)}: {', '.join(parts)}."


def _use(row: ReorderRow, advice: ReorderAdvice) -> str:
    mean, sd = (row.rate(each) for each in advice.use_per_day_base)
    return f"Use {in_words(mean, row.item.display_unit)} a day, standard deviation {sd:,f}."


def _point(row: ReorderRow) -> str:
    point_base = row.reorder_point_base
    assert point_base is not None
    if row.is_point_set:
        return f"Reorder point {_shown(row, point_base)}, set by hand."
    assert row.advice is not None
    days = row.advice.lead_time_days.mean + row.inputs.review_days
    return (
        f"Reorder point {_shown(row, point_base)}: "
        f"{_shown(row, row.advice.demand_base.mean)} for {days:.4g} days of lead time and review, "
        f"{_shown(row, row.advice.safety_stock_base)} safety stock."
    )


def _order(row: ReorderRow, advice: ReorderAdvice) -> list[str]:
    said = []
    if row.order_by is not None and row.days_left is not None:
        said.append(f"Last day to order: {row.order_by.isoformat()}, {_days(row.days_left)}.")
    if not advice.suggested_packs:
        return said
    if row.offer is None:
        said.append(f"Order {_shown(row, advice.suggested_base)}; nobody offers it yet.")
        return said
    value_micro = row.suggested_value_micro
    packs = "1 pack" if advice.suggested_packs == 1 else f"{advice.suggested_packs} packs"
    cost = "without a known price" if value_micro is None else f"for {money_text(value_micro)}"
    said.append(
        f"Order {packs} of {_shown(row, row.offer.pack_base)} from {row.offer.supplier.code}: "
        f"{_shown(row, advice.suggested_base)} {cost}."
    )
    for limit, cap_base in advice.caps_base.items():
        if limit is Limit.SHELF_LIFE:
            said.append(
                f"Of an order, {_shown(row, cap_base)} can be used within its shelf life "
                f"of {row.inputs.shelf_life_days} days."
            )
        else:
            said.append(f"Of an order, {_shown(row, cap_base)} is within {limit}.")
    return said


def _outlook(row: ReorderRow, advice: ReorderAdvice) -> list[str]:
    today, later, lasts_days = advice.outlook
    if lasts_days is None:
        return []
    chances = f"{today:.0%} if it is placed today, {later:.0%} if next week"
    return [
        f"Chance of running out before an order is here: {chances}.",
        f"Without an order it lasts {lasts_days} days.",
    ]


def _days(days: int) -> str:
    if days == 0:
        return "today"
    return "tomorrow" if days == 1 else f"in {days} days"

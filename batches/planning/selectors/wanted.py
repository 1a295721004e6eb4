"""What is wanted from outside, week by week, and which plan or order wants it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import date, datetime, timedelta
from typing import NamedTuple

from django.db.models import Sum

from batches.packing.models import CustomerOrderLine, CustomerOrderState, ShipmentLine
from batches.packing.selectors.orders import answered_by_line, shipped_of_order
from batches.planning.models import BuildPlanLine
from batches.planning.rules.seasons import WEEKS_AHEAD, WEEKS_BACK, left_of_plan
from batches.planning.rules.weeks import DAYS_PER_WEEK, monday_of, week_of
from inventory.stock.selectors.among import Among
from shopfloor.days import day_start, shop_day


class Root(NamedTuple):
    """Who wants something: a line of a build plan or of a customer's order.

    Attributes:
        kind: "plan" or "order".
        line: Of an order; 0 of a plan.
        customer: Of an order.
        due_on: The Monday planned, or the day promised; None: no day was promised.
    """

    kind: str
    code: str
    line: int
    item_id: int
    customer: str
    due_on: date | None


class Wanted(NamedTuple):
    """Pieces that a root wants in a week from `first_on`; below 0 it is past due."""

    item_id: int
    week: int
    root: Root
    qty_base: int


_Line = tuple[int, date, str, int, datetime]
"""Of a plan: the item, its week, the plan's code, pieces, when it was entered."""


class _Planned(NamedTuple):
    week: int
    root: Root
    pieces: int


def wanted(*, first_on: date) -> list[Wanted]:
    """Open orders, and of the active plans what is not ordered or gone yet. Three statements.

    Args:
        first_on: The Monday of this week.
    """
    orders = _ordered(first_on)
    lines = _lines(first_on)
    plans = _planned(lines, first_on)
    left_by = _gone(lines, first_on)
    for order in orders:
        left_by[order.item_id][order.week] += order.qty_base
    return [*orders, *_left(plans, left_by)]


def _ordered(first_on: date) -> list[Wanted]:
    """Lines that wait, the earliest promised first; one without a day is wanted now."""
    lines = list(
        CustomerOrderLine.objects.filter(order__state=CustomerOrderState.OPEN)
        .annotate(shipped=shipped_of_order())
        .select_related("order__customer")
        .order_by("order_id", "position")
    )
    of_orders = {(line.order_id, line.item_id): int(line.shipped or 0) for line in lines}
    shipped = answered_by_line(lines, of_orders)
    found = []
    for line in lines:
        waiting = 0 if line.is_closed else line.qty_base - shipped[line.pk]
        if waiting > 0:
            root = Root(
                "order",
                line.order.code,
                line.position,
                line.item_id,
                line.order.customer.code,
                line.promised_on,
            )
            week = week_of(line.promised_on, first_on=first_on) if line.promised_on else 0
            found.append(Wanted(line.item_id, week, root, waiting))
    return sorted(found, key=lambda each: (each.root.due_on or date.max, each.root))


def _planned(lines: Iterable[_Line], first_on: date) -> dict[int, list[_Planned]]:
    """Lines by item."""
    found: dict[int, list[_Planned]] = defaultdict(list)
    weeks: dict[date, int] = {}
    for item_id, week_on, code, pieces, _ in lines:
        if week_on not in weeks:
            weeks[week_on] = week_of(week_on, first_on=first_on)
        root = Root("plan", code, 0, item_id, "", week_on)
        found[item_id].append(_Planned(weeks[week_on], root, pieces))
    return found


def _lines(first_on: date) -> list[_Line]:
    """Of active plans, those too that what left of late may still be out of. One statement."""
    oldest = monday_of(-WEEKS_BACK - WEEKS_AHEAD, first_on=first_on)
    rows = BuildPlanLine.objects.filter(plan__is_active=True, week_on__gte=oldest)
    columns = ("item_id", "week_on", "plan__code", "qty_base", "recorded_at")
    return list(rows.order_by("week_on", "plan__code").values_list(*columns))


def _gone(lines: Iterable[_Line], first_on: date) -> dict[int, dict[int, int]]:
    """Pieces that left since they were planned, by item and week; older ones eat no week to come.

    One statement.
    """
    since: dict[int, datetime] = {}
    for item_id, _, _, _, recorded_at in lines:
        since[item_id] = min(recorded_at, since.get(item_id, recorded_at))
    found: dict[int, dict[int, int]] = defaultdict(lambda: defaultdict(int))
    if not since:
        return found
    rows = (
        ShipmentLine.objects.filter(
            Among("lot__item", list(since)),
            shipment__posting__at__gte=day_start(
                first_on - timedelta(days=DAYS_PER_WEEK * WEEKS_AHEAD)
            ),
            shipment__posting__reversed_by__isnull=True,
        )
        .order_by()
        .values_list("lot__item_id", "shipment__posting__at")
        .annotate(pieces=Sum("qty_base"))
    )
    for item_id, at, pieces in rows:
        if at >= since[item_id]:
            found[item_id][week_of(shop_day(at), first_on=first_on)] += pieces
    return found


def _left(
    plans: Mapping[int, list[_Planned]], taken: Mapping[int, Mapping[int, int]]
) -> list[Wanted]:
    """What is left of plans from this week on; of several plans of a week the first is eaten up."""
    found = []
    for item_id, lines in plans.items():
        if not taken.get(item_id):
            found += [
                Wanted(item_id, line.week, line.root, line.pieces)
                for line in lines
                if line.week >= 0
            ]
            continue
        by_week: dict[int, int] = defaultdict(int)
        for line in lines:
            by_week[line.week] += line.pieces
        left = left_of_plan(by_week, taken[item_id])
        for line in reversed(lines):
            part = min(line.pieces, left.get(line.week, 0))
            if part and line.week >= 0:
                left[line.week] -= part
                found.append(Wanted(item_id, line.week, line.root, part))
    return sorted(found, key=lambda each: (each.week, each.root.code, each.item_id))

"""The shop's requirements: everything read in bulk, planned at once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any, Final, NamedTuple

import numpy as np

from batches.planning.rules.lot_sizing import Whole
from batches.planning.rules.requirements import (
    Lines,
    PlanningInputs,
    Requirements,
    levels_of,
    requirements,
)
from batches.planning.rules.weeks import monday, week_of
from batches.planning.selectors.leads import Lead, Leads
from batches.planning.selectors.making import Bill, TakenLine, current_bills
from batches.planning.selectors.sizing import ItemSizing, item_sizing, stacked
from batches.planning.selectors.supply import (
    OpenBatch,
    OpenOrder,
    Shelf,
    ids_of,
    open_batches,
    open_orders,
    shelves,
)
from batches.planning.selectors.wanted import Wanted, wanted
from batches.planning.selectors.yields import GoodShare, good_shares
from inventory.catalog.models import Item
from inventory.reorder.selectors.advice import Known, reorder_rows
from inventory.reorder.selectors.buying import UsedOffer, is_watched, offers_used
from inventory.reorder.selectors.shelves import lots_held
from inventory.stock.selectors.among import Among
from shopfloor.days import shop_day
from shopfloor.errors import InvalidInputError

WEEKS: Final = 52
"""Weeks planned, this one first: a year, so that no lead time hides a need."""

EMPTY: Final = Shelf()


class Coming(NamedTuple):
    """Something open that will give an amount of an item.

    Attributes:
        due_on: The day it is expected, as promised or by its lead time; it may be past.
        week: Of that day, this one if it is past.
        batch: The batch that gives it; None: a supplier order.
    """

    item_id: int
    code: str
    qty_base: int
    due_on: date
    week: int
    batch: OpenBatch | None = None
    start_week: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Planning:
    """All that was read, and all that follows; items by their place.

    Attributes:
        first_on: The Monday of this week.
        places: Of items, by their id.
        goods: Of what has a bill, by item id.
    """

    on: date
    first_on: date
    items: Sequence[Item]
    places: Mapping[int, int]
    bills: Mapping[int, Bill]
    goods: Mapping[int, GoodShare]
    offers: Mapping[int, UsedOffer]
    shelves: Mapping[int, Shelf]
    wanted: Sequence[Wanted]
    coming: Sequence[Coming]
    leads: Sequence[Lead]
    sizings: Sequence[ItemSizing]
    inputs: PlanningInputs
    found: Requirements


def planning(*, now: datetime) -> Planning:
    """The requirements of every item. Sixteen statements at most, whatever the shop's size.

    Raises:
        InvalidInputError: the bills go in a circle, or amounts are beyond what can be counted.
    """
    on = shop_day(now)
    first_on = monday(on)
    (bills, lines), asked = current_bills(), wanted(first_on=first_on)
    orders, running, lots = open_orders(), open_batches(), lots_held()
    on_hand = shelves(lots, on=on)
    ids = ids_of(orders, running) | bills.keys() | {each.item_id for each in asked}
    ids |= {line.child_id for line in lines}
    items, levels, table = _in_levels(_items(ids), bills, lines)
    places = {item.pk: place for place, item in enumerate(items)}
    all_offers = offers_used([item.pk for item in items])
    offers = {pk: offer for pk, offer in all_offers.items() if pk not in bills}
    goods = good_shares(bills, scrap_set=_scrap_set(items), now=now)
    share = [goods[item.pk].share if item.pk in goods else Fraction(1) for item in items]
    known = Leads.read(now=now)
    leads = [
        known.of(
            item.pk,
            bill=bills.get(item.pk),
            offer=offers.get(item.pk),
            policy=getattr(item, "planning_policy", None),
        )
        for item in items
    ]
    sizings = [
        item_sizing(
            item,
            is_made=item.pk in bills,
            offer=offers.get(item.pk),
            shelf=on_hand.get(item.pk),
        )
        for item in items
    ]
    coming = [
        *(_ordered(each, leads[places[each.item_id]], on) for each in orders),
        *(_running(each, leads[places[each.item_id]], on) for each in running),
    ]
    inputs = PlanningInputs(
        levels=levels,
        wanted_base=_wanted_base(len(items), places, asked, coming),
        on_hand_base=_of_items(items, {key: shelf.counted_base for key, shelf in on_hand.items()}),
        ending_base=_ending_base(len(items), places, on_hand, first_on),
        receipts_base=_table(
            len(items), ((places[each.item_id], each.week, each.qty_base) for each in coming)
        ),
        safety_base=_safety_base(
            items,
            on,
            Known(
                offers=all_offers,
                ordered_base=_ordered_base(orders, on),
                received=known.received,
                lots=lots,
            ),
        ),
        lead_weeks=np.array([lead.weeks for lead in leads], np.int64),
        good_num=np.array([each.numerator for each in share], np.int64),
        good_den=np.array([each.denominator for each in share], np.int64),
        sizing=stacked(sizings),
        lines=table,
    )
    return Planning(
        on=on,
        first_on=first_on,
        items=items,
        places=places,
        bills=bills,
        goods=goods,
        offers=offers,
        shelves=on_hand,
        wanted=asked,
        coming=coming,
        leads=leads,
        sizings=sizings,
        inputs=inputs,
        found=requirements(inputs),
    )


def _items(ids: Iterable[int]) -> list[Item]:
    found = Item.objects.annotate(is_watched=is_watched()).filter(Among("pk", list(ids)))
    return list(found.select_related("planning_policy", "reorder_policy").order_by("code"))


def _in_levels(
    items: Sequence[Item], bills: Mapping[int, Bill], lines: Sequence[TakenLine]
) -> tuple[list[Item], Whole, Lines]:
    """Items in the order of their levels, those with a bill first; their levels; the lines."""
    at = {item.pk: place for place, item in enumerate(items)}
    parent = np.array([at[line.parent_id] for line in lines], np.int64)
    child = np.array([at[line.child_id] for line in lines], np.int64)
    try:
        levels = levels_of(len(items), parent, child)
    except InvalidInputError as error:
        places: Any = error.facts.get("path", [])
        path = [items[int(place)].code for place in places]
        raise InvalidInputError(error.detail, path=path) from error
    is_bought = np.array([item.pk not in bills for item in items], bool)
    order = np.lexsort((is_bought, levels))
    place = np.empty(len(items), np.int64)
    place[order] = np.arange(len(items))
    parent, child = place[parent], place[child]
    sorted_levels = levels[order]
    by_level = np.lexsort((child, sorted_levels[parent]))
    table = Lines(
        parent=parent,
        child=child,
        num=np.array([line.per_piece.numerator for line in lines], np.int64),
        den=np.array([line.per_piece.denominator for line in lines], np.int64),
        per_batch_base=np.array([line.per_batch_base for line in lines], np.int64),
    )
    return [items[each] for each in order.tolist()], sorted_levels, table.of(by_level)


def _ordered(order: OpenOrder, lead: Lead, on: date) -> Coming:
    due_on = order.promised_on or order.ordered_on + timedelta(days=lead.days)
    week = max(0, week_of(due_on, first_on=monday(on)))
    return Coming(order.item_id, order.code, order.qty_base, due_on, week)


def _running(batch: OpenBatch, lead: Lead, on: date) -> Coming:
    """A batch that does not run begins on its day, today at the earliest."""
    start_on = batch.began_on or max(batch.planned_on or on, on)
    due_on = start_on + timedelta(days=lead.days)
    start_week, week = (max(0, week_of(day, first_on=monday(on))) for day in (start_on, due_on))
    return Coming(batch.item_id, batch.code, batch.left_base, due_on, week, batch, start_week)


def _table(items: int, cells: Iterable[tuple[int, int, int]]) -> Whole:
    """Place, week and base units, added up; what lies beyond the plan is left out."""
    found = np.zeros((items, WEEKS), np.int64)
    within = [cell for cell in cells if cell[1] < WEEKS]
    if within:
        place, week, qty_base = np.array(within, np.int64).T
        np.add.at(found, (place, week), qty_base)
    return found


def _wanted_base(
    items: int, places: Mapping[int, int], asked: Iterable[Wanted], coming: Iterable[Coming]
) -> Whole:
    """What roots want, past due in this week, and what open batches take when they begin."""
    taken = (
        (places[item_id], each.start_week, qty_base)
        for each in coming
        if each.batch
        for item_id, qty_base in each.batch.takes.items()
    )
    of_roots = ((places[each.item_id], max(0, each.week), each.qty_base) for each in asked)
    return _table(items, (*of_roots, *taken))


def _ending_base(
    items: int, places: Mapping[int, int], on_hand: Mapping[int, Shelf], first_on: date
) -> Whole:
    return _table(
        items,
        (
            (places[item_id], week_of(end_on, first_on=first_on), qty_base)
            for item_id, shelf in on_hand.items()
            if item_id in places
            for end_on, qty_base in shelf.ends
        ),
    )


def _of_items(items: Sequence[Item], by_id: Mapping[int, int]) -> Whole:
    return np.array([by_id.get(item.pk, 0) for item in items], np.int64)


def _scrap_set(items: Iterable[Item]) -> dict[int, Decimal]:
    policies = (getattr(item, "planning_policy", None) for item in items)
    return {each.pk: each.scrap_ratio for each in policies if each and each.scrap_ratio is not None}


def _ordered_base(orders: Iterable[OpenOrder], on: date) -> dict[int, int]:
    """Of orders placed by then."""
    found: dict[int, int] = {}
    for each in orders:
        if each.ordered_on <= on:
            found[each.item_id] = found.get(each.item_id, 0) + each.qty_base
    return found


def _safety_base(items: Sequence[Any], on: date, known: Known) -> Whole:
    """As a person set it, else as the reorder list has it."""
    rows = reorder_rows([item for item in items if item.is_watched], on=on, known=known)
    advised = {row.item.pk: row.safety_stock_base or 0 for row in rows}
    for item in items:
        policy = getattr(item, "planning_policy", None)
        if policy is not None and policy.safety_stock_base is not None:
            advised[item.pk] = policy.safety_stock_base
    return _of_items(items, advised)

"""How much to order at once: what is needed, week by week, gathered into orders.

Arrays are `(items, weeks)` int64 base units. An order comes in a week and serves that week and
those after it until the next. A loop over weeks is never one over items.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final, TypeAlias

import numpy as np
import numpy.typing as npt

from batches.planning.rules.methods import LotSizing

Whole: TypeAlias = npt.NDArray[np.int64]
Real: TypeAlias = npt.NDArray[np.float64]
Flags: TypeAlias = npt.NDArray[np.bool_]

METHODS: Final = tuple(LotSizing)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Sizing:
    """How each item is ordered; `(items,)` each.

    Attributes:
        method: Place in `METHODS`.
        lot_base: FIXED: orders are multiples of it, >= 1.
        weeks_max: Weeks that one order may serve, >= 1: the period, or what shelf life allows.
        balance: Cost of an order over the cost of keeping one base unit a week, >= 0: the base
            units times weeks that are worth an order. 0 where either is not known.
        pack_base: Orders are whole packs, >= 1.
        least_base: The smallest order; whole packs.
    """

    method: npt.NDArray[np.int8]
    lot_base: Whole
    weeks_max: Whole
    balance: Real
    pack_base: Whole
    least_base: Whole

    def of(self, rows: Any) -> Sizing:
        """Of some items."""
        names = ("method", "lot_base", "weeks_max", "balance", "pack_base", "least_base")
        return Sizing(**{name: getattr(self, name)[rows] for name in names})


def orders(net_base: Whole, sizing: Sizing) -> Whole:
    """What comes in which week, never later and never less than is needed."""
    found = net_base
    for place in np.unique(sizing.method):
        method = METHODS[place]
        if method is LotSizing.LOT_FOR_LOT:
            continue
        rows = np.flatnonzero(sizing.method == place)
        if found is net_base:
            found = net_base.copy()
        found[rows] = _ways(method, net_base[rows], sizing.of(rows))
    return _in_packs(found, sizing)


def _ways(method: LotSizing, net_base: Whole, sizing: Sizing) -> Whole:
    if method is LotSizing.FIXED:
        return multiples(net_base, sizing.lot_base)
    if method is LotSizing.PERIOD:
        return period(net_base, sizing.weeks_max)
    if method is LotSizing.WAGNER_WHITIN:
        ones = np.ones((len(net_base), 1))
        return wagner_whitin(net_base, sizing.balance[:, None], ones, sizing.weeks_max)
    if method is LotSizing.SILVER_MEAL:
        return silver_meal(net_base, sizing.balance, sizing.weeks_max)
    assert method is LotSizing.PART_PERIOD
    return part_period(net_base, sizing.balance, sizing.weeks_max)


def multiples(net_base: Whole, lot_base: Whole) -> Whole:
    """Whole multiples of a lot; what is left of one serves the next weeks."""
    lot = lot_base[:, None]
    ordered = -(-np.cumsum(net_base, axis=1) // lot) * lot
    return np.diff(ordered, axis=1, prepend=0)


def period(net_base: Whole, weeks: Whole) -> Whole:
    """An order serves so many weeks."""
    return _run_on(net_base, weeks, lambda needed, age, held, more: np.ones(len(age), bool))


def silver_meal(net_base: Whole, balance: Real, weeks_max: Whole) -> Whole:
    """An order serves weeks until its cost a week would rise.

    Source: E. A. Silver & H. C. Meal, Production and Inventory Management 14(2), 1973.
    """

    def falls(needed: Whole, age: Whole, held: Real, more: Real) -> Flags:
        kept: Flags = (balance + more) * age <= (balance + held) * (age + 1)
        return kept

    return _run_on(net_base, weeks_max, falls)


def part_period(net_base: Whole, balance: Real, weeks_max: Whole) -> Whole:
    """An order serves weeks until keeping costs about as much as an order does.

    Source: J. J. DeMatteis, "An economic lot-sizing technique I: the part-period algorithm", IBM
    Systems Journal 7(1), 1968; without its look-ahead.
    """

    def nearer(needed: Whole, age: Whole, held: Real, more: Real) -> Flags:
        kept: Flags = (abs(more - balance) < abs(held - balance)) | (needed == 0)
        return kept

    return _run_on(net_base, weeks_max, nearer)


def wagner_whitin(net_base: Whole, setup: Real, holding: Real, weeks_max: Whole) -> Whole:
    """The orders of least cost.

    Source: H. M. Wagner & T. M. Whitin, "Dynamic Version of the Economic Lot Size Model",
    Management Science 5(1), 1958.

    Args:
        net_base: What is needed.
        setup: Cost of an order, `(items, weeks)` or `(items, 1)`.
        holding: Cost of keeping a base unit for a week, `(items, 1)`.
        weeks_max: Weeks that one order may serve.
    """
    items, weeks = net_base.shape
    setup = np.broadcast_to(setup, net_base.shape)
    needed = net_base.astype(np.float64)
    until = np.cumsum(needed, axis=1)
    weighted = np.cumsum(needed * np.arange(weeks), axis=1)
    before, weighted_before = until - needed, weighted - needed * np.arange(weeks)
    cost = np.zeros((items, weeks + 1))
    begun = np.zeros((items, weeks), np.int64)
    for week in range(weeks):
        to = slice(0, week + 1)
        kept = (weighted[:, week, None] - weighted_before[:, to]) - np.arange(week + 1) * (
            until[:, week, None] - before[:, to]
        )
        total = cost[:, to] + setup[:, to] + holding * kept
        total[np.arange(week, -1, -1) >= weeks_max[:, None]] = np.inf
        # Of equals the latest: it keeps the least.
        best = week - np.argmin(total[:, ::-1], axis=1)
        is_idle = net_base[:, week] == 0
        begun[:, week] = np.where(is_idle, -1, best)
        cheapest = total[np.arange(items), best]
        cost[:, week + 1] = np.where(is_idle, cost[:, week], cheapest)
    return _traced(net_base, begun)


def _traced(net_base: Whole, begun: Whole) -> Whole:
    """Orders, back from the last week: `begun` is where the order that serves a week came in."""
    items, weeks = net_base.shape
    every = np.arange(items)
    found = np.zeros_like(net_base)
    serving = np.full(items, weeks)
    for week in range(weeks - 1, -1, -1):
        is_new = (serving > week) & (begun[:, week] >= 0)
        serving = np.where(is_new, begun[:, week], serving)
        is_served = serving <= week
        found[every[is_served], serving[is_served]] += net_base[is_served, week]
    return found


Keeps: TypeAlias = Callable[[Whole, Whole, Real, Real], Flags]
"""Whether an order serves one more week: what that needs, weeks since it came, base units times
weeks kept so far, and then."""


def _run_on(net_base: Whole, weeks_max: Whole, keeps: Keeps) -> Whole:
    items, weeks = net_base.shape
    every = np.arange(items)
    found = np.zeros_like(net_base)
    start = np.full(items, -1)
    held = np.zeros(items)
    for week in range(weeks):
        needed = net_base[:, week]
        age = week - start
        more = held + age * needed
        goes_on = (start >= 0) & (age < weeks_max) & keeps(needed, age, held, more)
        start = np.where(goes_on, start, np.where(needed > 0, week, -1))
        held = np.where(goes_on, more, 0.0)
        is_served = start >= 0
        found[every[is_served], start[is_served]] += needed[is_served]
    return found


def _in_packs(ordered: Whole, sizing: Sizing) -> Whole:
    """In whole packs, none below the least; what is too much serves the next orders."""
    in_packs = np.flatnonzero(sizing.pack_base > 1)
    has_least = np.flatnonzero(sizing.least_base > sizing.pack_base)
    if not len(in_packs) and not len(has_least):
        return ordered
    found = ordered.copy()
    found[in_packs] = multiples(ordered[in_packs], sizing.pack_base[in_packs])
    if len(has_least):
        rows = sizing.of(has_least)
        found[has_least] = _at_least(ordered[has_least], rows.pack_base, rows.least_base)
    return found


def _at_least(ordered: Whole, pack_base: Whole, least_base: Whole) -> Whole:
    wanted = np.cumsum(ordered, axis=1)
    given = np.zeros(len(ordered), np.int64)
    found = np.zeros_like(ordered)
    for week in range(ordered.shape[1]):
        short = wanted[:, week] - given
        packed = np.maximum(-(-short // pack_base) * pack_base, least_base)
        found[:, week] = np.where(short > 0, packed, 0)
        given += found[:, week]
    return found

"""Gross to net, against a second way to compute it and by what must always hold."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from batches.planning.rules.methods import LotSizing
from batches.planning.rules.requirements import (
    PlanningInputs,
    levels_of,
    needs_base,
    net_base,
    projected_base,
    requirements,
)
from shopfloor.errors import InvalidInputError
from tests.batches.planning.networks import inputs, network, sizing

SHOPS = range(120)


def by_hand(shop: PlanningInputs) -> tuple[list[list[int]], list[list[int]]]:
    """Gross and planned orders, lot for lot: item by item, week by week, lot by lot."""
    items, weeks = shop.wanted_base.shape
    gross = shop.wanted_base.tolist()
    planned = [[0] * weeks for _ in range(items)]
    for item in range(items):
        lead = int(shop.lead_weeks[item])
        shelf = [[last, int(shop.ending_base[item, last])] for last in range(weeks)]
        shelf.append([weeks, int(shop.on_hand_base[item]) - sum(qty for _, qty in shelf)])
        came = 0  # and waits behind the shelf; below zero: taken before it came
        for week in range(weeks):
            shelf = [lot for lot in shelf if lot[0] >= week]
            counted = range(lead + 1) if week == 0 else [week] if week > lead else []
            came += sum(int(shop.receipts_base[item, each]) for each in counted if each < weeks)
            rest = gross[item][week]
            for lot in shelf:
                part = min(rest, lot[1])
                lot[1] -= part
                rest -= part
            came -= rest
            short = int(shop.safety_base[item]) - came - sum(qty for _, qty in shelf)
            planned[item][week] = max(0, short)
            came += planned[item][week]
        released = [0] * weeks
        for week, base in enumerate(planned[item]):
            released[max(0, week - lead)] += base
        good = Fraction(int(shop.good_num[item]), int(shop.good_den[item]))
        for line in range(len(shop.lines.parent)):
            if shop.lines.parent[line] != item:
                continue
            takes = Fraction(int(shop.lines.num[line]), int(shop.lines.den[line]))
            for week, base in enumerate(released):
                need = math.ceil(takes * math.ceil(base / good))
                need += int(shop.lines.per_batch_base[line]) * (base > 0)
                gross[int(shop.lines.child[line])][week] += need
    return gross, planned


def test_lot_for_lot_equals_the_way_by_hand() -> None:
    for seed in SHOPS:
        shop = network(seed, lots=False)
        found = requirements(shop)
        gross, planned = by_hand(shop)
        assert found.gross_base.tolist() == gross, seed
        assert found.planned_base.tolist() == planned, seed
        assert (net_base(shop, found, slice(None)) == found.planned_base).all(), seed


def test_whatever_the_lots_nothing_is_short_and_nothing_below_zero() -> None:
    for seed in SHOPS:
        shop = network(seed, lots=True)
        found = requirements(shop)
        for name in ("gross_base", "planned_base", "released_base", "late_base"):
            assert (getattr(found, name) >= 0).all(), (seed, name)
        assert (net_base(shop, found, slice(None)) >= 0).all(), seed
        assert (found.released_base.sum(axis=1) == found.planned_base.sum(axis=1)).all(), seed
        came = np.cumsum(shop.receipts_base, axis=1)
        last = np.minimum(shop.lead_weeks, came.shape[1] - 1)
        hurried = np.maximum(came[np.arange(len(came)), last][:, None] - came, 0)
        on_hand = projected_base(shop, found, slice(None)) + hurried
        assert (on_hand >= shop.safety_base[:, None]).all(), seed
        assert (found.planned_base % shop.sizing.pack_base[:, None] == 0).all(), seed
        orders = found.planned_base
        assert ((orders == 0) | (orders >= shop.sizing.least_base[:, None])).all(), seed


def test_more_stock_never_makes_more_orders() -> None:
    for seed in SHOPS:
        shop = network(seed, lots=False)
        more = replace(shop, on_hand_base=shop.on_hand_base + seed % 40)
        before, after = requirements(shop), requirements(more)
        assert (after.planned_base <= before.planned_base).all(), seed
        assert (after.released_base <= before.released_base).all(), seed


def test_late_releases_fall_into_this_week_and_say_so() -> None:
    shop = inputs(wanted=[[5, 0, 7, 9]], lead=[2])
    found = requirements(shop)
    assert found.released_base[0].tolist() == [12, 9, 0, 0]
    assert found.late_base.tolist() == [5]
    beyond = requirements(inputs(wanted=[[5, 7]], lead=[9]))
    assert (beyond.released_base[0].tolist(), beyond.late_base.tolist()) == ([12, 0], [12])


def test_a_receipt_inside_the_lead_time_is_hurried_not_ordered_again() -> None:
    shop = inputs(wanted=[[0, 50, 0, 0]], receipts=[[0, 0, 0, 50]], lead=[3])
    found = requirements(shop)
    assert not found.planned_base.any()
    assert projected_base(shop, found, slice(None))[0].tolist() == [0, -50, -50, 0]
    later = requirements(replace(shop, lead_weeks=np.array([1])))
    assert later.planned_base[0].tolist() == [0, 50, 0, 0]


def test_fixed_lots_are_batches_and_each_loses_its_pot() -> None:
    lots = sizing(2, LotSizing.FIXED, lot=[100, 1])
    shop = inputs(wanted=[[250, 0], [0, 0]], lines=[(0, 1, 1, 1, 30)], levels=[0, 1], sizing=lots)
    found = requirements(shop)
    assert found.batches[0].tolist() == [3, 0]
    assert found.gross_base[1].tolist() == [300 + 3 * 30, 0]


def test_needs_too_wide_for_sixty_four_bits_are_exact() -> None:
    num, den = 123_456_789_123_456_789, 87_655
    lines = inputs(wanted=[[0], [0]], lines=[(0, 1, num, den, 0)]).lines
    pieces = np.array([[100]])
    assert needs_base(lines, pieces, pieces)[0, 0] == -(-100 * num // den)


def test_a_plan_that_cannot_be_counted_is_refused() -> None:
    chain = [(each, each + 1, 10**6, 1, 0) for each in range(4)]
    shop = inputs(wanted=[[10**6], *[[0]] * 4], lines=chain, levels=range(5))
    with pytest.raises(InvalidInputError, match="slip"):
        requirements(shop)


def test_a_circle_is_refused_and_long_chains_are_not() -> None:
    above = np.arange(100)
    assert levels_of(101, above, above + 1).tolist() == list(range(101))
    with pytest.raises(InvalidInputError, match="circle"):
        levels_of(3, np.array([0, 1, 2]), np.array([1, 2, 0]))


def test_no_items_need_nothing() -> None:
    empty = np.zeros(0, np.int64)
    shop = inputs(wanted=[[0]])
    shop = replace(
        shop,
        levels=empty,
        wanted_base=np.zeros((0, 4), np.int64),
        on_hand_base=empty,
        sizing=sizing(0),
    )
    assert requirements(shop).gross_base.shape == (0, 4)

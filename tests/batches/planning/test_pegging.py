"""Pegs add up; a plan is eaten up by what is ordered and taken; receipts that come amiss."""

from __future__ import annotations

import random

from batches.planning.rules.pegging import (
    STOCK,
    Need,
    Peg,
    Supply,
    above,
    covered,
    shared,
    summed,
)
from batches.planning.rules.receipts import Advice, Moved, Receipt, moved
from batches.planning.rules.seasons import left_of_plan


def test_the_first_need_takes_of_the_first_supply() -> None:
    needs = [Need(3, 1, 40), Need(1, 2, 30)]
    supplies = [Supply(0, ("shelf", 0), 25), Supply(3, ("planned", 3), 60)]
    assert covered(needs, supplies) == {
        ("shelf", 0): [Peg(2, 25)],
        ("planned", 3): [Peg(2, 5), Peg(1, 40), Peg(STOCK, 15)],
    }
    assert covered([], [Supply(0, ("shelf", 0), 5)]) == {("shelf", 0): [Peg(STOCK, 5)]}


def test_shares_add_up_and_are_off_by_less_than_one() -> None:
    chance = random.Random(4)  # noqa: S311 - no secret
    for _ in range(300):
        pegs = [Peg(n, chance.randint(1, 90)) for n in range(chance.randint(1, 6))]
        whole, qty = sum(peg.qty_base for peg in pegs), chance.randint(0, 10**6)
        found = summed(shared(qty, pegs))
        assert sum(found.values()) == qty
        for peg in pegs:
            assert abs(found.get(peg.root, 0) - qty * peg.qty_base / whole) < 1


def test_all_that_an_item_goes_into_stands_before_it() -> None:
    assert above(4, {4: [1, 3], 3: [0, 1], 2: [0]}) == [0, 1, 3, 4]


def test_an_order_is_part_of_the_plan_of_its_week_then_of_those_before_then_after() -> None:
    plan = {1: 100, 2: 100, 3: 100, 9: 100}
    assert left_of_plan(plan, {2: 150}) == {1: 50, 3: 100, 9: 100}
    assert left_of_plan(plan, {2: 250}) == {3: 50, 9: 100}
    assert left_of_plan(plan, {2: 500}) == {9: 100}
    assert left_of_plan({}, {2: 5}) == {}
    assert left_of_plan({5: 10}, {0: 10}) == {5: 10}
    assert left_of_plan({4: 10}, {0: 10}) == {}


def test_a_receipt_is_hurried_put_off_or_not_needed() -> None:
    short = [0, 10, 10, 10, 30, 30]
    came = [Receipt(3, 10), Receipt(4, 10), Receipt(4, 10), Receipt(5, 4)]
    assert moved(came, short) == [Moved(Advice.EXPEDITE, 1), None, None, Moved(Advice.CANCEL, None)]
    assert moved([Receipt(0, 5)], [0, 0, 3]) == [Moved(Advice.POSTPONE, 2)]
    assert moved([Receipt(1, 5)], [0, 0, 3]) == [None]

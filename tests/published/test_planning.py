"""Lot sizes and requirements against published examples.

The figures of the second source were seen there; those of the others are cited from memory of the
named book or paper, inputs and result agreeing on recomputation (brute force over all plans).
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from batches.planning.rules.lot_sizing import Whole, part_period, silver_meal, wagner_whitin
from batches.planning.rules.methods import NO_LIMIT, LotSizing
from batches.planning.rules.requirements import levels_of, net_base, projected_base, requirements
from tests.batches.planning.networks import inputs, sizing

FOREVER = np.array([NO_LIMIT])


def cost(ordered: Whole, demand: list[int], setup: Any, holding: float) -> float:
    """Of the orders of one item; what comes in a week and goes in it is not kept."""
    kept = np.cumsum(ordered[0]) - np.cumsum(demand)
    assert (kept >= 0).all()
    return float((np.where(ordered[0] > 0, setup, 0) + holding * kept).sum())


def test_wagner_and_whitin_1958() -> None:
    # H. M. Wagner & T. M. Whitin, Management Science 5(1), 1958, 89-96, Table 1 (from memory).
    demand = [69, 29, 36, 61, 61, 26, 34, 67, 45, 67, 79, 56]
    setup = np.array([[85.0, 102, 102, 101, 98, 114, 105, 86, 119, 110, 98, 114]])
    found = wagner_whitin(np.array([demand]), setup, np.ones((1, 1)), FOREVER)
    assert found[0].tolist() == [98, 0, 97, 0, 121, 0, 0, 112, 0, 67, 135, 0]
    assert cost(found, demand, setup[0], 1) == 864


def test_a_university_exercise_in_five_periods() -> None:
    # University of Southampton, OR exercise (edshare document 4121), question and worked answer.
    demand = [40, 20, 10, 30, 20]
    found = wagner_whitin(np.array([demand]), np.array([[100.0]]), np.array([[2.0]]), FOREVER)
    assert found[0].tolist() == [70, 0, 0, 50, 0]
    assert cost(found, demand, 100, 2) == 320


def test_silver_meal_and_part_period_on_one_series() -> None:
    # S. Nahmias, Production and Operations Analysis, Examples 7.2 to 7.4 (numbering by edition).
    demand = [18, 30, 42, 5, 20]
    net, balance = np.array([demand]), np.array([80 / 2])
    by_week, by_balance = silver_meal(net, balance, FOREVER), part_period(net, balance, FOREVER)
    assert by_week[0].tolist() == [48, 0, 47, 0, 20]
    assert by_balance[0].tolist() == [48, 0, 67, 0, 0]
    assert cost(by_week, demand, 80, 2) == cost(by_balance, demand, 80, 2) == 310


def test_silver_meal_over_twelve_periods_with_opening_and_end_stock() -> None:
    # S. Nahmias, 7th ed., sec. 8.2 problem 14(a): opening stock 4, end stock 8.
    gross = [6, 12, 4, 8, 15, 25, 20, 5, 10, 20, 5, 12 + 8]
    shop = inputs(
        wanted=[gross], on_hand=[4], sizing=sizing(1, LotSizing.SILVER_MEAL, balance=40.0)
    )
    found = requirements(shop)
    assert found.planned_base[0].tolist() == [18, 0, 0, 23, 0, 50, 0, 0, 35, 0, 0, 20]


def test_low_level_codes() -> None:
    # Definition: J. Orlicky, Material Requirements Planning, 1975; numbers ours.
    names = "ABCDEF"
    bills = {"A": "BC", "B": "DE", "C": "DF", "E": "FD"}
    pairs = [(above, below) for above, items in bills.items() for below in items]
    parent, child = (np.array([names.index(pair[n]) for pair in pairs]) for n in (0, 1))
    found = dict(zip(names, levels_of(len(names), parent, child).tolist(), strict=True))
    assert found == {"A": 0, "B": 1, "C": 1, "D": 3, "E": 2, "F": 3}


def test_gross_of_shared_parts() -> None:
    # The same bills for 10 of A; recursive explosion by hand.
    order = "ABCEDF"
    takes = {
        "A": {"B": 2, "C": 1}, "B": {"D": 3, "E": 1}, "C": {"D": 2, "F": 4}, "E": {"F": 1, "D": 1},
    }  # fmt: skip
    lines = [
        (order.index(above), order.index(below), pieces, 1, 0)
        for above, below_it in takes.items()
        for below, pieces in below_it.items()
    ]
    found = requirements(
        inputs(wanted=[[10], [0], [0], [0], [0], [0]], lines=lines, levels=[0, 1, 1, 2, 3, 3])
    )
    assert dict(zip(order, found.gross_base[:, 0].tolist(), strict=True)) == {
        "A": 10, "B": 20, "C": 10, "E": 20, "D": 100, "F": 60,
    }  # fmt: skip


@pytest.mark.parametrize("is_fixed", [False, True])
def test_window_shutters(*, is_fixed: bool) -> None:
    # W. J. Stevenson, Operations Management, requirements planning, Example 2 (from memory).
    # Weeks 1 to 8 of the book are 0 to 7 here.
    wanted = [[0, 0, 0, 100, 0, 0, 0, 150], [0] * 8, [0] * 8]
    lots = sizing(3, LotSizing.FIXED, lot=[1, 320, 70]) if is_fixed else sizing(3)
    shop = inputs(
        wanted=wanted,
        receipts=[[0] * 8, [0] * 8, [70] + [0] * 7],
        lead=[1, 2, 1],
        lines=[(0, 1, 2, 1, 0), (0, 2, 4, 1, 0)],
        levels=[0, 1, 1],
        sizing=lots,
    )
    found = requirements(shop)
    on_hand = projected_base(shop, found, slice(None)).tolist()
    assert found.released_base[0].tolist() == [0, 0, 100, 0, 0, 0, 150, 0]
    if is_fixed:
        assert net_base(shop, found, slice(1, 3)).tolist() == [
            [0, 0, 200, 0, 0, 0, 180, 0],
            [0, 0, 330, 0, 0, 0, 580, 0],
        ]
        assert found.released_base[1].tolist() == [320, 0, 0, 0, 320, 0, 0, 0]
        assert found.released_base[2].tolist() == [0, 350, 0, 0, 0, 630, 0, 0]
        assert on_hand[1:] == [
            [0, 0, 120, 120, 120, 120, 140, 140],
            [70, 70, 20, 20, 20, 20, 50, 50],
        ]
    else:
        assert found.released_base[1].tolist() == [200, 0, 0, 0, 300, 0, 0, 0]
        assert found.released_base[2].tolist() == [0, 330, 0, 0, 0, 600, 0, 0]
        assert on_hand == [[0] * 8, [0] * 8, [70, 70, 0, 0, 0, 0, 0, 0]]
    assert not found.late_base.any()

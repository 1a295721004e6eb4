"""Lot sizes against all plans there are, and against the same rules told one item at a time."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from itertools import product

import numpy as np
import pytest

from batches.planning.rules.lot_sizing import (
    multiples,
    orders,
    part_period,
    period,
    silver_meal,
    wagner_whitin,
)
from batches.planning.rules.methods import NO_LIMIT, LotSizing
from tests.batches.planning.networks import sizing


def series(count: int, weeks: int) -> Iterator[tuple[list[int], float, int]]:
    """Made-up needs, an order's cost over that of a unit and week, and weeks an order may serve."""
    chance = random.Random(8)  # noqa: S311 - no secret
    for _ in range(count):
        needs = [chance.choice([0, 0, chance.randint(1, 50)]) for _ in range(weeks)]
        yield needs, float(chance.choice([0, 7, 40, 150])), chance.choice([1, 2, 3, NO_LIMIT])


def cheapest(needs: Sequence[int], setup: float, weeks_max: int) -> float:
    """Of every way to choose the weeks in which an order comes."""
    weeks = len(needs)
    found = float("inf")
    for comes in product([False, True], repeat=weeks):
        cost, last = 0.0, None
        for week in range(weeks):
            if comes[week]:
                cost, last = cost + setup, week
            if needs[week]:
                if last is None or week - last >= weeks_max:
                    break
                cost += (week - last) * needs[week]
        else:
            found = min(found, cost)
    return found


def test_the_orders_of_least_cost_are_those_of_all_plans() -> None:
    for needs, setup, weeks_max in series(120, 7):
        net = np.array([needs])
        found = wagner_whitin(net, np.array([[setup]]), np.ones((1, 1)), np.array([weeks_max]))
        kept = np.cumsum(found - net, axis=1)
        assert (kept >= 0).all()
        assert found.sum() == net.sum()
        cost = setup * np.count_nonzero(found) + kept.sum()
        assert cost == pytest.approx(cheapest(needs, setup, weeks_max))


def told(needs: Sequence[int], setup: float, weeks_max: int, rule: LotSizing) -> list[int]:
    """Silver-Meal and part-period as their books tell them, first increase ends an order."""
    found, week = [0] * len(needs), 0
    while week < len(needs):
        if not needs[week]:
            week += 1
            continue
        span = 1
        while week + span < len(needs) and span < weeks_max:
            held = sum(age * needs[week + age] for age in range(span))
            more = held + span * needs[week + span]
            if rule is LotSizing.SILVER_MEAL:
                goes_on = (setup + more) / (span + 1) <= (setup + held) / span
            else:
                goes_on = abs(more - setup) < abs(held - setup) or not needs[week + span]
            if not goes_on:
                break
            span += 1
        found[week] = sum(needs[week : week + span])
        week += span
    return found


def test_the_rules_of_thumb_are_as_their_books_tell_them() -> None:
    cases = list(series(200, 9))
    net = np.array([needs for needs, _, _ in cases])
    balance = np.array([setup for _, setup, _ in cases])
    weeks_max = np.array([weeks for _, _, weeks in cases])
    by_week, by_balance = (rule(net, balance, weeks_max) for rule in (silver_meal, part_period))
    for n, case in enumerate(cases):
        assert by_week[n].tolist() == told(*case, LotSizing.SILVER_MEAL)
        assert by_balance[n].tolist() == told(*case, LotSizing.PART_PERIOD)


def test_a_period_serves_its_weeks_from_the_first_need_on() -> None:
    net = np.array([[0, 5, 0, 7, 2, 9]])
    assert period(net, np.array([3])).tolist() == [[0, 12, 0, 0, 11, 0]]


def test_multiples_carry_what_is_left_of_one() -> None:
    net = np.array([[30, 0, 60, 20, 1]])
    assert multiples(net, np.array([50])).tolist() == [[50, 0, 50, 50, 0]]


def test_orders_come_in_packs_and_none_below_the_least() -> None:
    net = np.array([[5, 0, 90, 5, 30]])
    packs = sizing(1, pack=12)
    assert orders(net, packs).tolist() == [[12, 0, 84, 12, 24]]
    assert orders(net, sizing(1, pack=12, least=36)).tolist() == [[36, 0, 60, 36, 0]]


def test_an_order_serves_no_longer_than_it_keeps() -> None:
    net = np.array([[10, 10, 10, 10]])
    for rule in (LotSizing.WAGNER_WHITIN, LotSizing.SILVER_MEAL, LotSizing.PART_PERIOD):
        found = orders(net, sizing(1, rule, balance=1000.0, weeks=2))
        assert found.tolist() == [[20, 0, 20, 0]], rule

"""Reorder arithmetic against figures that others printed; the source stands beside each.

Published figures round to the nearest; the shop rounds a reorder point up.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from inventory.reorder.rules import DemandRule, Pattern, PriceBreak, Spread
from inventory.reorder.rules.advice import use_until
from inventory.reorder.rules.forecast import steady
from inventory.reorder.rules.methods import croston_by_origin
from inventory.reorder.rules.pattern import intervals_and_variations, patterns
from inventory.reorder.rules.points import (
    cycle_point,
    fill_point,
    safety_factor,
    smallest_covering,
)
from inventory.reorder.rules.quantity import (
    cheapest_packs,
    cost_per_year_micro,
    economic_quantity,
)

USD = 1_000_000  # micro

DAILY = replace(steady(Spread(2500.0, 500.0), 7), drift=0.0)
"""As the books have it: the mean is known."""


# Economic order quantity


def test_economic_quantity_of_harris() -> None:
    """F. W. Harris, "How Many Parts to Make at Once", Factory 10(2), Feb 1913: 2,190 units.

    1,000 a month, set-up $2, unit cost $0.10, interest and depreciation 10% a year.
    """
    found = economic_quantity(
        use_per_year=12_000, order_cost_micro=2 * USD, holding_micro_per_year=0.10 * 0.1 * USD
    )
    assert found == pytest.approx(2190.89023, rel=1e-6)
    assert math.floor(found) == 2190


def test_economic_quantity_of_a_tire_distributor() -> None:
    """W. J. Stevenson, Operations Management, Inventory Management, Example 2 (from memory): 300.

    9,600 a year, $75 an order, $16 a unit and year; 32 orders a year.
    """
    found = economic_quantity(
        use_per_year=9_600, order_cost_micro=75 * USD, holding_micro_per_year=16 * USD
    )
    assert found == pytest.approx(300)
    assert 9_600 / found == pytest.approx(32)


# All-units discounts: a pack of one unit


def test_discount_in_five_prices_is_bought_at_a_break() -> None:
    """Textbook problem with full solution: 200 units at $40,080 a year.

    800 a year, $60 an order, holding 30% of price; at 79 units $42,417.9, at 100 $40,822.5, at 500
    $41,221.
    """
    prices = [(1, 53.0), (50, 51.5), (100, 49.5), (200, 48.0), (500, 47.0)]
    shop = {"packs_per_year": 800.0, "order_cost_micro": 60.0 * USD, "holding_ratio_per_year": 0.3}
    breaks = [PriceBreak(start, round(price * USD)) for start, price in prices]
    assert cheapest_packs(price_breaks=breaks, **shop) == 200
    costs = [
        cost_per_year_micro(packs=packs, pack_price_micro=round(price * USD), **shop) / USD
        for packs, price in [(79, 51.5), (100, 49.5), (200, 48.0), (500, 47.0)]
    ]
    assert costs == pytest.approx([42417.869937, 40822.5, 40080.0, 41221.0], rel=1e-9)


def test_discount_in_three_prices_is_bought_at_the_last_break() -> None:
    """University course solution, quantity discounts: 301 units at $88,862.58 a year.

    1,000 a year, $200 an order, holding 25% of price; at 133 units $93,000.01, at 101 $93,116.45.
    """
    prices = [(1, 100), (101, 90), (301, 85)]
    shop = {
        "packs_per_year": 1000.0,
        "order_cost_micro": 200.0 * USD,
        "holding_ratio_per_year": 0.25,
    }
    breaks = [PriceBreak(start, price * USD) for start, price in prices]
    assert cheapest_packs(price_breaks=breaks, **shop) == 301
    costs = [
        cost_per_year_micro(packs=packs, pack_price_micro=price * USD, **shop) / USD
        for packs, price in [(301, 85), (133, 90), (101, 90)]
    ]
    assert costs == pytest.approx([88862.576827, 93000.009398, 93116.44802], rel=1e-9)


def test_discount_on_bags_is_bought_at_the_middle_break() -> None:
    """S. Nahmias, Production and Operations Analysis, Example 4.4 (from memory): 500 at $198.10.

    600 a year, $8 an order, holding 20% of price; at 400 $204.00, at 1,000 $200.80.
    """
    breaks = [PriceBreak(1, 300_000), PriceBreak(500, 290_000), PriceBreak(1000, 280_000)]
    shop = {"packs_per_year": 600.0, "order_cost_micro": 8.0 * USD, "holding_ratio_per_year": 0.2}
    assert cheapest_packs(price_breaks=breaks, **shop) == 500
    costs = [
        cost_per_year_micro(packs=packs, pack_price_micro=price_micro, **shop) / USD
        for packs, price_micro in [(400, 300_000), (500, 290_000), (1000, 280_000)]
    ]
    assert costs == pytest.approx([204.0, 198.1, 200.8], rel=1e-9)


# Safety stock by the normal curve


@pytest.mark.parametrize(
    ("service_level", "factor"),
    [
        ("0.5", 0.0),
        ("0.75", 0.6745),
        ("0.8", 0.8416),
        ("0.85", 1.0364),
        ("0.9", 1.2816),
        ("0.95", 1.6449),
        ("0.975", 1.9600),
        ("0.98", 2.0537),
        ("0.99", 2.3263),
        ("0.995", 2.5758),
        ("0.999", 3.0902),
    ],
)
def test_safety_factors_of_the_normal_table(service_level: str, factor: float) -> None:
    """Any table of standard normal quantiles."""
    assert safety_factor(float(service_level)) == pytest.approx(factor, abs=5e-5)


def test_reorder_point_of_a_mustard_shop() -> None:
    """S. Nahmias, Production and Operations Analysis, Example 5.5, type 1 (from memory): R = 151.

    Lead-time demand 100 with sd 25 at 98%: 151.34, so rounded up 152.
    """
    found = cycle_point(until=Spread(100.0, 25.0), service_level=0.98, uses=None)
    assert safety_factor(0.98) == pytest.approx(2.053749, rel=1e-6)
    assert 100 + 25 * safety_factor(0.98) == pytest.approx(151.343723, rel=1e-8)
    assert found == (152, 52, DemandRule.NORMAL)


@pytest.mark.parametrize(
    ("lead_sd", "sigma", "safety"),
    [
        (7.0, 17549.928775, 22491.138697),
        (5.0, 12569.80509, 16108.853392),
        (0.0, 1322.875656, 1695.333367),
    ],
)
def test_safety_stock_under_uncertain_lead_time(
    lead_sd: float, sigma: float, safety: float
) -> None:
    """S. Chopra & P. Meindl, Supply Chain Management, impact of lead time uncertainty (memory).

    2,500 a day with sd 500, lead time 7 days, 90%: 22,491, 16,109 and 1,695.
    """
    demand = use_until(DAILY, Spread(7.0, lead_sd), 0)
    assert demand == pytest.approx((17_500.0, sigma), rel=1e-9)
    assert demand.sd * safety_factor(0.9) == pytest.approx(safety, rel=1e-9)


def test_safety_stock_is_that_of_the_normal_curve_where_it_fits() -> None:
    """The last line above. The first two spread so far that the curve would use less than nothing.

    They are given to a gamma curve, whose quantiles scipy has.
    """
    certain = use_until(DAILY, Spread(7.0, 0.0), 0)
    uncertain = use_until(DAILY, Spread(7.0, 7.0), 0)
    found = cycle_point(until=certain, service_level=0.9, uses=None)
    assert (found.safety_base, found.rule) == (1696, DemandRule.NORMAL)
    wide = cycle_point(until=uncertain, service_level=0.9, uses=None)
    shape = (uncertain.mean / uncertain.sd) ** 2
    expected = stats.gamma.ppf(0.9, shape, scale=uncertain.mean / shape)
    assert (wide.point_base, wide.rule) == (math.ceil(expected), DemandRule.GAMMA)


def test_reorder_point_that_gives_a_known_service_level() -> None:
    """S. Chopra & P. Meindl, Supply Chain Management, safety inventory Examples 1-2 (from memory).

    2,500 a week with sd 500, lead time 2 weeks: a reorder point of 6,000 holds 1,000 of safety
    stock and gives a service level of 0.92 (0.92135).
    """
    demand = use_until(DAILY, Spread(2.0, 0.0), 0)
    found = cycle_point(until=demand, service_level=0.92135, uses=None)
    assert demand.sd == pytest.approx(707.106781, rel=1e-8)
    assert found.point_base == pytest.approx(6000, abs=1)
    assert found.safety_base == pytest.approx(1000, abs=1)


def test_half_the_cycles_need_no_safety_stock() -> None:
    """The normal curve is symmetric: its quantile at one half is 0 (any table)."""
    found = cycle_point(until=Spread(100.0, 25.0), service_level=0.5, uses=None)
    assert found == (100, 0, DemandRule.NORMAL)


# Slow movers


@pytest.mark.parametrize(("service_level", "point"), [(0.9, 14), (0.95, 15), (0.99, 18)])
def test_smallest_count_under_poisson_demand(service_level: float, point: int) -> None:
    """W. J. Hopp & M. L. Spearman, Factory Physics, base stock, Poisson of mean 10 (memory)."""
    assert smallest_covering(mean=10.0, variance=10.0, service_level=service_level) == point


@pytest.mark.parametrize(
    ("just_below", "just_above", "count"),
    [(0.8644, 0.8645, 13), (0.9165, 0.9166, 14), (0.9512, 0.9513, 15)],
)
def test_poisson_chances_of_the_base_stock_table(
    just_below: float, just_above: float, count: int
) -> None:
    """The same table: P(D<=13) = 0.864, P(D<=14) = 0.917, P(D<=15) = 0.951."""
    assert smallest_covering(mean=10.0, variance=10.0, service_level=just_below) == count
    assert smallest_covering(mean=10.0, variance=10.0, service_level=just_above) == count + 1


@pytest.mark.parametrize(
    ("service_level", "point", "poisson_point"), [(0.9, 11, 9), (0.95, 13, 10), (0.99, 18, 12)]
)
def test_smallest_count_under_negative_binomial_demand(
    service_level: float, point: int, poisson_point: int
) -> None:
    """Moment fit of S. Axsater, Inventory Control, ch. 5: mean 6, variance 15, so n = 4, p = 0.4.

    The figures are not printed there: they are computed from the published distribution.
    """
    assert smallest_covering(mean=6.0, variance=15.0, service_level=service_level) == point
    assert smallest_covering(mean=6.0, variance=6.0, service_level=service_level) == poisson_point


def test_chance_of_no_demand_at_all_under_negative_binomial() -> None:
    """P(D=0) = 0.4^4 = 0.0256: the last service level that a point of 0 covers."""
    assert smallest_covering(mean=6.0, variance=15.0, service_level=0.0255999) == 0
    assert smallest_covering(mean=6.0, variance=15.0, service_level=0.0256001) == 1


# Fill rate


def test_points_of_the_mustard_shop_by_fill_rate_and_by_loss() -> None:
    """S. Nahmias, Example 5.5, type 2 (from memory): R = 126 where type 1 has 151.

    Lead-time demand 100 with sd 25, Q = 100, 98%. The book has a normal curve, looks all the time
    and leaves out what is still short of the order before; a gamma curve of the same moments and a
    moment's review come within two jars.
    """
    moment = 0.01
    found = fill_point(
        before=Spread(100.0, 25.0),
        until=Spread(100.0 + moment, 25.0),
        order_base=100.0,
        fill_rate=0.98,
        uses=None,
    )
    assert found.point_base == pytest.approx(126, abs=2)


# Forecasts

LUBRICANT = "0 2 0 1 0 11 0 0 0 0 2 0 6 3 0 0 0 0 0 7 0 0 0 0 0 0 0 3 1 0 0 1 0 1 0 0"  # 36 months


def test_croston_with_the_correction_on_lubricant_sales() -> None:
    """R. J. Hyndman & G. Athanasopoulos, Forecasting, 2nd ed. 2018, sec. 12.2: 0.985 by Croston.

    Size 2.750, interval 2.793; times 1 - 0.1 / 2 by Syntetos and Boylan: 0.935367.
    """
    use = np.array([LUBRICANT.split()], dtype=float)
    assert croston_by_origin(use)[0, -1] == pytest.approx(0.935367, abs=1e-6)
    assert croston_by_origin(use)[0, -1] / 0.95 == pytest.approx(0.984597, abs=1e-6)


def test_lubricant_sales_are_lumpy() -> None:
    """A. A. Syntetos, J. E. Boylan & J. D. Croston, 2005: 36 / 11 = 3.27 and 0.798."""
    interval, variation = intervals_and_variations(np.array([LUBRICANT.split()], dtype=float))
    assert (interval[0], variation[0]) == pytest.approx((3.272727, 0.797784), abs=1e-6)
    assert patterns(np.array([LUBRICANT.split()], dtype=float)) == [Pattern.LUMPY]

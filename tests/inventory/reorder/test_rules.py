"""Advice on when to reorder and how much: every figure, every refusal, every promise."""

import math
from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
from scipy import stats

from inventory.reorder.rules import (
    DemandRule,
    LeadTimeSource,
    PriceBreak,
    ReorderInputs,
    Service,
    Spread,
    advise,
    reasons,
)
from inventory.reorder.rules.demand import lead_time, use_per_day
from inventory.reorder.rules.forecast import Forecast, steady
from inventory.reorder.rules.quantity import (
    Limit,
    cash_cap,
    last_day_to_order,
    packs_for,
    shelf_cap,
    storage_cap,
)


def days(*use_base: int) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    return np.array(use_base, dtype=np.int64)


def certain(per_day: float) -> Forecast:
    """The same every day, without any spread."""
    return steady(Spread(per_day, 0.0), 365)


def why(inputs: ReorderInputs) -> tuple[str, ...]:
    return reasons(inputs, advise(inputs))


HOOKS = ReorderInputs(
    use_base_by_day=days(*[90, 110] * 30),
    lead_times_days=(68, 72, 70, 70),
    lead_time_quoted_days=None,
    review_days=7,
    service=Service.CYCLE,
    service_level=Decimal("0.95"),
    on_hand_base=7_000,
    on_order_base=1_000,
    promised_base=500,
    pack_base=500,
    packs_min=2,
)


# Use and lead time


def test_days_without_use_count_in_the_mean_and_the_spread() -> None:
    assert use_per_day(days(0, 0, 3, 0, 0, 3)) == pytest.approx((1.0, 1.549193), rel=1e-6)


def test_one_day_of_history_has_no_spread() -> None:
    assert use_per_day(days(0)) == Spread(0.0, 0.0)


def test_a_quote_weighs_as_much_as_two_received_orders() -> None:
    spread, source = lead_time([68, 72], 60)
    # (2 * 60 + 68 + 72) / 4; (2 * 12^2 + 8 + 2 * 1/2 * 10^2) / 4 = 99, times 5/4.
    assert spread == pytest.approx((65.0, math.sqrt(99 * 1.25)), rel=1e-12)
    assert source is LeadTimeSource.BLENDED


def test_received_orders_outweigh_the_quote_as_they_grow() -> None:
    spread, _ = lead_time([68, 72] * 50, 60)
    assert spread == pytest.approx((70.0, 2.96), abs=0.3)


@pytest.mark.parametrize("quoted_days", [None, 0])
def test_without_a_quote_received_orders_stand_alone(quoted_days: int | None) -> None:
    spread, source = lead_time([68, 72], quoted_days)
    assert (spread.mean, source) == (70.0, LeadTimeSource.RECEIVED)


def test_without_received_orders_the_quote_is_used_with_a_spread_and_named() -> None:
    inputs = replace(HOOKS, lead_times_days=(), lead_time_quoted_days=60)
    advice = advise(inputs)
    assert advice.lead_time_days == pytest.approx((60.0, 12.0 * math.sqrt(1.5)))
    assert advice.lead_time_source is LeadTimeSource.QUOTED
    said = "No order received yet: lead time as quoted, 60.0 days, standard deviation 14.7"
    assert f"{said} taken for granted." in why(inputs)


def test_the_weight_of_the_quote_is_said() -> None:
    said = "Lead time of 2 received orders and, at 50%, of the quote: 65.0 days"
    inputs = replace(HOOKS, lead_times_days=(68, 72), lead_time_quoted_days=60)
    assert f"{said}, standard deviation 11.1." in why(inputs)


# The whole advice


def test_every_intermediate_figure_of_an_advice_is_given() -> None:
    advice = advise(HOOKS)
    # 77 days of lead time and review. Variance of use 77 * 6000/59 * (1 + 77/60), since the mean of
    # 60 days is uncertain too. Variance of the lead time (2 * 14^2 + 8) / 6 * 7/6 = 77.8, times
    # 100^2. Together 891.996^2; k = 1.644854.
    assert advice.history_days == 60
    assert advice.use_per_day_base == pytest.approx((100.0, 10.084389), rel=1e-6)
    assert advice.demand_base == pytest.approx((7_700.0, 891.996322), rel=1e-6)
    assert advice.demand_rule is DemandRule.NORMAL
    assert advice.safety_stock_base == 1_468
    assert advice.reorder_point_base == 9_168
    assert advice.position_base == 7_500
    assert advice.need_base == 9_168 + 700 - 7_500
    assert advice.economic_base is None
    assert advice.shelf_cap_base is None
    assert (advice.suggested_packs, advice.suggested_base) == (5, 2_500)
    assert advice.order_by_days == 0
    assert "Use over 60 days of history." in why(HOOKS)


def test_an_order_is_due_at_the_reorder_point_and_not_one_above_it() -> None:
    at_point = replace(HOOKS, on_hand_base=9_168, on_order_base=0, promised_base=0)
    assert advise(at_point).suggested_packs == 2
    assert advise(replace(at_point, on_hand_base=9_169)).suggested_packs == 0


def test_at_the_reorder_point_the_review_is_the_time_left_to_order() -> None:
    at_point = replace(HOOKS, on_hand_base=9_168, on_order_base=0, promised_base=0)
    assert advise(at_point).order_by_days == 7


def test_without_review_the_point_itself_still_asks_for_a_pack() -> None:
    hooks = replace(HOOKS, review_days=0, packs_min=1, on_order_base=0, promised_base=0)
    point = advise(hooks).reorder_point_base
    at_point = advise(replace(hooks, on_hand_base=point))
    assert (at_point.need_base, at_point.suggested_packs) == (0, 1)


PRICED = replace(
    HOOKS,
    price_breaks=(PriceBreak(1, 20_000_000),),
    order_cost_micro=40_000_000,
    holding_ratio_per_year=Decimal("0.25"),
)


def test_the_economic_quantity_is_ordered_when_it_is_more_than_the_need() -> None:
    # 36,525 a year = 73.05 packs; sqrt(2 * 73.05 * 40 / (0.25 * 20)) = 34.19 packs. 34 cost 85.94
    # to order and 85.00 to hold a year; 35 cost 83.49 and 87.50, 0.04 more.
    advice = advise(PRICED)
    assert advice.economic_base == pytest.approx(500 * 34.187717, rel=1e-6)
    assert advice.suggested_packs == 34
    assert "The order is the economic order quantity, in whole packs." in why(PRICED)


def test_a_free_item_has_no_economic_quantity() -> None:
    free = replace(
        HOOKS,
        price_breaks=(PriceBreak(1, 0),),
        order_cost_micro=40_000_000,
        holding_ratio_per_year=Decimal("0.25"),
    )
    assert advise(free).economic_base is None


SLOW = replace(HOOKS, lead_times_days=(), lead_time_quoted_days=10, review_days=7)


def test_a_slow_mover_gets_a_count_that_covers_and_the_rule_is_named() -> None:
    advice = advise(replace(SLOW, use_base_by_day=days(*[0, 0, 0, 0, 0, 1] * 40)))
    # 17 days at 1 in 6; its variance, with that of the lead time, is below the mean.
    assert advice.demand_rule is DemandRule.POISSON
    assert advice.reorder_point_base == int(stats.poisson.ppf(0.95, 17 / 6))


def test_a_slow_mover_used_in_lumps_is_negative_binomial() -> None:
    advice = advise(replace(SLOW, use_base_by_day=days(*[0] * 28, 4, 4)))
    mean, sd = advice.demand_base
    assert advice.demand_rule is DemandRule.NEGATIVE_BINOMIAL
    covers = stats.nbinom(mean**2 / (sd**2 - mean), mean / sd**2)
    assert advice.reorder_point_base == int(covers.ppf(0.95))


def test_a_mean_of_ten_is_a_curve_and_anything_less_a_slow_mover() -> None:
    ten = replace(SLOW, use_base_by_day=days(*[1] * 30), review_days=0)
    assert advise(ten).demand_rule is DemandRule.NORMAL
    assert advise(replace(ten, lead_time_quoted_days=9)).demand_rule is DemandRule.POISSON


def test_an_item_never_used_is_not_ordered_and_has_no_last_day() -> None:
    unused = replace(HOOKS, use_base_by_day=days(0, 0, 0), on_hand_base=0, on_order_base=0)
    unused = replace(unused, promised_base=0)
    advice = advise(unused)
    assert (advice.reorder_point_base, advice.suggested_packs) == (0, 0)
    assert (advice.order_by_days, advice.outlook) == (None, (0.0, 0.0, None))
    assert "Nothing was used in that time." in why(unused)


def test_what_is_owed_is_ordered_even_of_an_item_never_used() -> None:
    unused = replace(HOOKS, use_base_by_day=days(0, 0), on_hand_base=0, on_order_base=0)
    advice = advise(replace(unused, promised_base=1_200, shelf_life_days=30))
    assert advice.suggested_packs == 3


def test_a_short_history_is_called_a_rough_guess() -> None:
    said = "Under 28 days, mean and spread are a rough guess."
    assert said in why(replace(HOOKS, use_base_by_day=days(*[90] * 27)))
    assert said not in why(replace(HOOKS, use_base_by_day=days(*[90] * 28)))


def test_a_reorder_point_set_by_hand_stands_and_needs_no_history() -> None:
    by_hand = replace(HOOKS, use_base_by_day=days(), point_set_base=8_000)
    advice = advise(by_hand)
    assert (advice.reorder_point_base, advice.safety_stock_base) == (8_000, 8_000)
    assert advice.demand_rule is DemandRule.SET_BY_HAND
    assert advice.suggested_packs == 2
    assert "The reorder point was set by hand." in why(by_hand)


def test_a_reorder_point_set_by_hand_holds_as_safety_what_mean_demand_leaves() -> None:
    assert advise(replace(HOOKS, point_set_base=8_000)).safety_stock_base == 300
    assert advise(replace(HOOKS, point_set_base=7_000)).safety_stock_base == 0


# Limits

STEADY = replace(HOOKS, use_base_by_day=days(*[100] * 60))
"""Position 7,500 leaves 500 when the order comes in 70 days."""


def test_shelf_life_cuts_an_order_down_to_whole_packs_and_says_so() -> None:
    # Used before it expires on day 90: 9,000 less 7,500 that is used first.
    hooks = replace(STEADY, shelf_life_days=20, pack_base=400)
    advice = advise(hooks)
    assert advice.shelf_cap_base == 1_500
    assert advice.suggested_packs == 3
    assert "Cut to its shelf life." in why(hooks)


def test_an_uncertain_use_leaves_less_of_a_shelf_life() -> None:
    # 60 days tell the mean badly: 90 * 6000/59 * (1 + 90/60) = 151.3^2.
    advice = advise(replace(HOOKS, shelf_life_days=20))
    assert advice.shelf_cap_base == 1_500 - 152


def test_the_smallest_order_is_kept_even_past_shelf_life_and_says_so() -> None:
    hooks = replace(STEADY, shelf_life_days=6)
    advice = advise(hooks)
    assert (advice.shelf_cap_base, advice.suggested_packs) == (100, 2)
    assert "Even the least that can be ordered is more than its shelf life allows." in why(hooks)


def test_a_pack_that_cannot_be_used_up_once_opened_is_named() -> None:
    hooks = replace(STEADY, opened_life_days=2)
    assert advise(hooks).wasted_ratio == pytest.approx(0.6)
    said = "Of an opened pack 60% is not used within its opened life: look for a smaller one."
    assert said in why(hooks)
    assert advise(replace(STEADY, opened_life_days=5)).wasted_ratio == 0


def test_room_and_cash_cut_an_order_and_say_so() -> None:
    by_room, by_cash = (
        replace(PRICED, room_base=5_600),
        replace(PRICED, order_value_max_micro=10**8),
    )
    # 7,500 less 70 days of 100 is still here when it comes: 5,100 more fit.
    assert (advise(by_room).suggested_packs, advise(by_cash).suggested_packs) == (10, 5)
    assert "Cut to the room there is for it." in why(by_room)
    assert "Cut to the most to spend on an order of it." in why(by_cash)


def test_money_buys_more_packs_at_the_price_of_more() -> None:
    breaks = (PriceBreak(1, 100), PriceBreak(10, 80), PriceBreak(100, 50))
    found = [
        cash_cap(price_breaks=breaks, pack_base=7, most_micro=most) for most in (799, 800, 4_999)
    ]
    assert found == [7 * 7, 7 * 10, 7 * 62]
    assert cash_cap(price_breaks=breaks, pack_base=7, most_micro=5_000) == 700
    assert cash_cap(price_breaks=(), pack_base=7, most_micro=5_000) is None


@pytest.mark.parametrize(
    ("cap_base", "owed_base", "expected"),
    [
        (1_000, 0, (10, (), ())),
        (999, 0, (9, (Limit.STORAGE,), ())),
        (199, 0, (2, (Limit.STORAGE,), (Limit.STORAGE,))),
        (199, 201, (3, (Limit.STORAGE,), (Limit.STORAGE,))),
        (901, 901, (10, (), (Limit.STORAGE,))),
    ],
)
def test_packs_are_cut_to_a_limit_but_cover_the_smallest_order_and_what_is_owed(
    cap_base: int, owed_base: int, expected: tuple[int, tuple[Limit, ...], tuple[Limit, ...]]
) -> None:
    found = packs_for(
        wanted_base=901,
        owed_base=owed_base,
        caps_base={Limit.STORAGE: cap_base},
        pack_base=100,
        packs_min=2,
    )
    assert found == expected


def test_the_tightest_limit_is_named() -> None:
    found = packs_for(
        wanted_base=901,
        owed_base=0,
        caps_base={Limit.SHELF_LIFE: 700, Limit.STORAGE: 500, Limit.CASH: 2_000},
        pack_base=100,
        packs_min=1,
    )
    assert found == (5, (Limit.STORAGE,), ())


def test_a_shelf_cap_is_not_lost_to_float_arithmetic() -> None:
    # 0.29 * 100 is 28.999999999999996 in floats.
    cap = shelf_cap(
        forecast=certain(0.29), lead=Spread(0.0, 0.0), position_base=0, shelf_life_days=100
    )
    assert cap == 29


def test_a_shelf_cap_lets_through_what_is_owed() -> None:
    cap = shelf_cap(
        forecast=certain(10.0), lead=Spread(5.0, 0.0), position_base=-70, shelf_life_days=3
    )
    assert cap == 30 + 70


def test_room_is_what_is_left_when_the_order_comes() -> None:
    cap = storage_cap(
        forecast=certain(10.0), lead=Spread(5.0, 0.0), position_base=120, room_base=100
    )
    assert cap == 100 - 70


# Last day to order


@pytest.mark.parametrize(
    ("position_base", "expected_days"), [(320, 2), (319, 1), (301, 0), (300, 0), (0, 0)]
)
def test_the_last_day_leaves_the_safety_stock_when_the_order_comes(
    position_base: int, expected_days: int
) -> None:
    found = last_day_to_order(
        position_base=position_base,
        safety_base=100,
        forecast=certain(10.0),
        lead=Spread(20.0, 0.0),
    )
    assert found == expected_days

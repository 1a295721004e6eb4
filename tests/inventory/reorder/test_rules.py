"""Advice on when to reorder and how much: every figure, every refusal, every promise."""

from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
from scipy import stats

from inventory.reorder.errors import (
    LeadTimeNegativeError,
    LeadTimeUnknownError,
    LeadTimeZeroError,
    NoAdviceError,
    NoUseHistoryError,
    ServiceLevelOutsideError,
    UsedOnceError,
    no_advice,
)
from inventory.reorder.rules import (
    DemandRule,
    Fault,
    LeadTimeSource,
    PriceBreak,
    ReorderInputs,
    Spread,
    advise,
    first_fault,
)
from inventory.reorder.rules.demand import lead_time, use_per_day
from inventory.reorder.rules.quantity import (
    last_day_to_order,
    packs_for,
    shelf_cap,
)
from shopfloor.errors import InvalidInputError


def days(*use_base: int) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    return np.array(use_base, dtype=np.int64)


HOOKS = ReorderInputs(
    use_base_by_day=days(*[90, 110] * 30),
    lead_times_days=(68, 72),
    lead_time_quoted_days=60,
    review_days=7,
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


def test_received_orders_come_before_the_quoted_lead_time() -> None:
    spread, source = lead_time([68, 72], 60)
    assert spread == pytest.approx((70.0, 2.828427), rel=1e-6)
    assert source is LeadTimeSource.RECEIVED


def test_one_received_order_is_taken_as_certain_and_the_advice_says_so() -> None:
    advice = advise(replace(HOOKS, lead_times_days=(70,)))
    assert advice.lead_time_days == Spread(70.0, 0.0)
    assert "Lead time of the one received order, 70 days, taken as certain." in advice.why


def test_without_received_orders_the_quoted_lead_time_is_used_and_named() -> None:
    advice = advise(replace(HOOKS, lead_times_days=()))
    assert advice.lead_time_days == Spread(60.0, 0.0)
    assert advice.lead_time_source is LeadTimeSource.QUOTED
    assert "No order received yet: the quoted 60 days are taken as certain." in advice.why


# The whole advice


def test_every_intermediate_figure_of_an_advice_is_given() -> None:
    advice = advise(HOOKS)
    # 77 days of lead time and review; variance 77 * 6000/59 + 100^2 * 8 = 87,830.5; k = 1.644854.
    assert advice.history_days == 60
    assert advice.use_per_day_base == pytest.approx((100.0, 10.084389), rel=1e-6)
    assert advice.demand_base == pytest.approx((7_700.0, 296.362124), rel=1e-6)
    assert advice.demand_rule is DemandRule.NORMAL
    assert advice.safety_stock_base == 488
    assert advice.reorder_point_base == 8_188
    assert advice.position_base == 7_500
    assert advice.need_base == 8_188 + 700 - 7_500
    assert advice.economic_base is None
    assert advice.shelf_cap_base is None
    assert (advice.suggested_packs, advice.suggested_base) == (3, 1_500)
    assert advice.order_by_days == 0
    assert "Use over 60 days of history." in advice.why


def test_an_order_is_due_at_the_reorder_point_and_not_one_above_it() -> None:
    at_point = replace(HOOKS, on_hand_base=8_188, on_order_base=0, promised_base=0)
    assert advise(at_point).suggested_packs == 2
    assert advise(replace(at_point, on_hand_base=8_189)).suggested_packs == 0


def test_at_the_reorder_point_the_review_is_the_time_left_to_order() -> None:
    at_point = replace(HOOKS, on_hand_base=8_188, on_order_base=0, promised_base=0)
    assert advise(at_point).order_by_days == 7


def test_without_review_the_point_itself_still_asks_for_a_pack() -> None:
    hooks = replace(HOOKS, review_days=0, packs_min=1, on_order_base=0, promised_base=0)
    point = advise(hooks).reorder_point_base
    at_point = advise(replace(hooks, on_hand_base=point))
    assert (at_point.need_base, at_point.suggested_packs) == (0, 1)


def test_the_economic_quantity_is_ordered_when_it_is_more_than_the_need() -> None:
    # 36,500 a year = 73 packs; sqrt(2 * 73 * 40 / (0.25 * 20)) = 34.18 packs.
    advice = advise(
        replace(
            HOOKS,
            price_breaks=(PriceBreak(1, 20_000_000),),
            order_cost_micro=40_000_000,
            holding_ratio_per_year=Decimal("0.25"),
        )
    )
    assert advice.economic_base == pytest.approx(500 * 34.176015, rel=1e-6)
    assert advice.suggested_packs == 35
    assert "The order is the economic order quantity, in whole packs." in advice.why


def test_a_free_item_has_no_economic_quantity() -> None:
    free = replace(
        HOOKS,
        price_breaks=(PriceBreak(1, 0),),
        order_cost_micro=40_000_000,
        holding_ratio_per_year=Decimal("0.25"),
    )
    assert advise(free).economic_base is None


def test_a_slow_mover_gets_a_count_that_covers_and_the_rule_is_named() -> None:
    slow = replace(HOOKS, use_base_by_day=days(*[0, 0, 0, 0, 0, 1] * 10), lead_times_days=(20,))
    advice = advise(slow)
    # Mean 60 days / 6 = 1 in 6 over 27 days: 4.5; its variance, 3.81, is below the mean.
    assert advice.demand_rule is DemandRule.POISSON
    assert advice.reorder_point_base == int(stats.poisson.ppf(0.95, 4.5))
    assert advice.safety_stock_base == 4


def test_a_slow_mover_used_in_lumps_is_negative_binomial() -> None:
    lumpy = replace(HOOKS, use_base_by_day=days(*[0] * 28, 4, 4), lead_times_days=(20,))
    assert advise(lumpy).demand_rule is DemandRule.NEGATIVE_BINOMIAL


def test_a_mean_of_ten_is_normal_and_anything_less_is_a_slow_mover() -> None:
    ten = replace(HOOKS, use_base_by_day=days(*[1] * 30), lead_times_days=(10,), review_days=0)
    assert advise(ten).demand_rule is DemandRule.NORMAL
    assert advise(replace(ten, lead_times_days=(9,))).demand_rule is DemandRule.POISSON


def test_an_item_never_used_is_not_ordered_and_has_no_last_day() -> None:
    unused = replace(HOOKS, use_base_by_day=days(0, 0, 0), on_hand_base=0, on_order_base=0)
    advice = advise(replace(unused, promised_base=0))
    assert (advice.reorder_point_base, advice.suggested_packs) == (0, 0)
    assert advice.order_by_days is None
    assert "Nothing was used in that time." in advice.why


def test_what_is_owed_is_ordered_even_of_an_item_never_used() -> None:
    unused = replace(HOOKS, use_base_by_day=days(0, 0), on_hand_base=0, on_order_base=0)
    advice = advise(replace(unused, promised_base=1_200, shelf_life_days=30))
    assert advice.suggested_packs == 3


def test_a_short_history_is_called_a_rough_guess() -> None:
    said = "Under 28 days, mean and spread are a rough guess."
    assert said in advise(replace(HOOKS, use_base_by_day=days(*[90] * 27))).why
    assert said not in advise(replace(HOOKS, use_base_by_day=days(*[90] * 28))).why


def test_a_reorder_point_set_by_hand_stands_and_needs_no_history() -> None:
    by_hand = replace(HOOKS, use_base_by_day=days(), point_set_base=8_000)
    advice = advise(by_hand)
    assert (advice.reorder_point_base, advice.safety_stock_base) == (8_000, 8_000)
    assert advice.demand_rule is DemandRule.SET_BY_HAND
    assert advice.suggested_packs == 2
    assert "The reorder point was set by hand." in advice.why


def test_a_reorder_point_set_by_hand_holds_as_safety_what_mean_demand_leaves() -> None:
    assert advise(replace(HOOKS, point_set_base=8_000)).safety_stock_base == 300
    assert advise(replace(HOOKS, point_set_base=7_000)).safety_stock_base == 0


# Shelf life


def test_shelf_life_cuts_an_order_down_to_whole_packs_and_says_so() -> None:
    # Position 7,500 leaves 500 when the order comes in 70 days: 20 * 100 - 500 = 1,500 of use.
    hooks = replace(HOOKS, shelf_life_days=20, pack_base=400)
    advice = advise(hooks)
    assert advice.shelf_cap_base == 1_500
    assert advice.suggested_packs == 3
    assert "Cut to what can be used within its shelf life." in advice.why


def test_the_smallest_order_is_kept_even_past_shelf_life_and_says_so() -> None:
    advice = advise(replace(HOOKS, shelf_life_days=6))
    assert (advice.shelf_cap_base, advice.suggested_packs) == (100, 2)
    assert (
        "Even the least that can be ordered cannot all be used within its shelf life." in advice.why
    )


@pytest.mark.parametrize(
    ("cap_base", "owed_base", "expected"),
    [
        (None, 0, (10, False, False)),
        (1_000, 0, (10, False, False)),
        (999, 0, (9, True, False)),
        (199, 0, (2, True, True)),
        (199, 201, (3, True, True)),
        (901, 901, (10, False, True)),
    ],
)
def test_packs_are_cut_to_shelf_life_but_cover_the_smallest_order_and_what_is_owed(
    cap_base: int | None, owed_base: int, expected: tuple[int, bool, bool]
) -> None:
    found = packs_for(
        wanted_base=901, owed_base=owed_base, cap_base=cap_base, pack_base=100, packs_min=2
    )
    assert found == expected


def test_a_shelf_cap_is_not_lost_to_float_arithmetic() -> None:
    # 0.29 * 100 is 28.999999999999996 in floats.
    cap = shelf_cap(
        use=Spread(0.29, 0.0), lead=Spread(1.0, 0.0), position_base=0, shelf_life_days=100
    )
    assert cap == 29


def test_a_shelf_cap_lets_through_what_is_owed() -> None:
    cap = shelf_cap(
        use=Spread(10.0, 0.0), lead=Spread(5.0, 0.0), position_base=-70, shelf_life_days=3
    )
    assert cap == 30 + 70


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
        use=Spread(10.0, 0.0),
        lead=Spread(20.0, 0.0),
    )
    assert found == expected_days


# Faults


@pytest.mark.parametrize(
    ("inputs", "expected"),
    [
        (replace(HOOKS, service_level=Decimal("0.5")), ServiceLevelOutsideError),
        (replace(HOOKS, service_level=Decimal("0.99991")), ServiceLevelOutsideError),
        (replace(HOOKS, service_level=Decimal(95)), ServiceLevelOutsideError),
        (replace(HOOKS, use_base_by_day=days()), NoUseHistoryError),
        (replace(HOOKS, use_base_by_day=days(0, 40, 0)), UsedOnceError),
        (replace(HOOKS, lead_times_days=(), lead_time_quoted_days=None), LeadTimeUnknownError),
        (replace(HOOKS, lead_times_days=(30, -1)), LeadTimeNegativeError),
        (replace(HOOKS, lead_times_days=(0, 0)), LeadTimeZeroError),
        (replace(HOOKS, lead_times_days=(), lead_time_quoted_days=0), LeadTimeZeroError),
    ],
)
def test_what_makes_advice_impossible_is_an_error_of_its_own(
    inputs: ReorderInputs, expected: type[NoAdviceError]
) -> None:
    fault = first_fault(inputs)
    assert fault is not None
    error = no_advice(fault, item="HOOK-2")
    assert type(error) is expected
    assert isinstance(error, InvalidInputError)
    assert (error.status, error.code, error.facts) == (422, fault.value, {"item": "HOOK-2"})
    assert error.detail == expected.advice


@pytest.mark.parametrize("fault", list(Fault))
def test_every_fault_has_its_error(fault: Fault) -> None:
    assert no_advice(fault).code == fault.value


@pytest.mark.parametrize(
    "inputs",
    [
        replace(HOOKS, service_level=Decimal("0.50001")),
        replace(HOOKS, service_level=Decimal("0.9999")),
        replace(HOOKS, use_base_by_day=days(0)),
        replace(HOOKS, use_base_by_day=days(1, 0, 1)),
        replace(HOOKS, lead_times_days=(0, 1)),
        replace(HOOKS, lead_times_days=(), lead_time_quoted_days=1),
    ],
)
def test_the_last_input_that_passes_gets_advice(inputs: ReorderInputs) -> None:
    assert first_fault(inputs) is None
    assert advise(inputs).suggested_base >= 0


def test_advice_on_a_faulty_input_is_our_own_mistake() -> None:
    with pytest.raises(AssertionError):
        advise(replace(HOOKS, use_base_by_day=days()))

"""What holds of any advice, whatever the item: tried on many invented ones."""

import math
from dataclasses import replace
from decimal import Decimal
from itertools import starmap

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from inventory.reorder.rules import PriceBreak, ReorderInputs, advise
from inventory.reorder.rules.points import smallest_covering
from inventory.reorder.rules.quantity import cheapest_packs, cost_per_year_micro, whole_packs

pytestmark = pytest.mark.only_on("sqlite")  # no database has a part in it: once is enough


@st.composite
def inputs(draw: st.DrawFn) -> ReorderInputs:
    # Stock near the reorder point of a small item and of a large one, so that both sides are tried.
    amounts = st.integers(0, 30) | st.integers(0, 10**6) | st.integers(0, 10**11)
    slow = st.lists(st.sampled_from([0, 0, 0, 0, 0, 0, 0, 0, 1, 3]), min_size=20, max_size=60)
    fast = st.lists(st.integers(0, 100) | st.integers(0, 10**9), min_size=1, max_size=60)
    use = draw(
        (slow | fast)
        .filter(lambda each: sum(map(bool, each)) != 1)
        .map(lambda each: np.array(each, dtype=np.int64))
    )
    quoted = draw(st.integers(1, 20) | st.integers(1, 400))
    received = draw(
        st.lists(st.integers(0, 400), max_size=8).filter(lambda each: not each or any(each))
    )
    breaks = draw(
        st.dictionaries(st.integers(1, 500), st.integers(0, 10**9), max_size=4).map(
            lambda each: tuple(PriceBreak(*pair) for pair in each.items())
        )
    )
    return ReorderInputs(
        use_base_by_day=use,
        lead_times_days=received,
        lead_time_quoted_days=quoted,
        review_days=draw(st.integers(0, 7) | st.integers(0, 60)),
        service_level=draw(st.decimals("0.501", "0.9999", places=4)),
        on_hand_base=draw(amounts),
        on_order_base=draw(amounts),
        promised_base=draw(amounts),
        pack_base=draw(st.integers(1, 10**7)),
        packs_min=draw(st.integers(1, 20)),
        shelf_life_days=draw(st.none() | st.integers(0, 1_000)),
        price_breaks=breaks,
        order_cost_micro=draw(st.none() | st.integers(0, 10**9)),
        holding_ratio_per_year=draw(st.none() | st.decimals("0", "2", places=2)),
        point_set_base=draw(st.none() | st.integers(0, 10**10)),
    )


@given(given_inputs=inputs(), more_base=st.integers(0, 10**10))
def test_more_stock_never_orders_more_or_sooner(
    given_inputs: ReorderInputs, more_base: int
) -> None:
    less = advise(given_inputs)
    more = advise(replace(given_inputs, on_hand_base=given_inputs.on_hand_base + more_base))
    assert more.suggested_packs <= less.suggested_packs
    assert (more.order_by_days or 0) >= (less.order_by_days or 0)
    assert (more.order_by_days is None) == (less.order_by_days is None)


@given(given_inputs=inputs())
def test_nothing_suggested_is_ever_negative(given_inputs: ReorderInputs) -> None:
    advice = advise(given_inputs)
    assert min(advice.suggested_base, advice.safety_stock_base, advice.reorder_point_base) >= 0
    assert min(advice.need_base, advice.shelf_cap_base or 0, advice.order_by_days or 0) >= 0


@given(given_inputs=inputs())
def test_an_order_is_whole_packs_and_at_least_the_smallest(given_inputs: ReorderInputs) -> None:
    advice = advise(given_inputs)
    assert advice.suggested_base == advice.suggested_packs * given_inputs.pack_base
    assert advice.suggested_packs == 0 or advice.suggested_packs >= given_inputs.packs_min


@given(given_inputs=inputs())
def test_an_order_of_what_does_not_spoil_lifts_the_position_past_the_point_and_the_review(
    given_inputs: ReorderInputs,
) -> None:
    advice = advise(replace(given_inputs, shelf_life_days=None))
    assert advice.suggested_packs == 0 or advice.suggested_base >= advice.need_base


@given(given_inputs=inputs(), shelf_life_days=st.integers(0, 1_000))
def test_no_order_goes_past_shelf_life_except_the_smallest_and_what_is_owed(
    given_inputs: ReorderInputs, shelf_life_days: int
) -> None:
    advice = advise(replace(given_inputs, shelf_life_days=shelf_life_days))
    pack_base = given_inputs.pack_base
    owed_base = -(min(0, advice.position_base) // pack_base) * pack_base
    assert advice.shelf_cap_base is not None
    assert advice.suggested_base <= max(
        advice.shelf_cap_base, owed_base, given_inputs.packs_min * pack_base
    )


@given(given_inputs=inputs())
def test_a_higher_service_level_never_lowers_the_reorder_point(given_inputs: ReorderInputs) -> None:
    usual, higher = (
        advise(replace(given_inputs, service_level=given_inputs.service_level)),
        advise(replace(given_inputs, service_level=Decimal("0.9999"))),
    )
    assert higher.reorder_point_base >= usual.reorder_point_base


@given(
    breaks=st.dictionaries(st.integers(1, 80), st.integers(1, 10**7), min_size=1, max_size=4),
    packs_per_year=st.floats(0.1, 2_000),
    order_cost_micro=st.integers(1, 10**8),
)
def test_no_whole_number_of_packs_is_cheaper_than_the_cheapest(
    breaks: dict[int, int], packs_per_year: float, order_cost_micro: int
) -> None:
    shop = {
        "packs_per_year": packs_per_year,
        "order_cost_micro": float(order_cost_micro),
        "holding_ratio_per_year": 0.25,
    }
    found = cheapest_packs(price_breaks=[*starmap(PriceBreak, breaks.items())], **shop)
    price_micro = [price for start, price in sorted(breaks.items()) if start <= found]
    cost = cost_per_year_micro(packs=found, pack_price_micro=price_micro[-1], **shop)
    others = [
        cost_per_year_micro(
            packs=packs,
            pack_price_micro=breaks[max(start for start in breaks if start <= packs)],
            **shop,
        )
        for packs in range(min(breaks), 200)
    ]
    assert cost <= min(others) * (1 + 1e-12)


@given(packs_per_year=st.floats(0.1, 2_000), order_cost_micro=st.integers(1, 10**8))
def test_no_other_whole_number_is_cheaper_than_the_one_an_economic_quantity_becomes(
    packs_per_year: float, order_cost_micro: int
) -> None:
    def cost(packs: int) -> float:
        return cost_per_year_micro(
            packs=packs,
            pack_price_micro=1_000_000,
            packs_per_year=packs_per_year,
            order_cost_micro=order_cost_micro,
            holding_ratio_per_year=0.25,
        )

    found = whole_packs(math.sqrt(2 * packs_per_year * order_cost_micro / 250_000))
    assert cost(found) <= min(cost(found + 1), cost(max(1, found - 1))) * (1 + 1e-12)


@given(
    mean=st.floats(0.01, 10),
    ratio=st.just(1.0) | st.floats(1.001, 500),
    service_level=st.floats(0.501, 0.9999),
)
def test_the_smallest_count_agrees_with_a_second_implementation(
    mean: float, ratio: float, service_level: float
) -> None:
    variance = mean * ratio
    found = smallest_covering(mean=mean, variance=variance, service_level=service_level)
    other = stats.poisson(mean) if ratio == 1 else stats.nbinom(mean / (ratio - 1), 1 / ratio)
    assert other.cdf(found) >= service_level - 1e-9
    assert found == 0 or other.cdf(found - 1) < service_level + 1e-9

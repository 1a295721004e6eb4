"""What part deliveries of an order line are worth."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from inventory.purchasing.rules import delivery_value_micro, open_base


@given(
    parts=st.lists(st.integers(1, 10**9), min_size=1, max_size=20),
    pack_price_micro=st.integers(0, 10**12),
)
def test_part_deliveries_of_a_line_are_worth_its_price_together(
    parts: list[int], pack_price_micro: int
) -> None:
    pack_base = sum(parts)
    values = [
        delivery_value_micro(
            before_base=sum(parts[:number]),
            now_base=part,
            pack_base=pack_base,
            pack_price_micro=pack_price_micro,
        )
        for number, part in enumerate(parts)
    ]
    assert sum(values) == pack_price_micro
    assert min(values) >= 0


def test_three_thirds_of_ten_cents_are_ten_cents() -> None:
    values = [
        delivery_value_micro(before_base=before, now_base=1, pack_base=3, pack_price_micro=100_000)
        for before in (0, 1, 2)
    ]
    assert values == [33_333, 33_333, 33_334]


def test_more_than_ordered_costs_the_same_a_piece() -> None:
    value = delivery_value_micro(
        before_base=0, now_base=1500, pack_base=1000, pack_price_micro=40_000_000
    )
    assert value == 60_000_000


def test_nothing_is_open_once_all_came_more_came_or_the_line_is_closed() -> None:
    assert open_base(ordered_base=10, received_base=9, is_closed=False) == 1
    assert open_base(ordered_base=10, received_base=10, is_closed=False) == 0
    assert open_base(ordered_base=10, received_base=11, is_closed=False) == 0
    assert open_base(ordered_base=10, received_base=9, is_closed=True) == 0

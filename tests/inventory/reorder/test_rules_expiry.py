"""What expires before anybody can use it: by hand, and against every order of use."""

from __future__ import annotations

from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.reorder.rules import Ending, lost_base

endings = st.lists(st.builds(Ending, st.integers(0, 30), st.integers(1, 500)), max_size=5)


@pytest.mark.parametrize(
    ("given_endings", "lost"),
    [
        ([], 0),
        ([Ending(10, 1000)], 0),  # 100 a day: all of it is used on the tenth day
        ([Ending(10, 1001)], 1),
        ([Ending(0, 40)], 40),
        ([Ending(5, 700), Ending(10, 300)], 200),  # 500 of the first, and the second in time
        ([Ending(10, 700), Ending(5, 500)], 200),  # 500 of the second, then 500 of the first
        ([Ending(20, 5000)], 3000),
        ([Ending(21, 5000)], 0),  # not within the twenty days
    ],
)
def test_what_cannot_be_used_in_time_is_lost(given_endings: list[Ending], lost: int) -> None:
    assert lost_base(endings=given_endings, mean_per_day_base=100.0, within_days=20) == lost


def test_without_use_all_that_expires_within_the_time_is_lost() -> None:
    given_endings = [Ending(3, 10), Ending(30, 20)]
    assert lost_base(endings=given_endings, mean_per_day_base=0.0, within_days=20) == 10


def lost_in_order(order: tuple[Ending, ...], per_day: int) -> int:
    """Use the lots in this order, a unit at a time, each as early as can be."""
    moments_used: set[int] = set()
    lost = 0
    for ending in order:
        free = [at for at in range(ending.days * per_day) if at not in moments_used]
        moments_used.update(free[-ending.qty_base :])
        lost += max(0, ending.qty_base - len(free))
    return lost


@given(
    given_endings=st.lists(
        st.builds(Ending, st.integers(0, 4), st.integers(1, 12)), min_size=1, max_size=4
    ),
    per_day=st.integers(0, 5),
)
def test_no_order_of_use_loses_less(given_endings: list[Ending], per_day: int) -> None:
    lost = lost_base(endings=given_endings, mean_per_day_base=float(per_day), within_days=10)
    assert lost == min(lost_in_order(order, per_day) for order in permutations(given_endings))


@given(
    given_endings=endings,
    more=st.builds(Ending, st.integers(0, 30), st.integers(1, 500)),
    per_day=st.floats(0, 50),
    within_days=st.integers(0, 40),
)
def test_more_stock_never_leaves_less_that_can_be_counted_on(
    given_endings: list[Ending], more: Ending, per_day: float, within_days: int
) -> None:
    lost = lost_base(endings=given_endings, mean_per_day_base=per_day, within_days=within_days)
    with_more = lost_base(
        endings=[*given_endings, more], mean_per_day_base=per_day, within_days=within_days
    )
    assert 0 <= with_more - lost <= more.qty_base

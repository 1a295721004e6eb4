"""How shipped pieces are spread over the lines of an order."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from batches.packing.rules import answered


def test_the_first_line_is_filled_first() -> None:
    assert answered(ordered=[10, 20], shipped=15) == [10, 5]


def test_what_was_too_many_shows_on_the_last_line() -> None:
    assert answered(ordered=[10, 20], shipped=31) == [10, 21]


def test_an_order_without_lines_of_the_item_is_answered_by_nothing() -> None:
    assert answered(ordered=[], shipped=0) == []


@given(
    ordered=st.lists(st.integers(1, 10**6), min_size=1, max_size=8),
    shipped=st.integers(0, 10**7),
)
def test_the_parts_add_up_and_no_line_waits_behind_a_full_one(
    ordered: list[int], shipped: int
) -> None:
    parts = answered(ordered=ordered, shipped=shipped)
    assert sum(parts) == shipped
    assert all(part <= wanted for part, wanted in zip(parts[:-1], ordered[:-1], strict=True))
    # A line gets pieces only once all before it are full.
    assert all(
        part == 0 or before == wanted
        for before, wanted, part in zip(parts, ordered, parts[1:], strict=False)
    )

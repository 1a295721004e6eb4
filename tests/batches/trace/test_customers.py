"""What customers found, by entry, on flows and complaints written down by hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.trace.rules.customers import (
    DAYS_TO_TELL,
    Count,
    Left,
    Shares,
    Told,
    counts_of,
    shares_onward,
)
from batches.trace.rules.flows import Flow

BODY, OTHER_BODY, LATE_BODY, HOOK, PAINTED, LURE, BOXED, REST = range(1, 9)
BODIES, PAINTEDS, LURES, HOOKS = range(11, 15)
ITEM_OF = {BODY: BODIES, OTHER_BODY: BODIES, LATE_BODY: BODIES, HOOK: HOOKS, PAINTED: PAINTEDS}
ITEM_OF |= {LURE: LURES, BOXED: LURES, REST: LURES}
FIRST, SECOND = 101, 102
BEGUN: dict[int, Shares] = {BODY: {FIRST: 1.0}, OTHER_BODY: {SECOND: 1.0}}
OLD = 90


def test_pieces_of_several_entries_are_shared_out_by_amount_all_the_way_to_the_box() -> None:
    flows = [
        Flow(1, {BODY: 30, OTHER_BODY: 10}, {PAINTED: 40}),
        Flow(2, {PAINTED: 40, HOOK: 80}, {LURE: 40}),
        Flow(3, {LURE: 12}, {BOXED: 12}),
    ]
    assert shares_onward(flows, BEGUN, ITEM_OF, set())[BOXED] == {FIRST: 0.75, SECOND: 0.25}


def test_what_entries_of_other_days_made_is_not_taken_for_theirs() -> None:
    flows = [Flow(1, {BODY: 10, LATE_BODY: 30}, {PAINTED: 40})]
    assert shares_onward(flows, BEGUN, ITEM_OF, set())[PAINTED] == {FIRST: 0.25}


def test_scrap_that_is_made_into_new_pieces_does_not_carry_its_entry_on() -> None:
    flows = [Flow(1, {BODY: 5}, {LATE_BODY: 4}), Flow(2, {LATE_BODY: 4}, {PAINTED: 4})]
    assert PAINTED in shares_onward(flows, BEGUN, ITEM_OF, set())
    assert PAINTED not in shares_onward(flows, BEGUN, ITEM_OF, {1})


def test_a_left_and_a_right_half_are_half_of_a_piece_each() -> None:
    left, right = 21, 22
    begun: dict[int, Shares] = {left: {FIRST: 1.0}, right: {SECOND: 1.0}}
    items = {left: 31, right: 32}
    flows = [Flow(1, {left: 10, right: 20}, {BODY: 10})]
    assert shares_onward(flows, begun, items, set())[BODY] == {FIRST: 0.5, SECOND: 0.5}


def test_a_complaint_of_a_box_of_two_lots_is_shared_out_by_their_pieces() -> None:
    left = [Left(BODY, 15, OLD), Left(OTHER_BODY, 5, OLD)]
    told = [Told(1, {BODY: 15, OTHER_BODY: 5})]
    assert counts_of(left, told, BEGUN) == {FIRST: Count(15, 0.75), SECOND: Count(5, 0.25)}


@pytest.mark.parametrize(("days", "tested"), [(0, 1), (29, 30), (88, 89), (89, 90), (400, 90)])
def test_a_piece_counts_by_how_long_it_had_to_be_complained_of(days: int, tested: float) -> None:
    assert DAYS_TO_TELL == 90
    assert counts_of([Left(BODY, 90, days)], [], BEGUN)[FIRST].tested == pytest.approx(tested)


def test_what_was_complained_of_counts_as_tested() -> None:
    assert counts_of([Left(BODY, 10, 0)], [Told(1, {BODY: 10})], BEGUN)[FIRST] == Count(1, 1)


@given(st.lists(st.tuples(st.integers(1, 50), st.integers(1, 50)), min_size=1, max_size=6))
def test_no_piece_appears_or_vanishes_on_the_way(mixed: list[tuple[int, int]]) -> None:
    """However bodies are mixed and mixed again, what left adds up to what left."""
    flows = [
        Flow(
            number,
            {BODY: one, OTHER_BODY: other} | ({100 + number - 1: 7} if number else {}),
            {100 + number: one + other},
        )
        for number, (one, other) in enumerate(mixed)
    ]
    items = ITEM_OF | dict.fromkeys(range(100, 110), BODIES)
    shares_of = shares_onward(flows, BEGUN, items, set())
    last = 100 + len(mixed) - 1
    counts = counts_of([Left(last, 40, OLD)], [Told(1, {last: 40})], shares_of)
    assert sum(count.tested for count in counts.values()) == pytest.approx(40)
    assert sum(count.failed for count in counts.values()) == pytest.approx(1)

"""Depths, edges and sums by batch, on flows written down by hand."""

from __future__ import annotations

from typing import NamedTuple

from batches.trace.rules.flows import (
    BatchSums,
    Edge,
    Flow,
    depths,
    edges_of,
    flows_of,
    sums_by_batch,
    within_depth,
)


class Row(NamedTuple):
    """One side of a flow."""

    posting_id: int
    lot_id: int
    qty_base: int


ADHESIVE, BODY_A, BODY_B, LURE = 1, 2, 3, 4

# Adhesive went into two entries of bodies, and both bodies into one entry of lures.
GLUED_A = Flow(10, {ADHESIVE: 50}, {BODY_A: 5})
GLUED_B = Flow(11, {ADHESIVE: 30}, {BODY_B: 3})
RIGGED = Flow(12, {BODY_A: 5, BODY_B: 2}, {LURE: 7})
SCRAPPED = Flow(13, {ADHESIVE: 20}, {})
ALL = [GLUED_A, GLUED_B, RIGGED, SCRAPPED]


def test_sides_are_gathered_by_posting_with_amounts_above_zero() -> None:
    sides = [Row(10, ADHESIVE, -50), Row(10, BODY_A, 5), Row(13, ADHESIVE, -20)]
    assert flows_of(sides) == [GLUED_A, SCRAPPED]


def test_depth_is_the_least_number_of_flows() -> None:
    short_cut = Flow(14, {ADHESIVE: 1}, {LURE: 1})
    down = {ADHESIVE: 0, BODY_A: 1, BODY_B: 1, LURE: 2}
    assert depths(ALL, {ADHESIVE: 0}, upstream=False) == down
    assert depths([*ALL, short_cut], {ADHESIVE: 0}, upstream=False) == {**down, LURE: 1}
    assert depths(ALL, {LURE: 0}, upstream=True) == {LURE: 0, BODY_A: 1, BODY_B: 1, ADHESIVE: 2}


def test_a_start_may_lie_deeper_than_another_and_be_reached_sooner() -> None:
    assert depths(ALL, {ADHESIVE: 0, LURE: 1, BODY_A: 3}, upstream=False) == {
        ADHESIVE: 0,
        BODY_A: 1,
        BODY_B: 1,
        LURE: 1,
    }
    assert depths([], {LURE: 2}, upstream=True) == {LURE: 2}


def test_a_lot_that_flows_round_through_others_is_found_once() -> None:
    regrind = [Flow(n, {n: 1}, {n + 1: 1}) for n in range(1, 2000)]
    assert depths(regrind, {1: 0}, upstream=False)[2000] == 1999


def test_without_a_limit_every_flow_is_kept_and_nothing_goes_on() -> None:
    found = depths(ALL, {ADHESIVE: 0}, upstream=False)
    assert within_depth(ALL, found, None, upstream=False) == (ALL, False)


def test_within_a_depth_what_lies_beyond_is_cut_and_said() -> None:
    near = {ADHESIVE: 0, BODY_A: 1, BODY_B: 1}
    kept, goes_on = within_depth(ALL, near, 1, upstream=False)
    assert kept == [GLUED_A, GLUED_B, SCRAPPED]
    assert goes_on


def test_a_loss_lies_one_flow_further_than_what_was_lost() -> None:
    lost = [Flow(15, {BODY_A: 1}, {})]
    assert within_depth(lost, {ADHESIVE: 0, BODY_A: 1}, 1, upstream=False) == ([], True)
    assert within_depth(lost, {ADHESIVE: 0, BODY_A: 1}, 2, upstream=False) == (lost, False)


def test_a_flow_into_lots_that_came_to_be_since_the_walk_is_left_out() -> None:
    newer = Flow(16, {LURE: 1}, {99: 1})
    found = {LURE: 0}
    assert within_depth([newer], found, None, upstream=False) == ([], True)


def test_only_lots_that_were_reached_stay_in_a_flow() -> None:
    upstream_of_a_body = {BODY_A: 0, ADHESIVE: 1}
    mixed = Flow(17, {ADHESIVE: 50}, {BODY_A: 5, BODY_B: 1})
    kept, goes_on = within_depth([mixed], upstream_of_a_body, None, upstream=True)
    assert kept == [Flow(17, {ADHESIVE: 50}, {BODY_A: 5})]
    assert not goes_on


def test_each_lot_taken_has_an_edge_to_each_lot_made() -> None:
    both = Flow(12, {BODY_A: 5, BODY_B: 2}, {LURE: 7, 9: 1})
    assert edges_of([both, SCRAPPED], {ADHESIVE, BODY_A, BODY_B, LURE, 9}) == [
        Edge(12, BODY_A, 5, LURE, 7),
        Edge(12, BODY_A, 5, 9, 1),
        Edge(12, BODY_B, 2, LURE, 7),
        Edge(12, BODY_B, 2, 9, 1),
        Edge(13, ADHESIVE, 20, None, 0),
    ]


def test_an_edge_needs_both_its_lots_shown() -> None:
    assert edges_of(ALL, {BODY_A, LURE}) == [Edge(12, BODY_A, 5, LURE, 7)]


ITEMS = {ADHESIVE: "ADHESIVE", BODY_A: "BODY", BODY_B: "BODY", LURE: "LURE"}


def test_the_entries_of_one_batch_are_summed_and_each_amount_counts_once() -> None:
    batch_of = {10: "GLUING-1", 11: "GLUING-1", 12: "RIGGING-1", 13: "GLUING-1"}
    assert sums_by_batch(ALL, batch_of, ITEMS) == [
        BatchSums("GLUING-1", [10, 11, 13], {"ADHESIVE": 100}, {"BODY": 8}),
        BatchSums("RIGGING-1", [12], {"BODY": 7}, {"LURE": 7}),
    ]


def test_two_grades_of_one_entry_do_not_double_what_it_took() -> None:
    graded = Flow(12, {BODY_A: 5, BODY_B: 2}, {LURE: 6, 9: 1})
    sums = sums_by_batch([graded], {12: "RIGGING-1"}, {**ITEMS, 9: "LURE"})
    assert sums == [BatchSums("RIGGING-1", [12], {"BODY": 7}, {"LURE": 7})]


def test_splits_belong_to_no_batch_and_lots_left_out_do_not_count() -> None:
    split = Flow(20, {LURE: 3}, {9: 3})
    batch_of = {10: "GLUING-1", 12: "RIGGING-1"}
    assert sums_by_batch([split, *ALL], batch_of, {LURE: "LURE"}) == [
        BatchSums("RIGGING-1", [12], {}, {"LURE": 7})
    ]

"""Arithmetic of an entry: the lots proposed, the value shared, the wheel's time, the states."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.runs.models import BatchState
from batches.runs.rules import (
    STATE_CHANGES,
    EntryValues,
    LotOffer,
    Proposal,
    Take,
    can_change,
    entry_values,
    index_ok,
    share_value,
    split_by_first_expired,
)
from shopfloor.errors import InvalidInputError
from shopfloor.money import NothingToShareByError

MAY = datetime(2031, 5, 1, tzinfo=UTC)
JUNE = datetime(2031, 6, 1, tzinfo=UTC)
JULY = datetime(2031, 7, 1, tzinfo=UTC)

SOON = LotOffer(lot_id=3, available_base=100, usable_until=JUNE, born_at=MAY)
LATER = LotOffer(lot_id=2, available_base=100, usable_until=JULY, born_at=MAY)
KEEPS = LotOffer(lot_id=1, available_base=100, usable_until=None, born_at=MAY)


# Lots proposed


def test_a_need_spills_over_from_the_lot_that_expires_first_to_those_that_keep() -> None:
    found = split_by_first_expired(250, [KEEPS, LATER, SOON])
    assert found == Proposal([Take(3, 100), Take(2, 100), Take(1, 50)], 0)


def test_a_need_that_one_lot_covers_takes_no_other() -> None:
    assert split_by_first_expired(100, [KEEPS, SOON]) == Proposal([Take(3, 100)], 0)
    assert split_by_first_expired(101, [KEEPS, SOON]) == Proposal([Take(3, 100), Take(1, 1)], 0)


def test_what_no_lot_covers_is_short() -> None:
    assert split_by_first_expired(301, [KEEPS, LATER, SOON]).short_base == 1
    assert split_by_first_expired(5, []) == Proposal([], 5)


def test_lots_that_expire_together_go_oldest_first_and_then_by_id() -> None:
    young = replace(SOON, lot_id=1, born_at=MAY + timedelta(seconds=1))
    twin = replace(SOON, lot_id=2)
    found = split_by_first_expired(300, [young, SOON, twin])
    assert [take.lot_id for take in found.takes] == [2, 3, 1]


def test_lots_that_keep_go_oldest_first() -> None:
    older = replace(KEEPS, lot_id=9, born_at=MAY - timedelta(days=1))
    assert split_by_first_expired(1, [KEEPS, older]).takes == [Take(9, 1)]


def test_scanned_lots_come_first_in_the_order_scanned() -> None:
    offers = [SOON, replace(LATER, scanned_rank=1), replace(KEEPS, scanned_rank=0)]
    found = split_by_first_expired(250, offers)
    assert found.takes == [Take(1, 100), Take(2, 100), Take(3, 50)]


def test_an_empty_lot_gives_no_take() -> None:
    empty = replace(SOON, available_base=0, scanned_rank=0)
    assert split_by_first_expired(10, [empty, LATER]) == Proposal([Take(2, 10)], 0)


def test_no_need_takes_nothing() -> None:
    assert split_by_first_expired(0, [SOON]) == Proposal([], 0)


MOMENTS = st.integers(0, 5).map(lambda day: MAY + timedelta(days=day))
OFFERS = st.lists(
    st.builds(
        LotOffer,
        lot_id=st.integers(1, 50),
        available_base=st.integers(0, 100),
        usable_until=st.none() | MOMENTS,
        born_at=MOMENTS,
        scanned_rank=st.none() | st.integers(0, 5),
    ),
    max_size=8,
    unique_by=lambda offer: offer.lot_id,
)


@given(need_base=st.integers(0, 900), offers=OFFERS)
def test_takes_and_shortage_add_up_to_the_need(need_base: int, offers: list[LotOffer]) -> None:
    found = split_by_first_expired(need_base, offers)
    available_base = sum(offer.available_base for offer in offers)
    assert sum(take.qty_base for take in found.takes) + found.short_base == need_base
    assert found.short_base == max(0, need_base - available_base)


@given(need_base=st.integers(0, 900), offers=OFFERS)
def test_no_lot_is_taken_beyond_what_it_holds_and_all_but_the_last_are_emptied(
    need_base: int, offers: list[LotOffer]
) -> None:
    takes = split_by_first_expired(need_base, offers).takes
    available = {offer.lot_id: offer.available_base for offer in offers}
    assert all(0 < take.qty_base <= available[take.lot_id] for take in takes)
    assert all(take.qty_base == available[take.lot_id] for take in takes[:-1])


@given(need_base=st.integers(0, 900), offers=OFFERS)
def test_no_unscanned_lot_is_taken_before_one_that_expires_sooner(
    need_base: int, offers: list[LotOffer]
) -> None:
    takes = split_by_first_expired(need_base, offers).takes
    by_id = {offer.lot_id: offer for offer in offers}
    unscanned = [by_id[take.lot_id] for take in takes if by_id[take.lot_id].scanned_rank is None]
    ends = [offer.usable_until or datetime.max.replace(tzinfo=UTC) for offer in unscanned]
    assert all(sooner <= later for sooner, later in pairwise(ends))


@given(need_base=st.integers(0, 900), offers=OFFERS)
def test_the_order_in_which_lots_are_offered_does_not_matter(
    need_base: int, offers: list[LotOffer]
) -> None:
    assert split_by_first_expired(need_base, offers) == split_by_first_expired(
        need_base, offers[::-1]
    )


# Value


def test_value_goes_to_outputs_by_pieces_and_the_last_takes_the_rest() -> None:
    assert share_value(1_000, [1, 1, 1]) == [333, 333, 334]


def test_value_of_no_good_piece_cannot_be_shared() -> None:
    with pytest.raises(NothingToShareByError):
        share_value(1_000, [0, 0])


def test_by_products_carry_their_share_off_and_good_pieces_the_rest() -> None:
    found = entry_values(
        total_micro=1_001,
        pieces_by_output=[3, 1],
        by_product_ratios=[Decimal("0.1"), Decimal(0)],
    )
    assert found == EntryValues([675, 226], [100, 0], 0)


def test_with_no_good_piece_what_by_products_leave_is_loss() -> None:
    found = entry_values(
        total_micro=1_001, pieces_by_output=[0], by_product_ratios=[Decimal("0.1")]
    )
    assert found == EntryValues([0], [100], 901)
    assert entry_values(total_micro=7, pieces_by_output=[], by_product_ratios=[]).loss_micro == 7


@pytest.mark.parametrize("ratios", [["1"], ["0.5", "0.5"], ["-0.1"], ["0.9", "-0.1"]])
def test_by_products_that_leave_nothing_for_the_good_pieces_are_refused(ratios: list[str]) -> None:
    with pytest.raises(InvalidInputError) as refused:
        entry_values(
            total_micro=100, pieces_by_output=[1], by_product_ratios=[*map(Decimal, ratios)]
        )
    assert refused.value.facts == {"ratios": ratios}


@given(
    total_micro=st.integers(0, 10**15),
    pieces=st.lists(st.integers(0, 10**6), max_size=6),
    ratios=st.lists(st.decimals("0", "0.24999", places=5), max_size=4),
)
def test_no_value_appears_or_vanishes_in_an_entry(
    total_micro: int, pieces: list[int], ratios: list[Decimal]
) -> None:
    found = entry_values(total_micro=total_micro, pieces_by_output=pieces, by_product_ratios=ratios)
    shared = sum(found.outputs_micro) + sum(found.by_products_micro) + found.loss_micro
    assert shared == total_micro
    assert min([*found.outputs_micro, *found.by_products_micro, found.loss_micro]) >= 0
    assert (found.loss_micro > 0) <= (not any(pieces))


# The wheel


def test_a_wheel_turns_no_faster_than_the_clamp_time_allows() -> None:
    assert index_ok(index_seconds=8, stations=24, clamp_seconds=180)
    assert index_ok(index_seconds=Decimal("7.5"), stations=24, clamp_seconds=180)
    assert not index_ok(index_seconds=Decimal("7.499"), stations=24, clamp_seconds=180)


# States


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("planned", "idle"),
        ("planned", "running"),
        ("planned", "aborted"),
        ("idle", "running"),
        ("idle", "aborted"),
        ("running", "held"),
        ("running", "complete"),
        ("running", "aborted"),
        ("held", "running"),
        ("held", "aborted"),
    ],
)
def test_a_batch_may_take_these_steps(before: str, after: str) -> None:
    assert can_change(before, after)


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("planned", "complete"),
        ("idle", "planned"),
        ("idle", "complete"),
        ("idle", "held"),
        ("running", "idle"),
        ("running", "running"),
        ("held", "complete"),
        ("complete", "running"),
        ("aborted", "idle"),
        ("no such state", "running"),
        ("running", "no such state"),
    ],
)
def test_a_batch_may_not_take_these(before: str, after: str) -> None:
    assert not can_change(before, after)


def test_exactly_ten_changes_are_allowed() -> None:
    assert sum(map(len, STATE_CHANGES.values())) == 10


def test_the_table_knows_every_state_that_a_batch_can_have() -> None:
    assert set(STATE_CHANGES) == set(BatchState.values)
    assert set().union(*STATE_CHANGES.values()) < set(BatchState.values)

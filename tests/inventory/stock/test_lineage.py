"""Genealogy: what flows, what does not, and how little the database reads for it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis.extra.django import TestCase

from inventory.catalog.models import Item, Place
from inventory.stock.models import Lot, PostingKind
from inventory.stock.operations import (
    Found,
    OpeningLot,
    adjust_lot,
    count_lots,
    split_off,
    take_in_opening_lots,
)
from inventory.stock.selectors.among import Among
from inventory.stock.selectors.lineage import (
    Direction,
    LotChange,
    Side,
    came_to_be,
    downstream_ids,
    flow_sides,
    lot_changes,
    reached_ids,
    upstream_ids,
)
from shopfloor.models import User
from shopfloor.stamp import Stamp
from tests.examples import ledgers
from tests.inventory.stock.conftest import NOON, stamp_at
from tests.inventory.stock.ledgers import (
    depths_by_hand,
    events,
    make_lots,
    play,
    reverse_it,
    standing_flows,
)
from tests.inventory.stock.plans import plans_of, statistics_of_a_large_ledger, whole_reads

Made = Callable[..., Lot]
ALIASES = ("inventory_movement", "inventory_posting", "here", "onward", "m", "p", "r")


@pytest.fixture
def made_of(hook: Item, lead: User) -> Made:
    """Makes one lot of amounts of lots."""

    def make(taken: dict[Lot, int], pieces: int, kind: PostingKind = PostingKind.MADE) -> Lot:
        ids = {lot.pk: qty_base for lot, qty_base in taken.items()}
        stamp = stamp_at(lead, NOON)
        make_lots(taken=ids, made=[pieces], item=hook, stamp=stamp, kind=kind)
        return Lot.objects.latest("id")

    return make


def maker_of(lot: Lot) -> int:
    return lot.movements.earliest("id").posting_id


def test_a_lot_flows_through_what_was_made_split_and_mixed_of_it(
    lot_of_500_hooks: Lot, made_of: Made, lead: User
) -> None:
    part = split_off(lot_code=lot_of_500_hooks.code, qty_base=50, stamp=stamp_at(lead, NOON))
    made = made_of({part: 20}, 10)
    mixed = made_of({made: 5, lot_of_500_hooks: 1}, 6, PostingKind.MIXED)
    everything = {lot.pk for lot in (lot_of_500_hooks, part, made, mixed)}
    assert downstream_ids([lot_of_500_hooks.pk]) == everything
    assert upstream_ids([mixed.pk]) == everything
    assert downstream_ids([part.pk]) == {part.pk, made.pk, mixed.pk}
    assert upstream_ids([part.pk]) == {part.pk, lot_of_500_hooks.pk}


def test_counts_and_adjustments_never_flow(
    lot_of_500_hooks: Lot, made_of: Made, lead: User
) -> None:
    other = made_of({lot_of_500_hooks: 20}, 10)
    count_lots(
        found=[Found(lot_of_500_hooks.code, 470), Found(other.code, 20)],
        stamp=stamp_at(lead, NOON),
    )
    adjust_lot(lot_code=other.code, qty_base=-3, stamp=stamp_at(lead, NOON))
    assert downstream_ids([other.pk]) == {other.pk}
    assert upstream_ids([lot_of_500_hooks.pk]) == {lot_of_500_hooks.pk}


def there(ids: list[int]) -> set[int]:
    """Those that ever were, in one statement."""
    return set(Lot.objects.filter(came_to_be(), pk__in=ids).values_list("pk", flat=True))


def test_what_was_reversed_flows_neither_way_and_what_it_made_never_was(
    lot_of_500_hooks: Lot, made_of: Made, lead: User
) -> None:
    made = made_of({lot_of_500_hooks: 20}, 10)
    reverse_it(posting_id=maker_of(made), stamp=stamp_at(lead, NOON))
    assert downstream_ids([lot_of_500_hooks.pk]) == {lot_of_500_hooks.pk}
    assert upstream_ids([made.pk]) == {made.pk}
    assert flow_sides([lot_of_500_hooks.pk, made.pk], Direction.DOWNSTREAM) == []
    assert there([lot_of_500_hooks.pk, made.pk]) == {lot_of_500_hooks.pk}


def test_the_walk_goes_no_further_than_told(lot_of_500_hooks: Lot, made_of: Made) -> None:
    first = made_of({lot_of_500_hooks: 20}, 10)
    second = made_of({first: 10, lot_of_500_hooks: 1}, 10)
    third = made_of({second: 10}, 10)
    start = [lot_of_500_hooks.pk]
    near = reached_ids(start, Direction.DOWNSTREAM, depth_max=1)
    assert near == {lot_of_500_hooks.pk, first.pk, second.pk}
    assert reached_ids(start, Direction.DOWNSTREAM, depth_max=2) == near | {third.pk}
    assert len(reached_ids(start, Direction.DOWNSTREAM, most=3)) == 3
    assert reached_ids([], Direction.DOWNSTREAM) == set()


def test_the_sides_of_a_flow_are_all_its_lots_and_amounts(
    lot_of_500_hooks: Lot, made_of: Made
) -> None:
    first = made_of({lot_of_500_hooks: 20}, 10)
    second = made_of({first: 4, lot_of_500_hooks: 7}, 9)
    posting = maker_of(second)
    sides = [
        Side(posting, lot_of_500_hooks.pk, -7),
        Side(posting, first.pk, -4),
        Side(posting, second.pk, 9),
    ]
    assert flow_sides([first.pk], Direction.DOWNSTREAM) == sides
    assert flow_sides([second.pk], Direction.UPSTREAM) == sides
    assert flow_sides([], Direction.UPSTREAM, also=[posting]) == sides


def test_what_came_in_and_went_out_is_summed_by_kind(
    lot_of_500_hooks: Lot, made_of: Made, lead: User
) -> None:
    lot = lot_of_500_hooks
    made_of({lot: 20}, 10)
    undone = made_of({lot: 30}, 10)
    reverse_it(posting_id=maker_of(undone), stamp=stamp_at(lead, NOON))
    adjust_lot(lot_code=lot.code, qty_base=-3, stamp=stamp_at(lead, NOON))
    assert lot_changes([lot.pk]) == [
        LotChange(lot.pk, "adjusted", 500, 3),
        LotChange(lot.pk, "made", 0, 20),
    ]


def test_any_number_of_ids_is_one_parameter(lot_of_500_hooks: Lot) -> None:
    ids = range(lot_of_500_hooks.pk - 20_000, lot_of_500_hooks.pk + 20_000)
    assert downstream_ids(ids) >= {lot_of_500_hooks.pk}
    assert list(Lot.objects.filter(Among("pk", ids))) == [lot_of_500_hooks]
    assert list(Lot.objects.filter(Among("pk", []))) == []


@pytest.mark.parametrize("lots", [1, 10, 100])
def test_each_read_is_one_statement_for_any_number_of_lots(
    lots: int, hook: Item, lead: User, django_assert_num_queries: Any
) -> None:
    stamp = stamp_at(lead, NOON)
    posted = take_in_opening_lots(
        lots=[OpeningLot(item_code=hook.code, qty_base=9, value_micro=9)] * lots, stamp=stamp
    )
    ids = [lot.pk for lot in posted.made]
    make_lots(
        taken=dict.fromkeys(ids, 2), made=[7, 8], item=hook, stamp=stamp, kind=PostingKind.MADE
    )
    with django_assert_num_queries(4):
        assert len(downstream_ids(ids)) == lots + 2
        assert len(flow_sides(ids, Direction.DOWNSTREAM)) == lots + 2
        assert len(lot_changes(ids)) == 2 * lots
        assert there(ids) == set(ids)


@pytest.mark.only_on("sqlite")
@pytest.mark.parametrize("direction", Direction)
def test_no_read_goes_through_all_movements_or_postings(
    direction: Direction, lot_of_500_hooks: Lot
) -> None:
    ids = [lot_of_500_hooks.pk]
    reads: list[Callable[[], Any]] = [
        lambda: reached_ids(ids, direction),
        lambda: reached_ids(ids, direction, depth_max=9, most=9),
        lambda: flow_sides(ids, direction, also=[1]),
        lambda: lot_changes(ids),
    ]
    plans = [plan for read in reads for plan in plans_of(read)]
    assert whole_reads(plans, *ALIASES) == []
    with statistics_of_a_large_ledger():
        analyzed = [plan for read in reads for plan in plans_of(read)]
    assert whole_reads(analyzed, *ALIASES) == []
    assert "movement_by_lot" in str(plans)
    assert "movement_by_lot" in str(analyzed)


class RandomLedgers(TestCase):
    """The answers, compared with a walk from row to row."""

    item: Item
    stamp: Stamp

    @classmethod
    def setUpTestData(cls) -> None:
        """An item and a person; each example begins with these and nothing else."""
        shelf = Place.objects.create(code="SHELF-A", name="Shelf A", kind="shelf")
        cls.item = Item.objects.create(
            code="HOOK-6",
            name="Treble hook",
            kind="hook",
            dimension="count",
            display_unit="each",
            storage_place=shelf,
        )
        lead = User.objects.create(
            username="lead", display_name="Lead", role="lead", created_at=NOON
        )
        cls.stamp = stamp_at(lead, NOON)

    @ledgers(60)
    @given(script=events)
    def test_the_walk_finds_what_a_walk_from_row_to_row_finds(self, script: list[Any]) -> None:
        """And upstream is the inverse of downstream."""
        play(script, item=self.item, stamp=self.stamp, make=make_lots)
        ids = list(Lot.objects.values_list("pk", flat=True))
        down = {lot: downstream_ids([lot]) for lot in ids}
        up = {lot: upstream_ids([lot]) for lot in ids}
        assert down == {lot: set(depths_by_hand(lot, upstream=False)) for lot in ids}
        assert up == {lot: set(depths_by_hand(lot, upstream=True)) for lot in ids}
        assert {(a, b) for a in ids for b in down[a]} == {(a, b) for b in ids for a in up[b]}

    @ledgers(30)
    @given(script=events)
    def test_a_walk_cut_off_finds_what_is_near(self, script: list[Any]) -> None:
        """By the least number of flows."""
        play(script, item=self.item, stamp=self.stamp, make=make_lots)
        ids = list(Lot.objects.values_list("pk", flat=True))
        depths = {lot: depths_by_hand(lot, upstream=False) for lot in ids}
        assert {
            (lot, most): reached_ids([lot], Direction.DOWNSTREAM, depth_max=most)
            for lot in ids
            for most in (1, 2)
        } == {
            (lot, most): {other for other, depth in depths[lot].items() if depth <= most}
            for lot in ids
            for most in (1, 2)
        }

    @ledgers(30)
    @given(script=events)
    def test_sides_and_sums_are_those_of_the_movements(self, script: list[Any]) -> None:
        """And what came in less what went out is on hand."""
        play(script, item=self.item, stamp=self.stamp, make=make_lots)
        ids = list(Lot.objects.values_list("pk", flat=True))
        by_hand = {
            Side(posting, lot, qty * sign)
            for posting, (taken, made) in standing_flows().items()
            for sign, lots in ((-1, taken), (1, made))
            for lot, qty in lots.items()
        }
        assert set(flow_sides(ids, Direction.DOWNSTREAM)) == by_hand
        sums = dict.fromkeys(ids, 0)
        for change in lot_changes(ids):
            sums[change.lot_id] += change.came_in_base - change.went_out_base
        assert sums == dict(Lot.objects.values_list("pk", "on_hand_base"))

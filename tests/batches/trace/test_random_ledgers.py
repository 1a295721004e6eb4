"""Answers about ledgers made at random, compared with a walk from row to row."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from fractions import Fraction
from typing import Any

from hypothesis import given
from hypothesis.extra.django import TestCase

from batches.runs.models import Entry
from batches.runs.operations import add_scrap_reason, record, reverse
from batches.runs.steps.drafts import EntryDraft, GoodTally, LotUse, ScrapTally
from batches.trace.errors import NothingToTraceError
from batches.trace.selectors import Question, downstream, upstream
from batches.trace.selectors.rows import Downstream, NodeRow, Upstream
from inventory.catalog.models import Item
from inventory.stock.models import Grade, Lot
from shopfloor.models import User
from shopfloor.stamp import Stamp
from tests.batches import floor
from tests.batches.trace.conftest import running
from tests.examples import ledgers
from tests.inventory.stock.ledgers import (
    depths_by_hand,
    events,
    play,
    reverse_it,
    standing_flows,
)

BATCHES = ("WORK-1", "WORK-2", "WORK-3")
GRADES = (Grade.FIRST, Grade.SECOND)


def record_it(
    *, taken: dict[int, int], made: list[int], stamp: Stamp, item: Item, kind: str
) -> None:
    """An entry of one of three batches that work lots over."""
    codes = dict(Lot.objects.filter(pk__in=taken).values_list("pk", "code"))
    record(
        draft=EntryDraft(
            batch_code=BATCHES[sum(taken.values()) % len(BATCHES)],
            good=[GoodTally(size, grade) for size, grade in zip(made, GRADES, strict=False)],
            scrap=[] if made else [ScrapTally(sum(taken.values()), "LEAK")],
            lots=[LotUse(codes[lot_id], qty_base) for lot_id, qty_base in taken.items()],
        ),
        stamp=stamp,
    )


def undo_it(*, posting_id: int, stamp: Stamp) -> None:
    """As an entry where it is one."""
    found = Entry.objects.filter(pk=posting_id).first()
    if found is None:
        reverse_it(posting_id=posting_id, stamp=stamp)
    else:
        reverse(entry_code=found.code, stamp=stamp)


def depths_of(trace: Downstream | Upstream) -> dict[str, int]:
    return {node.code: node.depth for node in trace.nodes}


def edges_of(trace: Downstream | Upstream) -> Counter[tuple[str, int, str | None, int]]:
    assert trace.edges is not None
    return Counter(
        (
            edge.taken_lot,
            int(edge.taken.amount),
            edge.made_lot,
            0 if edge.made is None else int(edge.made.amount),
        )
        for edge in trace.edges
    )


def sums_of(trace: Downstream | Upstream) -> dict[str, tuple[int, int, int]]:
    """By batch: entries, pieces taken, pieces made."""
    assert trace.batches is not None
    return {
        row.batch: (
            row.entries,
            sum(int(part.amount.amount) for part in row.taken),
            sum(int(part.amount.amount) for part in row.made),
        )
        for row in trace.batches
    }


def parts_of(node: NodeRow) -> tuple[int, int]:
    """Pieces by share, and at most; checked against each other."""
    assert node.part is not None
    by_share, up_to = int(node.part.by_share.amount), int(node.part.up_to.amount)
    assert by_share <= up_to <= int(node.whole.amount)
    return by_share, up_to


class ByHand:
    """What a trace must find, from all rows."""

    def __init__(self) -> None:
        self.codes = dict(Lot.objects.values_list("pk", "code"))
        self.flows = standing_flows()
        self.batch_of = dict(Entry.objects.values_list("pk", "batch__code"))
        self.scrapped = dict(Entry.objects.values_list("pk", "scrapped_base"))

    def depths(self, starts: Iterable[int], *, upstream: bool) -> dict[int, int]:
        """Least depth of each lot from the nearest start."""
        found: dict[int, int] = {}
        for start in starts:
            for lot, depth in depths_by_hand(start, upstream=upstream).items():
                found[lot] = min(depth, found.get(lot, depth))
        return found

    def parts(self, reached: Iterable[int], *, upstream: bool) -> dict[int, Any]:
        """The flows of a trace, cut to the lots it reached."""
        wanted = set(reached)
        found = {}
        for posting, (taken, made) in self.flows.items():
            if wanted & (made if upstream else taken).keys():
                found[posting] = tuple(
                    {lot: qty for lot, qty in side.items() if lot in wanted}
                    for side in (taken, made)
                )
        return found

    def edges(self, parts: dict[int, Any]) -> Counter[tuple[str, int, str | None, int]]:
        """Each lot taken with each lot made."""
        return Counter(
            (self.codes[lot], qty, None if other is None else self.codes[other], other_qty)
            for taken, made in parts.values()
            for lot, qty in taken.items()
            for other, other_qty in (made.items() if made else [(None, 0)])
        )

    def sums(self, parts: dict[int, Any]) -> dict[str, tuple[int, int, int]]:
        """By batch: entries, pieces taken, pieces made."""
        found = dict.fromkeys(BATCHES, (0, 0, 0))
        for posting, (taken, made) in parts.items():
            if posting in self.batch_of:
                count, qty_in, qty_out = found[self.batch_of[posting]]
                found[self.batch_of[posting]] = (
                    count + 1,
                    qty_in + sum(taken.values()),
                    qty_out + sum(made.values()),
                )
        return {batch: sums for batch, sums in found.items() if sums[0]}

    def share(self, lot: int, start: int) -> Fraction:
        """What part of a lot came of the start."""
        if lot == start:
            return Fraction(1)
        for taken, made in self.flows.values():
            if lot in made:
                parts = (qty * self.share(other, start) for other, qty in taken.items())
                return sum(parts, Fraction(0)) / sum(taken.values())
        return Fraction(0)

    def inside(self, lot: int, start: int) -> Fraction:
        """How much of a lot is in the start, which lies downstream."""
        amount = Fraction(0)
        for posting, (taken, made) in self.flows.items():
            if lot in taken and made:
                total = sum(made.values()) + self.scrapped.get(posting, 0)
                parts = [
                    Fraction(qty)
                    if other == start
                    else min(Fraction(qty), self.inside(other, start))
                    for other, qty in made.items()
                ]
                amount += taken[lot] * sum(parts, Fraction(0)) / total
        return amount

    def answer(self, starts: Iterable[int], *, upstream: bool) -> tuple[Any, Any, Any]:
        """Lots, edges, sums."""
        depths = self.depths(starts, upstream=upstream)
        parts = self.parts(depths, upstream=upstream)
        named = {self.codes[lot]: depth for lot, depth in depths.items()}
        return named, self.edges(parts), self.sums(parts)


def answer_of(trace: Downstream | Upstream) -> tuple[Any, Any, Any]:
    return depths_of(trace), edges_of(trace), sums_of(trace)


class Bodies(TestCase):
    """A shop in which bodies are worked over."""

    item: Item
    stamp: Stamp
    lead: User

    @classmethod
    def setUpTestData(cls) -> None:
        """A shop with three batches that work bodies over."""
        owner = floor.enter_owner()
        floor.enter_places(by=owner)
        floor.enter_stages(by=owner)
        floor.enter_item("BODY", by=owner, kind="body")
        add_scrap_reason(code="LEAK", name="Leaks", by=owner, at=floor.NOON)
        for code in BATCHES:
            running("BODY", by=owner, code=code, rework_stage="GLUING")
        cls.item = Item.objects.select_related("storage_place").get(code="BODY")
        cls.stamp = floor.stamp_at(owner, reason="for the test")
        cls.lead = owner


class RandomLedgers(Bodies):
    """Entries, losses, splits, reversals, adjustments and disposals as they come."""

    @ledgers(40)
    @given(script=events)
    def test_every_lot_is_traced_as_by_hand_both_ways(self, script: list[Any]) -> None:
        """Lots with depths, edges with amounts, sums of batches; one the inverse of the other."""
        play(script, item=self.item, stamp=self.stamp, make=record_it, undo=undo_it)
        by_hand = ByHand()
        down = {pk: downstream(Question(lot=code)) for pk, code in by_hand.codes.items()}
        up = {pk: upstream(Question(lot=code)) for pk, code in by_hand.codes.items()}
        assert {pk: answer_of(trace) for pk, trace in down.items()} == {
            pk: by_hand.answer([pk], upstream=False) for pk in by_hand.codes
        }
        assert {pk: answer_of(trace) for pk, trace in up.items()} == {
            pk: by_hand.answer([pk], upstream=True) for pk in by_hand.codes
        }
        names = by_hand.codes
        assert {(names[a], b.code) for a, trace in down.items() for b in trace.nodes} == {
            (a.code, names[b]) for b, trace in up.items() for a in trace.nodes
        }

    @ledgers(12)
    @given(script=events)
    def test_shares_are_as_by_hand_both_ways(self, script: list[Any]) -> None:
        """To the nearest piece, and never above what could be."""
        play(script, item=self.item, stamp=self.stamp, make=record_it, undo=undo_it)
        by_hand = ByHand()
        ids = {code: pk for pk, code in by_hand.codes.items()}
        for start, code in by_hand.codes.items():
            for node in downstream(Question(lot=code)).nodes:
                exact = int(node.whole.amount) * by_hand.share(ids[node.code], start)
                assert parts_of(node)[0] == int(exact + Fraction(1, 2))
            for node in upstream(Question(lot=code)).nodes[1:]:
                whole = int(node.whole.amount)
                exact = min(Fraction(whole), by_hand.inside(ids[node.code], start))
                assert parts_of(node)[0] == int(exact + Fraction(1, 2))

    @ledgers(12)
    @given(script=events)
    def test_what_became_of_a_lot_adds_up_to_all_that_came_in(self, script: list[Any]) -> None:
        """And the lots and the scrap to the totals of the item."""
        play(script, item=self.item, stamp=self.stamp, make=record_it, undo=undo_it)
        for code in Lot.objects.values_list("code", flat=True):
            trace = downstream(Question(lot=code))
            became: Counter[str] = Counter()
            by_way: Counter[str] = Counter()
            for row in trace.whereabouts:
                became[row.lot] += int(row.amount.amount)
                by_way[row.became] += int(row.amount.amount)
            assert became == Counter({row.code: int(row.whole.amount) for row in trace.nodes})
            by_way["scrapped"] += sum(int(row.amount.amount) for row in trace.scrapped)
            assert +by_way == Counter({row.became: int(row.amount.amount) for row in trace.totals})

    @ledgers(25)
    @given(script=events)
    def test_batches_begin_at_what_their_standing_entries_made(self, script: list[Any]) -> None:
        """And what is on hand is what came in less what went out."""
        play(script, item=self.item, stamp=self.stamp, make=record_it, undo=undo_it)
        by_hand = ByHand()
        made = {
            batch: {
                lot
                for posting, (_, lots) in by_hand.flows.items()
                if by_hand.batch_of.get(posting) == batch
                for lot in lots
            }
            for batch in BATCHES
        }
        traced = {batch: trace for batch in BATCHES if (trace := self.down(batch)) is not None}
        assert {batch: answer_of(trace) for batch, trace in traced.items()} == {
            batch: by_hand.answer(made[batch], upstream=False) for batch in traced
        }
        standing = by_hand.flows.keys() & by_hand.batch_of.keys()
        recorded = {by_hand.batch_of[posting] for posting in standing}
        assert set(traced) == recorded
        assert [
            (row.item, int(row.on_hand.amount))
            for trace in traced.values()
            for row in trace.account
        ] == [
            ("BODY", sum(int(node.on_hand.amount) for node in trace.nodes))
            for trace in traced.values()
            if trace.nodes
        ]

    def down(self, batch: str) -> Downstream | None:
        """The trace of a batch, None for one of which nothing stands."""
        try:
            return downstream(Question(batch=batch))
        except NothingToTraceError:
            return None

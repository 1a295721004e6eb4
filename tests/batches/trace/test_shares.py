"""How much by share and at most: flows written down by hand, and pieces moved about one by one."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from fractions import Fraction
from itertools import chain
from random import Random
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from batches.trace.rules.flows import Flow
from batches.trace.rules.shares import (
    DENOMINATOR_MAX,
    Ledger,
    Part,
    downward,
    nearest,
    ratio,
    together,
    upward,
)

GLUE, OTHER_GLUE, BODY_A, BODY_B, LURE, BOX, REST = range(1, 8)
ITEMS = {
    GLUE: "glue",
    OTHER_GLUE: "glue",
    BODY_A: "body",
    BODY_B: "body",
    LURE: "lure",
    BOX: "lure",
    REST: "lure",
}
PIECES = {"body", "lure"}

# 40 bodies with the one glue, 2 more scrapped; 60 with the other. 30 and 60 of them became 90 lures
# (one of them scrapped), of which 24 went into a box and 5 were set apart.
FLOWS = [
    Flow(1, {GLUE: 4200}, {BODY_A: 40}),
    Flow(2, {OTHER_GLUE: 6000}, {BODY_B: 60}),
    Flow(3, {BODY_A: 30, BODY_B: 60}, {LURE: 89}),
    Flow(4, {LURE: 24}, {BOX: 24}),
    Flow(5, {LURE: 5}, {REST: 5}),
]
SCRAPPED = {1: ("body", 2), 3: ("lure", 1)}


def ledger_of(flows: list[Flow], **rest: Any) -> Ledger:
    return Ledger(flows, item_of=ITEMS, pieces=PIECES, scrapped=rest.get("scrapped", SCRAPPED))


def down(start: int, whole: int) -> Any:
    """As a trace gives it: only the flows that took a lot which was reached."""
    reached, flows = {start}, []
    for flow in FLOWS:
        if reached & flow.taken.keys():
            flows.append(flow)
            reached |= flow.made.keys()
    return downward(ledger_of(flows), {start: whole})


def test_lots_of_one_item_share_by_what_was_taken_of_each() -> None:
    found = down(GLUE, 9000)
    assert found.share_of == {
        GLUE: 1,
        BODY_A: 1,
        LURE: Fraction(1, 3),
        BOX: Fraction(1, 3),
        REST: Fraction(1, 3),
    }
    assert found.of_lot(BOX, 24) == Part(8, 24)
    assert found.of_taken(3, BODY_A, 30) == Part(30, 30)
    assert found.of_scrapped(3, "lure", 1) == Part(Fraction(1, 3), 1)


def test_so_many_pieces_taken_are_in_no_more_pieces_made() -> None:
    found = down(GLUE, 9000)
    # 30 bodies at most are in 89 lures and one scrapped: each lure has one body.
    assert found.of_lot(LURE, 89).up_to == 30
    assert found.of_lot(REST, 5).up_to == 5
    assert found.most_of == {LURE: 30}
    # Box and rest together hold 29, but all lures only 30.
    assert found.item_most == {"glue": 9000, "body": 42, "lure": 30}
    assert found.limited == {"lure"}


def test_what_is_no_whole_number_of_pieces_a_piece_limits_nothing() -> None:
    sheet, packed = 1, 2
    halved = Ledger(
        [Flow(1, {sheet: 30}, {packed: 60})],
        item_of={sheet: "sheet", packed: "lure"},
        pieces={"sheet", "lure"},
    )
    assert downward(halved, {sheet: 30}).of_lot(packed, 60) == Part(60, 60)
    other = 3
    spilled = Ledger(
        [Flow(1, {sheet: 20, other: 41}, {packed: 60})],
        item_of={**halved.item_of, other: "sheet"},
        pieces=halved.pieces,
    )
    assert downward(spilled, {sheet: 20}).of_lot(packed, 60).up_to == 60
    kept = replace(spilled, flows=[Flow(1, {sheet: 20, other: 40}, {packed: 60})])
    assert downward(kept, {sheet: 20}).of_lot(packed, 60).up_to == 20


def test_the_largest_share_of_several_items_counts() -> None:
    resin, left, right, other, body = range(1, 6)
    ledger = Ledger(
        [
            Flow(1, {resin: 10}, {left: 20}),
            Flow(2, {resin: 10}, {right: 20}),
            Flow(3, {left: 10, right: 20, other: 10}, {body: 20}),
        ],
        item_of={resin: "resin", left: "left", right: "right", other: "left", body: "body"},
        pieces={"left", "right", "body"},
    )
    found = downward(ledger, {resin: 50})
    assert found.of_lot(body, 20) == Part(20, 20)
    assert downward(ledger_without(ledger, 2), {resin: 50}).of_lot(body, 20) == Part(10, 10)


def ledger_without(ledger: Ledger, posting: int) -> Ledger:
    flows = [flow for flow in ledger.flows if flow.posting_id != posting]
    return Ledger(flows, ledger.item_of, ledger.pieces)


def test_upstream_says_how_much_of_a_lot_is_in_the_start() -> None:
    found = upward(ledger_of(FLOWS[:4]), {BOX: 24})
    # 24 of 90 lures worked on; 30 bodies of the one lot went into all of them.
    assert found.of_lot(BOX, 24) == Part(24, 24)
    assert found.of_lot(LURE, 89) == Part(24, 24)
    assert found.of_lot(BODY_A, 40) == Part(8, 24)
    assert found.of_lot(BODY_B, 60) == Part(16, 24)
    # 8 of 42 bodies had glue of 4200, but it could be all of it that these took.
    assert found.of_lot(GLUE, 9000) == Part(800, 4200)
    assert found.of_taken(1, GLUE, 4200) == Part(800, 4200)


def test_what_only_scrap_came_of_counts_where_it_is_asked_about() -> None:
    lost = [Flow(9, {GLUE: 70}, {})]
    asked = upward(ledger_of(lost, scrapped={9: ("body", 7)}), {}, also=[9])
    assert asked.of_lot(GLUE, 9000) == Part(70, 70)
    assert upward(ledger_of(lost), {}).of_lot(GLUE, 9000) == Part(0, 0)


def test_parts_are_added_exactly_and_rounded_once() -> None:
    thirds = [Part(Fraction(1, 3), 1)] * 3
    assert together(thirds) == Part(1, 3)
    assert together([*thirds, None]) is None
    assert [nearest(Fraction(n, 2)) for n in (0, 1, 2, 3)] == [0, 1, 1, 2]
    assert nearest(Fraction(149, 100)) == 1
    assert ratio(7, 7) == 1
    assert ratio(Fraction(1, 3**60), 7).denominator <= DENOMINATOR_MAX


Piece = frozenset[tuple[int, int]]
"""Which pieces, by lot and number, it was made of; itself among them."""


class PieceFloor:
    """A floor where each piece made takes a whole number of pieces, picked as they come."""

    def __init__(self, chance: Random) -> None:
        self.chance = chance
        self.item_of: dict[int, str] = {}
        self.born: dict[int, list[Piece]] = {}
        self.heaps: dict[int, list[Piece]] = {}
        self.bins: dict[int, list[Piece]] = {}
        self.flows: list[Flow] = []
        self.scrapped: dict[int, tuple[str, int]] = {}
        for item in "AAB":
            self.come(item, [frozenset()] * 30)
        for posting in range(1, chance.randint(2, 9)):
            self.work(posting)

    def come(self, item: str, pieces: list[Piece]) -> int:
        """A new lot."""
        lot = len(self.item_of) + 1
        self.item_of[lot] = item
        self.born[lot] = [piece | {(lot, n)} for n, piece in enumerate(pieces)]
        self.heaps[lot] = list(self.born[lot])
        return lot

    def take(self, item: str, count: int) -> list[tuple[int, Piece]]:
        """Pieces of any lots of an item, in any order; fewer where there are not so many."""
        lots = [lot for lot in self.heaps if self.item_of[lot] == item]
        every = [(lot, piece) for lot in lots for piece in self.heaps[lot]]
        picked = self.chance.sample(every, min(count, len(every)))
        for lot, piece in picked:
            self.heaps[lot].remove(piece)
        return picked

    def work(self, posting: int) -> None:
        """An entry: some good, some scrapped."""
        kinds = sorted(set(self.item_of.values()))
        each = {item: self.chance.randint(1, 2) for item in self.chance.sample(kinds, 1)}
        each |= {item: 1 for item in kinds if self.chance.random() < 0.4}
        count = self.chance.randint(1, 9)
        used = {item: self.take(item, count * per_piece) for item, per_piece in each.items()}
        if any(len(used[item]) < count * each[item] for item in each):
            for lot, piece in chain(*used.values()):
                self.heaps[lot].append(piece)
            return
        new = [
            Piece().union(*(piece for item in each for _, piece in used[item][n::count]))
            for n in range(count)
        ]
        item, good = self.chance.choice("CDE"), self.chance.randint(0, count)
        cut = self.chance.randint(0, good)
        parts = [part for part in (new[:cut], new[cut:good]) if part]
        made = {self.come(item, part): len(part) for part in parts}
        self.bins[posting] = new[good:]
        if good < count:
            self.scrapped[posting] = (item, count - good)
        self.flows.append(Flow(posting, Counter(lot for lot, _ in chain(*used.values())), made))

    def ledger(self, start: int, *, upstream: bool) -> tuple[Ledger, set[int]]:
        """The flows of a trace, and the lots it reaches."""
        reached, flows = {start}, []
        for flow in reversed(self.flows) if upstream else self.flows:
            here, beyond = (flow.made, flow.taken) if upstream else (flow.taken, flow.made)
            if reached & here.keys():
                flows.append(flow)
                reached |= beyond.keys()
        flows.sort(key=lambda flow: flow.posting_id)
        return Ledger(flows, self.item_of, set(self.item_of.values()), self.scrapped), reached


def touched_by(lot: int, pieces: list[Piece]) -> int:
    return sum(any(of == lot for of, _ in piece) for piece in pieces)


@settings(max_examples=60, deadline=None)
@given(chance=st.randoms(use_true_random=False))
def test_however_pieces_are_picked_no_more_are_touched_than_was_said(chance: Random) -> None:
    floor = PieceFloor(chance)
    for start, pieces in floor.born.items():
        ledger, reached = floor.ledger(start, upstream=False)
        found = downward(ledger, {start: len(pieces)})
        assert found.share_of.keys() == reached
        assert all(0 < share <= 1 for share in found.share_of.values())
        assert [
            lot
            for lot in reached
            if touched_by(start, floor.born[lot]) > found.of_lot(lot, len(floor.born[lot])).up_to
        ] == []
        assert [
            flow.posting_id
            for flow in ledger.flows
            for item, _ in [floor.scrapped.get(flow.posting_id, ("", 0))]
            if item
            and touched_by(start, floor.bins[flow.posting_id])
            > found.of_scrapped(flow.posting_id, item, 99).up_to
        ] == []


@settings(max_examples=60, deadline=None)
@given(chance=st.randoms(use_true_random=False))
def test_nor_more_of_an_item_in_all(chance: Random) -> None:
    floor = PieceFloor(chance)
    for start, pieces in floor.born.items():
        ledger, reached = floor.ledger(start, upstream=False)
        found = downward(ledger, {start: len(pieces)})
        now: dict[str, list[Piece]] = {item: [] for item in found.item_most}
        for lot in reached:
            now[floor.item_of[lot]] += floor.heaps[lot]
        for posting, (item, _) in floor.scrapped.items():
            if item in now:
                now[item] += floor.bins[posting]
        assert [item for item in now if touched_by(start, now[item]) > found.item_most[item]] == []


@settings(max_examples=60, deadline=None)
@given(chance=st.randoms(use_true_random=False))
def test_nor_are_more_pieces_of_a_lot_in_what_is_looked_at(chance: Random) -> None:
    floor = PieceFloor(chance)
    for start, pieces in floor.born.items():
        ledger, reached = floor.ledger(start, upstream=True)
        found = upward(ledger, {start: len(pieces)})
        inside = Counter(lot for lot, _ in frozenset[tuple[int, int]]().union(*pieces))
        assert inside.keys() <= reached
        assert [
            lot for lot in reached if inside[lot] > found.of_lot(lot, len(floor.born[lot])).up_to
        ] == []


@settings(max_examples=60, deadline=None)
@given(chance=st.randoms(use_true_random=False))
def test_by_share_what_was_used_of_a_lot_is_in_what_came_of_it_and_nowhere_else(
    chance: Random,
) -> None:
    """All lots of a posting asked about one by one have together what it took, less its scrap."""
    floor = PieceFloor(chance)
    for flow in floor.flows:
        total = sum(flow.made.values()) + floor.scrapped.get(flow.posting_id, ("", 0))[1]
        for lot, taken in flow.taken.items():
            parts = [
                upward(floor.ledger(made, upstream=True)[0], {made: 0}).of_taken(
                    flow.posting_id, lot, taken
                )
                for made in flow.made
            ]
            good = sum(flow.made.values())
            assert sum(part.by_share for part in parts) == Fraction(taken * good, total)

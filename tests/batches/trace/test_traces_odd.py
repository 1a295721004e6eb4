"""Answers about what was reversed, what was all scrapped, and what is too much."""

from __future__ import annotations

from typing import Any

import pytest

from batches.packing.operations import (
    Part,
    pack_box,
)
from batches.runs.operations import reverse
from batches.trace.errors import NothingToTraceError, TraceTooLargeError
from batches.trace.selectors import EDGES_MAX, NODES_MAX, Question, downstream, upstream
from inventory.catalog.models import Item
from inventory.stock.models import Lot, PostingKind
from inventory.stock.selectors.amounts import AmountRow
from shopfloor.models import User
from tests.batches import floor
from tests.batches.trace.conftest import Run, at_minute, entry, made_by, running
from tests.batches.trace.reading import each, flows_of, lots_of, sums_of
from tests.inventory.stock.ledgers import make_lots, reverse_it


@pytest.fixture
def reversed_entry(materials: Lot, lead: User) -> tuple[Lot, Lot]:
    """Adhesive, and what was mixed of it by an entry that was reversed."""
    running("GLUE", by=lead, code="MIX-1")
    recorded = entry("MIX-1", 60_000, by=lead, minute=10)
    mixed = made_by(recorded)
    reverse(entry_code=recorded.code, stamp=at_minute(lead, 11))
    return materials, mixed


def test_what_was_reversed_does_not_flow(reversed_entry: tuple[Lot, Lot]) -> None:
    adhesive, _ = reversed_entry
    trace = downstream(Question(lot=adhesive.code))
    assert lots_of(trace) == {adhesive.code: 0}
    assert (trace.edges, trace.batches, trace.scrapped) == ([], [], [])
    assert trace.account[0].changes[0].kind == "received"
    assert len(trace.account[0].changes) == 1


def test_a_lot_that_was_never_made_is_the_start_alone_and_that_is_said(
    reversed_entry: tuple[Lot, Lot],
) -> None:
    _, mixed = reversed_entry
    trace = upstream(Question(lot=mixed.code))
    assert lots_of(trace) == {mixed.code: 0}
    assert trace.start.is_undone
    assert "reversed" in trace.start.note
    assert downstream(Question(lot=mixed.code)).nodes[0].on_hand == AmountRow("0", "g")


def test_a_part_put_in_a_box_by_mistake_and_reversed_is_not_in_the_box(
    run: Run, lead: User
) -> None:
    pack_box(contents=[Part(run.packed.code, 4)], code="BOX-3", stamp=at_minute(lead, 81))
    part = Lot.objects.get(place__code="BOX-3")
    reverse_it(posting_id=part.movements.earliest("id").posting_id, stamp=at_minute(lead, 82))
    with pytest.raises(NothingToTraceError):
        downstream(Question(box="BOX-3"))


@pytest.fixture
def scrapped_batch(materials: Lot, lead: User) -> Lot:
    """Mixed adhesive, and a batch of bodies of which none was good."""
    running("GLUE", by=lead, code="MIX-1")
    running("BODY-70", by=lead, code="GLUING-9")
    mixed = made_by(entry("MIX-1", 60_000, by=lead, minute=10))
    entry("GLUING-9", 0, scrap=5, by=lead, minute=20)
    return mixed


def test_what_was_all_scrapped_is_an_edge_to_nothing(scrapped_batch: Lot) -> None:
    trace = downstream(Question(lot=scrapped_batch.code))
    assert flows_of(trace) == [(scrapped_batch.code, "15.6 g", None, None)]
    assert sums_of(trace) == {"GLUING-9": ({"GLUE": "15.6 g"}, {}, "5 each")}
    assert [(row.batch, row.amount) for row in trace.scrapped] == [("GLUING-9", each(5))]


def test_a_batch_that_made_nothing_still_tells_what_went_into_it(
    scrapped_batch: Lot, materials: Lot
) -> None:
    trace = upstream(Question(batch="GLUING-9"))
    assert trace.start.lots == []
    assert "scrapped" in trace.start.note
    depths = lots_of(trace)
    assert (depths[scrapped_batch.code], depths[materials.code]) == (1, 2)
    assert (scrapped_batch.code, "15.6 g", None, None) in flows_of(trace)
    assert downstream(Question(batch="GLUING-9")).nodes == []


def test_too_many_lots_are_refused_with_a_way_to_narrow(materials: Lot, lead: User) -> None:
    hook = Item.objects.get(code="HOOK-6")
    floor.take_in("HOOK-6", NODES_MAX, worth="1", by=lead, lot_code="MANY")
    start = Lot.objects.get(code="MANY")
    make_lots(
        taken={start.pk: NODES_MAX},
        made=[1] * NODES_MAX,
        item=hook,
        stamp=at_minute(lead, 5),
        kind=PostingKind.MADE,
    )
    with pytest.raises(TraceTooLargeError) as refused:
        downstream(Question(lot="MANY"))
    assert refused.value.facts == {
        "most": NODES_MAX,
        "of": "lots",
        "narrow_by": ["item", "depth"],
    }
    with pytest.raises(TraceTooLargeError):
        downstream(Question(lot="MANY", item="HOOK-6"))
    assert lots_of(downstream(Question(lot="MANY", item="BLISTER"))) == {"MANY": 0}
    assert len(upstream(Question(lot=Lot.objects.latest("id").code)).nodes) == 2


def test_too_many_edges_are_refused_but_not_their_sums(materials: Lot, lead: User) -> None:
    hook = Item.objects.get(code="HOOK-6")
    start, side = Lot.objects.get(item=hook), 250
    given: Any = {"item": hook, "stamp": at_minute(lead, 5), "kind": PostingKind.MADE}
    make_lots(taken={start.pk: side}, made=[1] * side, **given)
    between = [lot.pk for lot in Lot.objects.filter(item=hook).exclude(pk=start.pk)]
    make_lots(taken=dict.fromkeys(between, 1), made=[1] * side, **given)
    assert side * side > EDGES_MAX
    with pytest.raises(TraceTooLargeError) as refused:
        downstream(Question(lot=start.code))
    assert refused.value.facts["of"] == "edges"
    assert len(downstream(Question(lot=start.code, fold="batches")).nodes) == 2 * side + 1

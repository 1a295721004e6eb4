"""Whole answers about one run of lures: lots, flows, batches, and where everything is now."""

from __future__ import annotations

from batches.packing.operations import (
    Part,
    Price,
    close_box,
    pack_box,
    put_box_in,
    reverse_shipment,
    ship,
    take_out_of_box,
)
from batches.trace.selectors import Question, downstream, upstream
from batches.trace.selectors.rows import PartRow
from inventory.stock.models import Lot
from inventory.stock.operations import adjust_lot, dispose_of_lot
from inventory.stock.selectors.amounts import AmountRow
from shopfloor.models import User
from tests.batches import floor
from tests.batches.trace.conftest import Run, at_minute
from tests.batches.trace.reading import at, each, flows_of, lots_of, sums_of


def test_downstream_of_adhesive_are_all_lots_it_flowed_into_and_how_far(run: Run) -> None:
    trace = downstream(Question(lot=run.adhesive.code))
    assert lots_of(trace) == {
        run.adhesive.code: 0,
        run.glue.code: 1,
        run.body_first.code: 2,
        run.body_second.code: 2,
        run.painted.code: 3,
        run.lure.code: 4,
        run.packed.code: 5,
        run.boxed[0].code: 6,
        run.boxed[1].code: 6,
    }
    assert not trace.goes_on
    assert trace.start.lots == [run.adhesive.code]


def test_a_node_says_what_the_lot_is_where_it_stands_and_where_it_came_from(run: Run) -> None:
    node = downstream(Question(lot=run.adhesive.code)).nodes[0]
    assert node.item == "GLUE-A"
    assert (node.kind, node.name, node.grade) == ("adhesive", "Adhesive, part A", "first")
    assert (node.place, node.disposition) == ("SHELF-A", "released")
    assert (node.supplier, node.supplier_lot_code) == ("GLUES", "GA-17")
    assert node.born_at == floor.NOON
    # 60 g mixed at 60 g of part A in 100 g.
    assert node.on_hand == AmountRow("164", "g")


def test_edges_carry_the_amounts_of_the_ledger_and_the_entry_that_recorded_them(run: Run) -> None:
    trace = downstream(Question(lot=run.glue.code))
    # 120 mg a piece worked on, and 15 g once a batch: 42 x 0.12 + 15, then 30 x 0.12.
    assert flows_of(trace)[:3] == [
        (run.glue.code, "20.04 g", run.body_first.code, "40 each"),
        (run.glue.code, "3.6 g", run.body_second.code, "30 each"),
        (run.body_first.code, "40 each", run.painted.code, "60 each"),
    ]
    assert trace.edges is not None
    first = trace.edges[0]
    assert (first.stage, first.batch, first.kind) == ("GLUING", "GLUING-1", "made")
    assert (first.posting[0], first.entry is not None and first.entry[0]) == ("P", "E")
    assert (trace.edges[-1].batch, trace.edges[-1].entry) == (None, None)
    assert trace.edges[-1].kind == "moved"


def test_entries_of_one_batch_are_summed(run: Run) -> None:
    trace = downstream(Question(lot=run.glue.code))
    assert sums_of(trace) == {
        "GLUING-1": ({"GLUE": "23.64 g"}, {"BODY-70": "70 each"}, "2 each"),
        "PAINTING-1": ({"BODY-70": "61 each"}, {"PAINTED-70-PERCH": "60 each"}, "1 each"),
        "RIGGING-1": ({"PAINTED-70-PERCH": "60 each"}, {"LURE-70-PERCH": "60 each"}, "0 each"),
        "BOXING-1": ({"LURE-70-PERCH": "60 each"}, {"PACKED-70-PERCH": "60 each"}, "0 each"),
    }
    assert trace.batches is not None
    gluing = trace.batches[0]
    assert (gluing.stage, gluing.item, gluing.entries) == ("GLUING", "BODY-70", 2)
    assert (gluing.first_at, gluing.last_at) == (at(20), at(25))


def test_where_it_is_now_is_said_by_place_box_and_customer(returned: Run) -> None:
    trace = downstream(Question(lot=returned.adhesive.code))
    packed = [row for row in trace.on_hand if row.item == "PACKED-70-PERCH"]
    assert [(row.place, row.disposition, row.amount) for row in packed] == [
        ("BOX-2", "released", each(24)),
        ("RETURNS", "quarantined", each(2)),
        ("SHELF-A", "released", each(12)),
    ]
    code = returned.shipment.code
    assert [(row.box, row.state, row.shipment, row.amount) for row in trace.boxes] == [
        ("BOX-1", "shipped", code, each(24)),
        ("BOX-2", "open", None, each(24)),
    ]
    [left] = trace.shipments
    assert (left.shipment, left.customer, left.customer_name) == (code, "HEN", "A test customer")
    assert (left.boxes, left.purpose) == (["BOX-1"], "sale")
    assert (left.amount, left.returned) == (each(24), each(2))


def test_how_much_by_share_and_at_most_is_said_of_every_lot_and_edge(run: Run) -> None:
    trace = downstream(Question(lot=run.body_first.code))
    # The first 40 bodies and 21 of the other 30 went into 60 painted ones and one scrapped.
    found = {node.code: (node.share, node.part) for node in trace.nodes}
    forty = PartRow(each(39), each(40))  # 60 x 40/61 = 39.3
    boxed = PartRow(each(16), each(24))  # 24 x 40/61 = 15.7
    assert found == {
        run.body_first.code: ("1", PartRow(each(40), each(40))),
        run.painted.code: ("0.655738", forty),
        run.lure.code: ("0.655738", forty),
        run.packed.code: ("0.655738", forty),
        run.boxed[0].code: ("0.655738", boxed),
        run.boxed[1].code: ("0.655738", boxed),
    }
    assert trace.edges is not None
    assert [edge.part for edge in trace.edges] == [
        PartRow(each(40), each(40)),
        forty,
        forty,
        boxed,
        boxed,
    ]
    [lost] = trace.scrapped
    assert (lost.amount, lost.part) == (each(1), PartRow(each(1), each(1)))


def test_upstream_says_how_much_of_each_lot_is_in_it(run: Run) -> None:
    trace = upstream(Question(box="BOX-1"))
    parts = {node.code: node.part for node in trace.nodes}
    # 24 of 61 painted; one body each, so no more than 24 of either lot.
    assert parts[run.body_first.code] == PartRow(each(16), each(24))
    assert parts[run.body_second.code] == PartRow(each(8), each(21))
    # 20.04 g in 42 bodies, 15.7377 of them here; 3.6 g in 30, 8.2623 here.
    assert parts[run.glue.code] == PartRow(AmountRow("8.501", "g"), AmountRow("23.64", "g"))
    share = next(node.share for node in trace.nodes if node.code == run.painted.code)
    assert share == "0.4"


def test_what_became_of_every_piece_is_said_lot_by_lot_and_in_all(
    returned: Run, lead: User
) -> None:
    dispose_of_lot(lot_code=returned.packed.code, qty_base=5, stamp=at_minute(lead, 95))
    adjust_lot(lot_code=returned.packed.code, qty_base=-1, stamp=at_minute(lead, 96))
    trace = downstream(Question(lot=returned.body_first.code))
    lots = {returned.packed.code, *(lot.code for lot in returned.boxed)}
    assert [
        (row.lot, row.became, row.amount, row.place, row.box, row.customer, row.at)
        for row in trace.whereabouts
        if row.lot in lots
    ] == [
        (returned.packed.code, "on_shelf", each(6), "SHELF-A", None, None, None),
        (returned.packed.code, "counted_off", each(1), None, None, None, None),
        (returned.packed.code, "disposed", each(5), None, None, None, None),
        (returned.packed.code, "parted", each(48), None, None, None, None),
        (returned.boxed[0].code, "returned", each(2), "RETURNS", None, None, None),
        (returned.boxed[0].code, "shipped", each(22), None, "BOX-1", "HEN", at(80)),
        (returned.boxed[1].code, "boxed", each(24), "BOX-2", "BOX-2", None, None),
    ]
    packed = [row for row in trace.totals if row.item == "PACKED-70-PERCH"]
    assert [(row.became, row.lots, row.amount, row.part) for row in packed] == [
        ("on_shelf", 1, each(6), PartRow(each(4), each(6))),
        ("boxed", 1, each(24), PartRow(each(16), each(24))),
        ("returned", 1, each(2), PartRow(each(1), each(2))),
        ("shipped", 1, each(22), PartRow(each(14), each(22))),
        ("parted", 1, each(48), PartRow(each(31), each(40))),
        ("disposed", 1, each(5), PartRow(each(3), each(5))),
        ("counted_off", 1, each(1), PartRow(each(1), each(1))),
    ]
    assert [
        (row.became, row.lots, row.amount) for row in trace.totals if row.became == "scrapped"
    ] == [("scrapped", 0, each(1))]


def test_what_was_scrapped_on_the_way_is_said_by_batch_and_reason(run: Run) -> None:
    trace = downstream(Question(lot=run.adhesive.code))
    assert [(row.batch, row.reason, row.amount) for row in trace.scrapped] == [
        ("GLUING-1", "LEAK", each(2)),
        ("PAINTING-1", "LEAK", each(1)),
    ]


def test_every_piece_is_accounted_for(returned: Run, lead: User) -> None:
    dispose_of_lot(lot_code=returned.packed.code, qty_base=5, stamp=at_minute(lead, 95))
    adjust_lot(lot_code=returned.packed.code, qty_base=1, stamp=at_minute(lead, 96))
    trace = downstream(Question(lot=returned.adhesive.code))
    packed = next(row for row in trace.account if row.item == "PACKED-70-PERCH")
    assert {row.kind: (row.came_in, row.went_out) for row in packed.changes} == {
        "adjusted": (each(1), each(0)),
        "disposed": (each(0), each(5)),
        "made": (each(60), each(0)),
        "moved": (each(48), each(48)),
        "returned": (each(2), each(0)),
        "shipped": (each(0), each(24)),
    }
    assert packed.on_hand == each(34)
    on_hand = [int(row.amount.amount) for row in trace.on_hand if row.item == "PACKED-70-PERCH"]
    assert sum(on_hand) == 34


def test_upstream_of_a_box_leads_to_the_supplier_order(run: Run) -> None:
    trace = upstream(Question(box="BOX-1"))
    assert (trace.start.kind, trace.start.lots) == ("box", [run.boxed[0].code])
    assert lots_of(trace)[run.adhesive.code] == 6
    assert {node.item for node in trace.nodes} >= {"GLUE-A", "GLUE-B", "HOOK-6", "HALF-L"}
    [receipt] = trace.receipts
    assert (receipt.supplier, receipt.supplier_lot_code) == ("GLUES", "GA-17")
    assert (receipt.order, receipt.delivery_note) == ("ORDER-7", "N-1")
    assert (receipt.lot, receipt.amount) == (run.adhesive.code, AmountRow("200", "g"))


def test_upstream_sums_everything_the_batches_took(run: Run) -> None:
    sums = sums_of(upstream(Question(lot=run.painted.code)))
    assert sums["GLUING-1"] == (
        {
            "GLUE": "23.64 g",
            "HALF-L": "72 each",
            "HALF-R": "72 each",
            "HANGER": "216 each",
            "RATTLE": "144 each",
        },
        {"BODY-70": "70 each"},
        "2 each",
    )
    assert list(sums) == ["MIX-1", "GLUING-1", "PAINTING-1"]


def test_the_two_directions_are_each_others_inverse(run: Run) -> None:
    codes = [*Lot.objects.values_list("code", flat=True)]
    down = {(a, b) for a in codes for b in lots_of(downstream(Question(lot=a)))}
    up = {(a, b) for b in codes for a in lots_of(upstream(Question(lot=b)))}
    assert down == up
    assert len(down) > 60


def test_a_batch_begins_at_all_lots_its_entries_made(run: Run) -> None:
    down, up = downstream(Question(batch="GLUING-1")), upstream(Question(batch="GLUING-1"))
    assert down.start.lots == up.start.lots == [run.body_first.code, run.body_second.code]
    assert lots_of(down)[run.painted.code] == 1
    assert lots_of(up)[run.adhesive.code] == 2
    assert list(sums_of(down)) == ["PAINTING-1", "RIGGING-1", "BOXING-1"]
    assert list(sums_of(up)) == ["MIX-1", "GLUING-1"]


def test_a_box_begins_at_the_lots_in_it_and_in_the_boxes_in_it(run: Run, lead: User) -> None:
    pack_box(contents=[Part(run.packed.code, 3)], code="CARTON", stamp=at_minute(lead, 72))
    put_box_in(box_code="BOX-2", parent_code="CARTON", stamp=at_minute(lead, 73))
    inner = Lot.objects.get(place__code="CARTON")
    trace = downstream(Question(box="CARTON"))
    assert trace.start.lots == [run.boxed[1].code, inner.code]


def test_a_box_still_begins_at_what_left_in_it_after_it_came_back(returned: Run) -> None:
    trace = downstream(Question(box="BOX-1"))
    assert trace.start.lots == [returned.boxed[0].code]
    assert [row.place for row in trace.on_hand] == ["RETURNS"]


def test_a_shipment_that_was_reversed_is_not_in_the_answer(run: Run, lead: User) -> None:
    reverse_shipment(shipment_code=run.shipment.code, stamp=at_minute(lead, 85))
    trace = downstream(Question(box="BOX-1"))
    assert trace.shipments == []
    assert [(row.box, row.state, row.shipment) for row in trace.boxes] == [
        ("BOX-1", "closed", None)
    ]
    assert trace.account[0].on_hand == each(24)


def test_two_shipments_of_one_lot_are_two_rows(run: Run, lead: User) -> None:
    close_box(box_code="BOX-2", stamp=at_minute(lead, 85))
    second = ship(
        customer_code="HEN",
        box_codes=["BOX-2"],
        prices=[Price("PACKED-70-PERCH", 8_000_000)],
        stamp=at_minute(lead, 86),
    )
    trace = downstream(Question(lot=run.painted.code))
    assert [(row.shipment, row.amount) for row in trace.shipments] == [
        (run.shipment.code, each(24)),
        (second.code, each(24)),
    ]


def test_depth_cuts_the_answer_and_says_that_it_goes_on(run: Run) -> None:
    trace = downstream(Question(lot=run.adhesive.code, depth=2))
    assert set(lots_of(trace)) == {
        run.adhesive.code,
        run.glue.code,
        run.body_first.code,
        run.body_second.code,
    }
    assert list(sums_of(trace)) == ["MIX-1", "GLUING-1"]
    assert trace.goes_on
    assert not downstream(Question(lot=run.adhesive.code, depth=6)).goes_on
    assert len(upstream(Question(lot=run.packed.code, depth=1)).nodes) == 4


def test_an_item_shows_only_its_lots_and_the_start(run: Run) -> None:
    trace = downstream(Question(lot=run.adhesive.code, item="PACKED-70-PERCH"))
    assert lots_of(trace) == {
        run.adhesive.code: 0,
        run.packed.code: 5,
        run.boxed[0].code: 6,
        run.boxed[1].code: 6,
    }
    assert flows_of(trace) == [
        (run.packed.code, "24 each", run.boxed[0].code, "24 each"),
        (run.packed.code, "24 each", run.boxed[1].code, "24 each"),
    ]
    assert sums_of(trace) == {
        "MIX-1": ({"GLUE-A": "36 g"}, {}, "0 g"),
        "BOXING-1": ({}, {"PACKED-70-PERCH": "60 each"}, "0 each"),
    }
    assert len(trace.shipments) == 1


def test_fold_leaves_out_the_other_half(run: Run) -> None:
    folded = downstream(Question(lot=run.glue.code, fold="batches"))
    single = upstream(Question(lot=run.painted.code, fold="entries"))
    assert (folded.edges, single.batches) == (None, None)
    assert folded.batches
    assert single.edges


def test_what_was_taken_out_of_a_box_is_downstream_of_it(run: Run, lead: User) -> None:
    take_out_of_box(
        box_code="BOX-2",
        contents=[Part(run.boxed[1].code, 4)],
        place_code="SHELF-A",
        stamp=at_minute(lead, 90),
    )
    trace = downstream(Question(box="BOX-2"))
    assert [(row.place, row.amount) for row in trace.on_hand] == [
        ("BOX-2", each(20)),
        ("SHELF-A", each(4)),
    ]

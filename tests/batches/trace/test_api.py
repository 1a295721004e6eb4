"""The doors of the trace: what they answer, what they refuse, what it costs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from batches.trace.selectors import Question, downstream, upstream
from inventory.catalog.models import Item
from inventory.stock.models import Lot, PostingKind
from shopfloor.codes.alphabet import encode
from shopfloor.models import User
from tests.batches import floor
from tests.batches.trace.conftest import Run, at_minute, running
from tests.inventory.stock.ledgers import make_lots
from tests.inventory.stock.plans import plans_of, statistics_of_a_large_ledger, whole_reads

Calling = Callable[[User], floor.Caller]
DIRECTIONS = ("upstream", "downstream")


def test_downstream_answers_lots_flows_batches_and_whereabouts(
    run: Run, viewer: User, calling: Calling
) -> None:
    answer = calling(viewer).get("trace/downstream/", lot=run.glue.code.lower())
    assert answer.status_code == 200
    assert set(answer.json()) == {
        "start",
        "goes_on",
        "nodes",
        "edges",
        "batches",
        "totals",
        "whereabouts",
        "on_hand",
        "boxes",
        "shipments",
        "scrapped",
        "account",
    }
    assert answer.json()["start"]["lots"] == [run.glue.code]
    assert answer.json()["shipments"][0]["amount"] == {"amount": "24", "unit": "each"}
    assert answer.json()["edges"][0]["at"] == "2026-03-02T18:20:00Z"


def test_upstream_answers_receipts(run: Run, viewer: User, calling: Calling) -> None:
    answer = calling(viewer).get("trace/upstream/", box="box-1", fold="batches")
    assert answer.status_code == 200
    assert answer.json()["edges"] is None
    [receipt] = answer.json()["receipts"]
    assert receipt["order"] == "ORDER-7"
    assert receipt["supplier_lot_code"] == "GA-17"


def test_item_and_depth_narrow_the_answer(run: Run, viewer: User, calling: Calling) -> None:
    get = calling(viewer).get
    near = get("trace/downstream/", batch="MIX-1", depth="1").json()
    assert [node["depth"] for node in near["nodes"]] == [0, 1, 1]
    assert near["goes_on"] is True
    bodies = get("trace/downstream/", batch="MIX-1", item="body-70").json()
    assert [node["item"] for node in bodies["nodes"]] == ["GLUE", "BODY-70", "BODY-70"]


@pytest.mark.parametrize("direction", DIRECTIONS)
def test_exactly_one_start_is_needed(
    direction: str, run: Run, viewer: User, calling: Calling
) -> None:
    get = calling(viewer).get
    none, two = get(f"trace/{direction}/"), get(f"trace/{direction}/", lot="A", box="B")
    assert (none.status_code, two.status_code) == (422, 422)
    assert "Given: none" in none.json()["facts"]["fields"]["body"][0]
    assert "Given: lot, box" in two.json()["facts"]["fields"]["body"][0]


@pytest.mark.parametrize(
    ("asked", "status", "code"),
    [
        ({"lot": "NOSUCH"}, 404, "not_found"),
        ({"batch": "NOSUCH"}, 404, "not_found"),
        ({"box": "NOSUCH"}, 404, "not_found"),
        ({"lot": "L-2222"}, 422, "code_typo"),
        ({"lot": "L-2222.1"}, 422, "code_typo"),
        ({"batch": "B-2222"}, 422, "code_typo"),
        ({"box": "X-2222"}, 422, "code_typo"),
        ({"box": encode(700, "L")}, 422, "wrong_kind_of_code"),
        ({"lot": encode(700, "S")}, 422, "wrong_kind_of_code"),
        ({"lot": encode(700_000, "L")}, 404, "not_found"),
        ({"lot": f"{encode(700_000, 'L')}-2.13"}, 404, "not_found"),
        ({"lot": "what is it"}, 422, "invalid_input"),
        ({"lot": ""}, 422, "invalid_input"),
        ({"lot": "GONE", "item": "NOSUCH"}, 404, "not_found"),
        ({"lot": "GONE", "depth": "0"}, 422, "invalid_input"),
        ({"lot": "GONE", "depth": "51"}, 422, "invalid_input"),
        ({"lot": "GONE", "fold": "stages"}, 422, "invalid_input"),
        ({"lot": "GONE", "colour": "red"}, 422, "unknown_parameter"),
        ({"batch": "PLANNED-1"}, 409, "nothing_to_trace"),
    ],
)
def test_what_cannot_be_meant_is_refused_and_says_why(
    asked: dict[str, str],
    status: int,
    code: str,
    materials: Lot,
    viewer: User,
    lead: User,
    calling: Calling,
) -> None:
    floor.take_in("EYE", 10, worth="1", by=lead, lot_code="GONE")
    running("GLUE", by=lead, code="PLANNED-1")
    answer = calling(viewer).get("trace/downstream/", **asked)
    assert (answer.status_code, answer.json()["code"]) == (status, code)
    assert answer["Content-Type"] == "application/problem+json"
    assert len(answer.json()["detail"]) > 20


def test_upstream_refuses_the_same(materials: Lot, viewer: User, calling: Calling) -> None:
    get = calling(viewer).get
    assert get("trace/upstream/", lot="L-2222").json()["code"] == "code_typo"
    assert get("trace/upstream/", batch="NOSUCH").json()["code"] == "not_found"


def test_nobody_comes_in_without_signing_in(run: Run, client: Any) -> None:
    assert client.get("/api/v1/trace/upstream/?box=BOX-1").status_code == 401
    assert client.get("/api/v1/trace/downstream/?box=BOX-1").status_code == 401


def test_a_trace_is_only_read(owner: User, calling: Calling) -> None:
    assert calling(owner).post("trace/upstream/").status_code in {403, 405}


@pytest.mark.parametrize("lots", [1, 10, 100])
def test_an_answer_takes_the_same_statements_for_any_number_of_lots(
    lots: int, run: Run, lead: User, django_assert_num_queries: Any
) -> None:
    given: Any = {"stamp": at_minute(lead, 65), "kind": PostingKind.MADE}
    item = Item.objects.get(code="HOOK-6")
    take = {Lot.objects.get(item__code="EYE").pk: lots}
    make_lots(taken=take, made=[1] * lots, item=item, **given)
    made = list(Lot.objects.order_by("-id").values_list("pk", flat=True)[:lots])
    make_lots(taken=dict.fromkeys(made, 1), made=[7], item=item, **given)
    eye, last = Lot.objects.get(item__code="EYE").code, Lot.objects.latest("id").code
    with django_assert_num_queries(8):
        assert len(downstream(Question(lot=eye)).nodes) > lots
    with django_assert_num_queries(7):
        assert len(upstream(Question(lot=last)).nodes) > lots


@pytest.mark.parametrize(("start", "of_item"), [({"batch": "GLUING-1"}, 10), ({"box": "BOX-1"}, 9)])
def test_a_batch_and_a_box_take_as_many(
    start: dict[str, Any], of_item: int, run: Run, django_assert_num_queries: Any
) -> None:
    with django_assert_num_queries(8):
        downstream(Question(**start))
    with django_assert_num_queries(7):
        upstream(Question(**start))
    with django_assert_num_queries(of_item):
        downstream(Question(**start, item="PACKED-70-PERCH"))


def test_a_trace_that_is_cut_says_no_parts(run: Run, django_assert_num_queries: Any) -> None:
    with django_assert_num_queries(8):
        near = downstream(Question(lot=run.adhesive.code, depth=1))
    assert near.goes_on
    assert near.edges
    assert {edge.part for edge in near.edges} == {None}
    assert {total.part for total in near.totals} == {where.part for where in near.whereabouts}
    assert (
        {node.part for node in near.nodes} == {where.part for where in near.whereabouts} == {None}
    )
    assert {node.share for node in near.nodes} == {None}


NAMES = (
    *("inventory_movement", "inventory_posting", "inventory_lot", "here", "onward", "m", "p", "r"),
    *("batches_entry", "batches_entrytally", "batches_shipmentline", "inventory_receiptline"),
    *("U0", "U1", "T3", "T4", "T5", "T6", "T7", "T8"),
)


@pytest.mark.only_on("sqlite")
@pytest.mark.parametrize("question", [{"batch": "GLUING-1"}, {"box": "BOX-1"}, {"lot": ""}])
@pytest.mark.parametrize("ask", [upstream, downstream])
def test_no_statement_of_an_answer_reads_all_movements_postings_or_lots(
    question: dict[str, Any], ask: Callable[[Question], Any], run: Run
) -> None:
    start = question if any(question.values()) else {"lot": run.glue.code}

    def answer() -> None:
        ask(Question(**start))
        ask(Question(**start, item="PACKED-70-PERCH", depth=9))

    plans = plans_of(answer)
    assert whole_reads(plans, *NAMES) == []
    with statistics_of_a_large_ledger():
        analyzed = plans_of(answer)
    assert whole_reads(analyzed, *NAMES) == []
    assert len(plans) == len(analyzed) >= 15

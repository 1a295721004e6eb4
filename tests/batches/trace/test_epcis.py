"""A trace as an EPCIS document: which events, of what, when; valid by the published schema."""

from __future__ import annotations

import json
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from batches.packing.operations import (
    Part,
    Price,
    close_box,
    pack_box,
    put_box_in,
    ship,
    take_out_of_box,
)
from batches.trace.selectors import Question
from batches.trace.selectors.happened import happened
from inventory.catalog.models import Item
from inventory.purchasing.models import Receipt
from inventory.purchasing.operations import return_to_supplier, reverse_receipt
from inventory.purchasing.steps import ReturnDraft
from inventory.stock.models import Lot
from inventory.stock.operations import (
    Found,
    OpeningLot,
    adjust_lot,
    count_lots,
    dispose_of_lot,
    hold_lot,
    reject_lot,
    release_hold,
    release_lot,
    take_in_opening_lots,
)
from inventory.stock.selectors.lineage import Direction
from shopfloor.codes.gs1.numbers import CompanyPrefix
from shopfloor.fields import Amount
from shopfloor.models import User
from tests.batches import floor
from tests.batches.trace.conftest import Run, at_minute
from tests.published.test_epcis import faults

Calling = Callable[[User], floor.Caller]
OWN = "http://testserver/api/v1/"


@pytest.fixture
def told(viewer: User, calling: Calling) -> Callable[..., Any]:
    """`told("upstream", box="BOX-1")`: the events of the document."""

    def ask(direction: str, **asked: str) -> Any:
        answer = calling(viewer).get(f"trace/{direction}/", **asked, format="epcis")
        assert answer.status_code == 200, answer.content
        assert answer["Content-Type"] == "application/ld+json"
        found = json.loads(answer.content)
        assert faults(found) == []
        return found["epcisBody"]["eventList"]

    return ask


def brief(event: Any) -> tuple[Any, ...]:
    """Step, time, and names without their beginning."""
    return (
        event["bizStep"],
        event["eventTime"][11:16],
        *(
            (each.get("quantity"), each["epcClass"].removeprefix(f"{OWN}lots/").rstrip("/"))
            for name in (
                "inputQuantityList",
                "outputQuantityList",
                "quantityList",
                "childQuantityList",
            )
            for each in event.get(name, ())
        ),
        *(name.removeprefix(OWN) for name in event.get("epcList", ())),
        *([event["parentID"].removeprefix(OWN)] if "parentID" in event else []),
    )


def test_downstream_tells_making_boxing_and_shipping(run: Run, told: Callable[..., Any]) -> None:
    packed, (first, second) = run.packed.code, (lot.code for lot in run.boxed)
    assert [brief(event) for event in told("downstream", lot=run.lure.code)] == [
        ("commissioning", "19:00", (60, run.lure.code), (60, packed)),
        ("commissioning", "19:10", (24, packed), (24, first)),
        ("commissioning", "19:10", (24, packed), (24, second)),
        ("packing", "19:10", (24, first), "boxes/BOX-1/"),
        ("packing", "19:10", (24, second), "boxes/BOX-2/"),
        ("shipping", "19:20", "boxes/BOX-1/"),
    ]


def test_upstream_begins_with_what_the_supplier_sent(run: Run, told: Callable[..., Any]) -> None:
    first, *_ = events = told("upstream", box="BOX-1")
    assert brief(first) == ("receiving", "18:00", (0.2, run.adhesive.code))
    assert first["bizTransactionList"][0] == {
        "type": "po",
        "bizTransaction": f"{OWN}supplier-orders/ORDER-7/",
    }
    assert first["sourceList"] == [{"type": "possessing_party", "source": f"{OWN}suppliers/GLUES/"}]
    made = next(event for event in events if event["eventTime"][11:16] == "18:20")
    assert made["bizTransactionList"] == [
        {"type": "prodorder", "bizTransaction": f"{OWN}batches/GLUING-1/"}
    ]
    assert {each["uom"] for each in made["inputQuantityList"] if "uom" in each} == {"KGM"}


def test_what_came_back_was_in_the_box_it_left_in(returned: Run, told: Callable[..., Any]) -> None:
    steps = [brief(event) for event in told("downstream", lot=returned.boxed[0].code)]
    assert steps == [
        ("packing", "19:10", (24, returned.boxed[0].code), "boxes/BOX-1/"),
        ("shipping", "19:20", "boxes/BOX-1/"),
        ("receiving", "19:30", (2, returned.boxed[0].code)),
    ]


def test_what_is_in_quarantine_is_not_let_go_with_its_hold(
    returned: Run, lead: User, told: Callable[..., Any]
) -> None:
    lot = returned.boxed[0].code
    hold = hold_lot(lot_code=lot, stamp=at_minute(lead, 91))
    release_hold(hold_code=hold.code, stamp=at_minute(lead, 92))
    steps = [event["bizStep"] for event in told("downstream", lot=lot)]
    assert steps == ["packing", "shipping", "receiving", "holding"]


def test_what_was_held_let_go_and_thrown_away_is_told(
    run: Run, lead: User, told: Callable[..., Any]
) -> None:
    boxed = run.boxed[1]
    first, second = (
        hold_lot(lot_code=boxed.code, stamp=at_minute(lead, minute)) for minute in (85, 86)
    )
    release_hold(hold_code=first.code, stamp=at_minute(lead, 87))  # the second still stops it
    release_hold(hold_code=second.code, stamp=at_minute(lead, 88))
    dispose_of_lot(lot_code=boxed.code, qty_base=24, stamp=at_minute(lead, 89))
    events = told("downstream", lot=boxed.code)
    assert [(*brief(event), event["disposition"]) for event in events] == [
        ("holding", "19:25", (None, boxed.code), "non_sellable_other"),
        ("holding", "19:26", (None, boxed.code), "non_sellable_other"),
        ("inspecting", "19:28", (None, boxed.code), "available"),
        ("destroying", "19:29", (24, boxed.code), "destroyed"),
    ]


def test_what_was_rejected_counted_adjusted_and_sent_back_is_told(
    materials: Lot, lead: User, told: Callable[..., Any]
) -> None:
    glue = materials.code
    found = Found(glue, found_base=190_000)
    count_lots(found=[found], stamp=at_minute(lead, 10))
    adjust_lot(lot_code=glue, qty_base=4_000, stamp=at_minute(lead, 20))
    hold = hold_lot(lot_code=glue, stamp=at_minute(lead, 25))
    reject_lot(lot_code=glue, stamp=at_minute(lead, 30))
    release_hold(hold_code=hold.code, stamp=at_minute(lead, 35))  # it stays rejected
    release_lot(lot_code=glue, stamp=at_minute(lead, 40))
    reject_lot(lot_code=glue, stamp=at_minute(lead, 50))
    back = ReturnDraft(lot_code=glue, amount=Amount(Decimal(50), "g"))
    return_to_supplier(lots=[back], stamp=at_minute(lead, 60))
    events = told("upstream", lot=glue)
    assert [(*brief(event), event["disposition"], event["action"]) for event in events[1:]] == [
        ("cycle_counting", "18:10", (0.01, glue), "mismatch_quantity", "DELETE"),
        ("other", "18:20", (0.004, glue), "mismatch_quantity", "ADD"),
        ("holding", "18:25", (None, glue), "non_sellable_other", "OBSERVE"),
        ("inspecting", "18:30", (None, glue), "non_conformant", "OBSERVE"),
        ("inspecting", "18:40", (None, glue), "available", "OBSERVE"),
        ("inspecting", "18:50", (None, glue), "non_conformant", "OBSERVE"),
        ("shipping", "19:00", (0.05, glue), "returned", "OBSERVE"),
    ]
    assert events[-1]["destinationList"][0]["destination"] == f"{OWN}suppliers/GLUES/"
    assert len({event["eventID"] for event in events}) == len(events)


def test_a_lot_that_was_there_at_first_is_begun_and_not_corrected(
    materials: Lot, lead: User, told: Callable[..., Any]
) -> None:
    lot = OpeningLot(item_code="GLUE-A", qty_base=1_000, value_micro=0)
    take_in_opening_lots(lots=[lot], stamp=at_minute(lead, 10))
    [event] = told("upstream", lot=Lot.objects.latest("pk").code)
    assert (event["bizStep"], event["action"]) == ("commissioning", "ADD")


def test_a_box_that_left_in_another_one_is_told(
    run: Run, lead: User, told: Callable[..., Any]
) -> None:
    pack_box(contents=[], code="PALLET", stamp=at_minute(lead, 81))
    put_box_in(box_code="BOX-2", parent_code="PALLET", stamp=at_minute(lead, 82))
    for code in ("BOX-2", "PALLET"):
        close_box(box_code=code, stamp=at_minute(lead, 83))
    prices = [Price("PACKED-70-PERCH", 8_000_000)]
    ship(customer_code="HEN", box_codes=["PALLET"], prices=prices, stamp=at_minute(lead, 84))
    *_, shipped, stacked = told("downstream", lot=run.boxed[1].code)
    assert brief(shipped) == ("shipping", "19:24", "boxes/BOX-2/")
    assert (stacked["parentID"], stacked["childEPCs"]) == (
        f"{OWN}boxes/PALLET/",
        [f"{OWN}boxes/BOX-2/"],
    )


def test_what_was_taken_out_of_a_box_is_told(
    run: Run, lead: User, told: Callable[..., Any]
) -> None:
    boxed = run.boxed[1]
    take_out_of_box(
        box_code="BOX-2",
        contents=[Part(boxed.code, 4)],
        place_code="SHELF-A",
        stamp=at_minute(lead, 90),
    )
    out = Lot.objects.latest("id").code
    found = told("downstream", lot=boxed.code)
    assert [brief(event) for event in found] == [
        ("packing", "19:10", (24, boxed.code), "boxes/BOX-2/"),
        ("commissioning", "19:30", (4, boxed.code), (4, out)),
        ("unpacking", "19:30", (4, boxed.code), "boxes/BOX-2/"),
    ]
    assert found[-1]["action"] == "DELETE"


def test_a_shop_with_a_prefix_names_its_articles_by_gs1(
    run: Run, told: Callable[..., Any], settings: Any
) -> None:
    settings.SHOP_GS1_PREFIX = "9521234"
    Item.objects.filter(code="PACKED-70-PERCH").update(gtin=CompanyPrefix("9521234").gtin(7))
    boxed = told("downstream", lot=run.boxed[1].code)
    assert boxed[0]["childQuantityList"] == [
        {"epcClass": f"urn:epc:class:lgtin:9521234.000007.{run.boxed[1].code}", "quantity": 24}
    ]


def test_a_lot_to_which_nothing_happened_is_refused(
    materials: Lot, lead: User, viewer: User, calling: Calling
) -> None:
    reverse_receipt(receipt_code=Receipt.objects.get().code, stamp=at_minute(lead, 10))
    answer = calling(viewer).get("trace/downstream/", lot=materials.code, format="epcis")
    assert (answer.status_code, answer.json()["code"]) == (409, "nothing_to_trace")
    assert answer.json()["facts"] == {"lot": materials.code}


def test_a_document_takes_the_same_statements_for_any_trace(
    run: Run, django_assert_num_queries: Any
) -> None:
    with django_assert_num_queries(13):
        happened(Question(lot=run.adhesive.code), Direction.DOWNSTREAM)
    with django_assert_num_queries(13):
        happened(Question(lot=run.packed.code), Direction.UPSTREAM)

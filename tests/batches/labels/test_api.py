"""Doors of papers and scans: a good call, a problem, a refused role."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import override_settings
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient

from batches.bills.operations import create_bill, create_stage, release_bill
from batches.bills.steps.lines import LineDraft
from batches.labels.selectors import scan_target
from batches.labels.selectors.boxes import box_labels
from batches.labels.selectors.lots import lot_labels
from batches.labels.selectors.origins import Origin, dates_text, origins
from batches.labels.selectors.travelers import travelers
from batches.packing.models import Box
from batches.packing.operations import (
    LooseLot,
    Part,
    create_customer,
    enter_customer_order,
    pack_box,
    ship,
)
from batches.packing.operations import OrderLine as OrderedLine
from batches.runs.models import Batch
from batches.runs.operations import plan, record, start_batch
from batches.runs.steps.batches import BatchPlan
from batches.runs.steps.drafts import EntryDraft, GoodTally
from inventory.catalog.operations import change_item, create_supplier
from inventory.stock.models import Lot
from inventory.stock.operations import hold_lot, split_off
from shopfloor.codes.alphabet import Prefix, encode
from shopfloor.days import day_end
from shopfloor.fields import Amount
from shopfloor.models import User
from shopfloor.operations import create_person, issue_token
from shopfloor.roles import Role
from tests.batches.labels.conftest import (
    MONDAY,
    TUESDAY,
    rendered,
    stamp_at,
    symbols,
    take_in,
    words,
)

LABELS = "/api/v1/labels"
StockOf = Callable[..., Lot]
Queries = Callable[[int], CaptureQueriesContext]


@pytest.fixture
def minnows(stock_of: StockOf) -> Lot:
    return stock_of("MINNOW", lot_code="M1", model="MINNOW-90", colorway="TIGER")


@pytest.fixture
def box(owner: User, minnows: Lot) -> Box:
    return pack_box(contents=[Part("M1", 24)], stamp=stamp_at(owner))


@pytest.fixture
def batch(owner: User, stock_of: StockOf) -> Batch:
    """A running batch of 10 bodies, two halves each."""
    stock_of("HALF", 15, lot_code="H1", kind="half")
    take_in(owner, "HALF", 100, lot_code="H2")
    stock_of("BODY", 1, kind="body")
    create_stage(code="GLUING", fields={"name": "Gluing", "position": 3}, by=owner, at=MONDAY)
    lines = [LineDraft(item_code="HALF", per_piece=Amount(Decimal(2), "each"))]
    create_bill(item_code="BODY", stage_code="GLUING", lines=lines, by=owner, at=MONDAY)
    release_bill(item_code="BODY", number=1, by=owner, at=MONDAY)
    planned = plan(plan=BatchPlan(item_code="BODY", planned_base=10), stamp=stamp_at(owner, MONDAY))
    return start_batch(batch_code=planned.code, stamp=stamp_at(owner, MONDAY))


# --- Papers ---


def test_the_label_of_a_box_is_a_pdf_that_scans(api: APIClient, box: Box) -> None:
    answer = api.get(f"{LABELS}/boxes/{box.code}.pdf?stock=4x6")
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    assert answer["Content-Disposition"] == f'inline; filename="boxes-{box.code}.pdf"'
    image = rendered(answer.content, dpi=203)
    assert symbols(image) == [("Code128", box.code), ("DataMatrix", box.code)]
    said = words(answer.content)
    assert all(part in said for part in ("Minnow 90", "Fire tiger", "24 pieces", "M1.1"))


def test_the_label_of_a_box_counts_the_boxes_in_it_and_every_lot(
    owner: User, minnows: Lot, stock_of: StockOf, django_assert_num_queries: Queries
) -> None:
    take_in(owner, "MINNOW", 10, lot_code="M2")
    stock_of("FROG", 50, lot_code="F1")
    pack_box(contents=[Part("M1", 5), Part("F1", 2)], code="CARTON", stamp=stamp_at(owner))
    pack_box(contents=[Part("M2")], code="INNER", parent_code="CARTON", stamp=stamp_at(owner))
    with django_assert_num_queries(7):
        [label] = box_labels(["CARTON"])
    assert label.pieces == 17
    assert [(item.item, item.pieces, item.lots) for item in label.items] == [
        ("MINNOW", 15, ("M2 (10)", "M1.1 (5)")),
        ("FROG", 2, ("F1.1",)),
    ]


def test_a_part_has_the_date_of_the_lot_it_was_split_from(
    owner: User, batch: Batch, django_assert_num_queries: Queries
) -> None:
    draft = EntryDraft(batch_code=batch.code, good=[GoodTally(4)])
    record(draft=draft, stamp=stamp_at(owner, MONDAY))
    made = Lot.objects.filter(item__code="BODY").latest("pk")
    part = split_off(lot_code=made.code, qty_base=3, stamp=stamp_at(owner, TUESDAY))
    again = split_off(lot_code=part.code, qty_base=1, stamp=stamp_at(owner, TUESDAY))
    bought = Lot.objects.get(code="H1")
    with django_assert_num_queries(3):
        found = origins([again.pk, bought.pk])
    assert found == {
        again.pk: Origin("Made", date(2026, 3, 2)),
        bought.pk: Origin("On hand since", date(2026, 3, 2)),
    }


def test_days_of_one_word_are_a_span() -> None:
    first, last = date(2026, 3, 1), date(2026, 3, 4)
    assert dates_text([Origin("Made", last), Origin("Made", first)]) == (
        "Made 2026-03-01 to 2026-03-04"
    )
    assert dates_text([Origin("Made", first)]) == "Made 2026-03-01"
    assert dates_text([]) == ""


def test_the_sticker_of_a_lot_carries_its_code_and_hazard_text(
    api: APIClient, owner: User, stock_of: StockOf
) -> None:
    stock_of(
        "ADH",
        kind="adhesive",
        dimension="mass",
        display_unit="g",
        lot_code="A1",
        hazard_text="Causes serious eye irritation.",
        hazard_pictograms=["GHS07"],
        expires_at=day_end(date(2026, 9, 1)),
    )
    answer = api.get(f"{LABELS}/lots/a1.pdf?dpi=300")
    image = rendered(answer.content, dpi=300)
    assert image.shape == (600, 1200)  # the larger stock, for the text
    assert symbols(image) == [("DataMatrix", "A1")]
    said = words(answer.content).replace("\n", " ")
    assert "HAZARD GHS07 exclamation mark. Causes serious eye irritation." in said
    assert "Use by 2026-09-01" in said
    small = api.get(f"{LABELS}/lots/A1.pdf?stock=2x1")
    assert rendered(small.content, dpi=203).shape == (203, 406)


def test_a_life_that_ends_within_a_day_says_the_time(owner: User, stock_of: StockOf) -> None:
    stock_of("MIX", lot_code="X1", expires_at=TUESDAY + timedelta(minutes=5))
    assert lot_labels(["X1"])[0].use_by == "2026-03-03 09:05"


def test_a_traveler_names_what_the_batch_takes_and_the_lots_to_take_first(
    api: APIClient, batch: Batch, django_assert_num_queries: Queries
) -> None:
    with django_assert_num_queries(7):
        [paper] = travelers([batch.code], at=TUESDAY)
    assert [(need.item, need.amount, need.lots) for need in paper.needs] == [
        ("HALF", "20 pieces", ("H1 (15 pieces)", "H2 (5 pieces)"))
    ]
    answer = api.get(f"{LABELS}/batches/{batch.code}.pdf")
    assert symbols(rendered(answer.content, dpi=203)) == [("DataMatrix", batch.code)]
    assert "Gluing" in words(answer.content)


def test_a_traveler_names_the_items_that_carry_hazard_data(owner: User, batch: Batch) -> None:
    assert travelers([batch.code], at=TUESDAY)[0].hazards == ()
    change_item(code="HALF", fields={"hazard_text": "Dust."}, by=owner, at=MONDAY)
    change_item(code="BODY", fields={"hazard_pictograms": ["GHS07"]}, by=owner, at=MONDAY)
    [paper] = travelers([batch.code], at=TUESDAY)
    assert paper.hazards == ("BODY", "HALF")


def test_a_traveler_says_what_is_short(owner: User, batch: Batch) -> None:
    hold_lot(lot_code="H2", stamp=stamp_at(owner, MONDAY))
    [paper] = travelers([batch.code], at=TUESDAY)
    assert paper.needs[0].lots == ("H1 (15 pieces)", "5 pieces short")


def test_a_made_up_shop_says_demo_on_what_it_prints(api: APIClient, box: Box) -> None:
    with override_settings(SHOP_IS_DEMO=True):
        answer = api.get(f"{LABELS}/boxes/{box.code}.pdf")
    assert "DEMO" in words(answer.content)


@pytest.mark.parametrize("kind", ["boxes", "lots", "batches"])
def test_a_label_of_nothing_is_a_problem(api: APIClient, kind: str) -> None:
    answer = api.get(f"{LABELS}/{kind}/NOTHING.pdf")
    assert (answer.status_code, answer.json()["code"]) == (404, "not_found")


@pytest.mark.parametrize("query", ["stock=3x3", "dpi=72", "size=big"])
def test_stock_and_printer_are_those_we_know(api: APIClient, box: Box, query: str) -> None:
    assert api.get(f"{LABELS}/boxes/{box.code}.pdf?{query}").status_code == 422


@pytest.mark.parametrize(
    "address", [f"{LABELS}/boxes/X.pdf", f"{LABELS}/lots/X.pdf", "/api/v1/scan/?code=X"]
)
def test_everybody_who_is_signed_in_prints_and_scans(owner: User, address: str) -> None:
    assert APIClient().get(address).status_code == 401
    create_person(
        username="vi",
        display_name="Vi",
        role=Role.VIEWER,
        password=None,
        by=owner,
        at=MONDAY,
    )
    issued = issue_token(username="vi", name="a test", by=owner, at=MONDAY)
    client = APIClient(headers={"Authorization": f"Token {issued.text}"})
    assert client.get(address).status_code == 404


# --- Scans ---


def scan(api: APIClient, text: str) -> Any:
    return api.get("/api/v1/scan/", {"code": text}).json()


def test_a_scan_of_a_box_or_a_lot_leads_there(api: APIClient, box: Box) -> None:
    assert scan(api, box.code) == {
        "kind": "box",
        "code": box.code,
        "address": f"/api/v1/boxes/{box.code}/",
        "meaning": f"This is box {box.code}.",
        "read": [],
        "delivery": None,
    }
    assert scan(api, "m1.1\r")["address"] == "/api/v1/lots/M1.1/"
    assert scan(api, f"]d1{box.code}")["kind"] == "box"
    assert scan(api, box.code.replace("-", "").lower())["code"] == box.code


def test_a_scan_of_anything_else_that_has_a_code_leads_there(
    api: APIClient, owner: User, minnows: Lot, batch: Batch
) -> None:
    create_customer(code="HEN", name="A test customer", stamp=stamp_at(owner))
    create_supplier(code="SUP", fields={"name": "A test supplier"}, by=owner, at=MONDAY)
    order = enter_customer_order(
        customer_code="HEN", lines=[OrderedLine("MINNOW", 5, 1)], stamp=stamp_at(owner)
    )
    shipment = ship(
        customer_code="HEN",
        order_code=order.code,
        lots=[LooseLot("M1", 5)],
        stamp=stamp_at(owner),
    )
    hold = hold_lot(lot_code="H1", stamp=stamp_at(owner))
    entry = record(
        draft=EntryDraft(batch_code=batch.code, good=[GoodTally(1)]), stamp=stamp_at(owner)
    )
    assert scan(api, batch.code)["kind"] == "batch"
    assert scan(api, order.code)["address"] == f"/api/v1/customer-orders/{order.code}/"
    assert scan(api, shipment.code)["address"] == f"/api/v1/shipments/{shipment.code}/"
    assert scan(api, shipment.posting.code)["kind"] == "posting"
    assert scan(api, hold.code)["kind"] == "hold"
    assert scan(api, entry.code)["kind"] == "entry"
    assert [scan(api, text)["kind"] for text in ("minnow", "shelf", "tiger", "minnow-90")] == [
        "item",
        "place",
        "colorway",
        "model",
    ]
    assert [scan(api, text)["kind"] for text in ("HEN", "SUP")] == ["customer", "supplier"]


def test_a_scan_of_an_articles_number_leads_to_its_item(
    api: APIClient, owner: User, minnows: Lot
) -> None:
    # Made of the prefix 952, which is for demonstrations and examples only.
    change_item(code="MINNOW", fields={"gtin": "9521234000013"}, by=owner, at=MONDAY)
    assert scan(api, "9521234000013")["code"] == "MINNOW"


def test_a_scan_of_a_suppliers_lot_leads_to_ours_if_there_is_but_one(
    api: APIClient, owner: User, stock_of: StockOf
) -> None:
    first = stock_of("HOOK", kind="hook", supplier_lot_code="a8871/2")
    assert scan(api, "a8871/2")["code"] == first.code
    second = take_in(owner, "HOOK", supplier_lot_code="a8871/2")
    problem = scan(api, "a8871/2")
    assert problem["code"] == "scan_ambiguous"
    assert problem["facts"]["lots"] == [first.code, second.code]


def test_a_scan_of_nothing_we_have_says_what_was_read(api: APIClient, owner: User) -> None:
    code = encode(7, Prefix.BOX)
    problem = scan(api, f"]C0{code.lower()}")
    assert (problem["status"], problem["code"]) == (404, "not_found")
    assert problem["facts"] == {
        "text": code.lower(),
        "code": code,
        "kind": "box",
        "symbology": "C0",
    }
    assert scan(api, encode(7, Prefix.SHIPMENT))["facts"]["kind"] == "shipment"
    assert scan(api, "   ")["status"] == 422


def test_a_slip_in_a_code_of_ours_is_said_to_be_one(api: APIClient, owner: User) -> None:
    code = encode(7, Prefix.BOX)
    wrong = code[:-1] + ("4" if code[-1] != "4" else "5")
    assert "a slip?" in scan(api, wrong)["detail"]


def test_a_scan_takes_one_statement(
    owner: User, box: Box, django_assert_num_queries: Queries
) -> None:
    with django_assert_num_queries(1):
        scan_target("MINNOW", on=MONDAY.date())
    with django_assert_num_queries(1):
        scan_target(box.code, on=MONDAY.date())

"""Doors of hold tags, shelf labels, count sheets and packing lists: a good call and a problem."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from rest_framework.test import APIClient

from batches.packing.operations import LooseLot, create_customer, ship
from inventory.stock.models import Lot
from inventory.stock.operations import hold_lot
from shopfloor.codes.alphabet import Prefix, encode
from shopfloor.models import User
from tests.batches.labels.conftest import rendered, stamp_at, symbols, words

LABELS = "/api/v1/labels"


@pytest.fixture
def minnows(owner: User, stock_of: Callable[..., Lot]) -> Lot:
    return stock_of("MINNOW", lot_code="M1", model="MINNOW-90", colorway="TIGER")


def printed(api: APIClient, address: str) -> bytes:
    answer = api.get(f"{LABELS}/{address}")
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    content: bytes = answer.content
    return content


def test_a_hold_tag_is_printed_for_a_lot_on_hold_and_for_no_other(
    api: APIClient, owner: User, minnows: Lot
) -> None:
    refused = api.get(f"{LABELS}/holds/M1.pdf")
    assert (refused.status_code, refused.json()["code"]) == (409, "not_on_hold")
    hold_lot(lot_code="M1", stamp=stamp_at(owner, reason="Eyes fall off"))
    tag = printed(api, "holds/m1.pdf")
    assert "HOLD" in words(tag)
    assert symbols(rendered(tag, dpi=203)) == [("DataMatrix", "M1")]


def test_shelf_labels_are_printed_for_places_and_items(api: APIClient, minnows: Lot) -> None:
    place = printed(api, "places/shelf.pdf?stock=2x1")
    item = printed(api, "items/minnow.pdf")
    assert symbols(rendered(place, dpi=203)) == [("DataMatrix", "SHELF")]
    assert symbols(rendered(item, dpi=203)) == [("DataMatrix", "MINNOW")]


def test_a_count_sheet_says_what_to_count_and_not_how_much(api: APIClient, minnows: Lot) -> None:
    sheet = printed(api, "counts/SHELF.pdf?stock=a4")
    assert symbols(rendered(sheet, dpi=203)) == [("DataMatrix", "M1"), ("DataMatrix", "SHELF")]
    assert "100" not in words(sheet)


def test_a_packing_list_is_printed_for_a_shipment(
    api: APIClient, owner: User, minnows: Lot
) -> None:
    create_customer(code="HEN", name="A test customer", stamp=stamp_at(owner))
    sent = ship(customer_code="HEN", lots=[LooseLot("M1", 5, price_micro=0)], stamp=stamp_at(owner))
    paper = printed(api, f"shipments/{sent.code}.pdf")
    said = words(paper)
    assert all(part in said for part in ("A test customer", "In no box", "Minnow 90", "M1.1"))


@pytest.mark.parametrize("kind", ["holds", "places", "items", "counts"])
def test_a_paper_of_nothing_is_a_problem(api: APIClient, kind: str) -> None:
    answer = api.get(f"{LABELS}/{kind}/NOTHING.pdf")
    assert (answer.status_code, answer.json()["code"]) == (404, "not_found")
    assert answer.json()["facts"] == {"codes": ["NOTHING"], "missing": 1}


def test_what_is_no_code_of_a_shipment_is_a_problem(api: APIClient, owner: User) -> None:
    assert (
        api.get(f"{LABELS}/shipments/{encode(7, Prefix.LOT)}.pdf").json()["code"]
        == "wrong_kind_of_code"
    )

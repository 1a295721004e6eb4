"""What to order today: by supplier, as a page, ordered in one step, as papers to send."""

from __future__ import annotations

import csv
from typing import Any

import pypdfium2
import pytest
from django.test import Client

from inventory.purchasing.models import SupplierOrder
from shopfloor.models import User
from tests.batches import floor

SUGGESTED = "planning/suggested-orders/"
KEY = "a-form-of-this-test"


def offer(api: floor.Caller, supplier: str, item: str, point: str, **more: Any) -> None:
    """Something offered in packs of 100, and watched from a point that a person set."""
    pack = {"amount": "100", "unit": "each"}
    body = {
        "supplier": supplier,
        "item": item,
        "pack": pack,
        "lead_time_days": 20,
        "prices": [{"packs_from": 1, "pack_price": "8"}, {"packs_from": 10, "pack_price": "7"}],
    }
    assert api.post("offers/", {**body, **more}).status_code == 201
    policy = {"reorder_point": {"amount": point, "unit": "each"}, "is_watched": True}
    assert api.post(f"reorder/{item}/policy/", policy).status_code in {200, 201}


@pytest.fixture
def two_due(api: floor.Caller) -> floor.Caller:
    """Hooks and eyes of one supplier and rings of another; none of them is on hand."""
    for code in ("NORTH", "SOUTH"):
        api.post("suppliers/", {"code": code, "name": f"Supplier {code}"})
    offer(api, "NORTH", "HOOK-6", "450", supplier_item_number="N-77")
    offer(api, "NORTH", "EYE", "0")  # nothing is needed of what nobody uses
    offer(api, "SOUTH", "RING", "1200")
    return api


def test_what_is_due_stands_by_supplier_with_its_packs_and_the_next_price(
    two_due: floor.Caller,
) -> None:
    orders = two_due.get(SUGGESTED).json()["orders"]
    lines = {
        order["supplier"]: [(line["item"], line["packs"], line["value"]) for line in order["lines"]]
        for order in orders
    }
    assert lines == {"NORTH": [("HOOK-6", 5, "40.00")], "SOUTH": [("RING", 12, "84.00")]}
    hook = next(order for order in orders if order["supplier"] == "NORTH")["lines"][0]
    assert (hook["is_due"], hook["supplier_item_number"]) == (True, "N-77")
    assert (hook["next_price_from"], hook["next_price"]) == (10, "7.00")


def test_all_of_it_is_ordered_in_one_step_and_once(two_due: floor.Caller) -> None:
    body = {
        "note": "before Friday",
        "lines": [
            {"supplier": "NORTH", "item": "HOOK-6", "packs": 10},
            {"supplier": "SOUTH", "item": "RING", "packs": 12},
        ],
    }
    first = two_due.post(SUGGESTED, body, key=KEY)
    again = two_due.post(SUGGESTED, body, key=KEY)
    assert (first.status_code, again.json()) == (201, first.json())
    ordered = [(order["supplier"], order["note"]) for order in first.json()["orders"]]
    assert ordered == [("NORTH", "before Friday"), ("SOUTH", "before Friday")]
    assert SupplierOrder.objects.count() == 2
    assert two_due.get(SUGGESTED).json()["orders"] == []


@pytest.mark.parametrize(
    ("line", "status"),
    [
        ({"supplier": "NORTH", "item": "RING", "packs": 5}, 422),  # not offered there
        ({"supplier": "NORTH", "item": "HOOK-6", "packs": 0}, 422),
        ({"supplier": "EAST", "item": "HOOK-6", "packs": 5}, 404),
        ({"supplier": "SOUTH", "item": "RING", "packs": 12}, 422),  # a second time
    ],
)
def test_of_lines_one_of_which_is_wrong_nothing_is_ordered(
    two_due: floor.Caller, line: dict[str, Any], status: int
) -> None:
    good = {"supplier": "SOUTH", "item": "RING", "packs": 12}
    refused = two_due.post(SUGGESTED, {"lines": [good, line]})
    assert refused.status_code == status, refused.json()
    assert not SupplierOrder.objects.exists()


def test_a_page_offers_it_and_orders_what_is_ticked(two_due: floor.Caller, lead: User) -> None:
    desk = Client()
    desk.force_login(lead)
    page = desk.get(f"/{SUGGESTED}").content.decode()
    assert 'value="NORTH/HOOK-6" aria-label="Order HOOK-6" checked' in page
    form = {"idempotency_key": KEY, "tick": "NORTH/HOOK-6", "packs/NORTH/HOOK-6": "six"}
    wrong = desk.post(f"/{SUGGESTED}", form)
    assert wrong.status_code == 422
    assert 'value="six"' in wrong.content.decode()
    done = desk.post(f"/{SUGGESTED}", {**form, "packs/NORTH/HOOK-6": "6"})
    order = SupplierOrder.objects.get()
    assert done["Location"] == "/supplier-orders/"
    assert [(line.item.code, line.packs) for line in order.lines.all()] == [("HOOK-6", 6)]


def test_packs_that_are_none_are_said_at_their_line(two_due: floor.Caller, lead: User) -> None:
    client = Client()
    client.force_login(lead)
    form = {
        "idempotency_key": KEY,
        "tick": ["SOUTH/RING"],
        "packs/NORTH/HOOK-6": "5",
        "packs/SOUTH/RING": "-3",
    }
    page = client.post(f"/{SUGGESTED}", form)
    html = page.content.decode()
    assert page.status_code == 422
    assert html.count("Write whole packs, 1 or more.") == 1
    assert 'value="-3" inputmode="numeric" aria-label="Packs of RING" aria-invalid="true"' in html
    assert not SupplierOrder.objects.exists()


def test_an_order_is_a_paper_and_a_sheet_to_send(two_due: floor.Caller) -> None:
    lines = [{"supplier": "NORTH", "item": "HOOK-6", "packs": 6}]
    code = two_due.post(SUGGESTED, {"lines": lines}).json()["orders"][0]["code"]
    paper = two_due.client.get(f"/api/v1/labels/supplier-orders/{code}.pdf")
    text = pypdfium2.PdfDocument(paper.content)[0].get_textpage().get_text_bounded()
    assert f"Order {code}" in text
    assert "N-77" in text
    assert "48.00 USD" in text
    sheet: Any = two_due.client.get(f"/api/v1/supplier-order-lines/?order={code}&format=csv")
    text = b"".join(sheet.streaming_content).decode("utf-8-sig")
    (shown,) = csv.DictReader(text.splitlines())
    assert (shown["item"], shown["packs"], shown["supplier_item_number"]) == ("HOOK-6", "6", "N-77")


def test_lines_still_to_come_are_listed_until_their_order_is_closed(
    two_due: floor.Caller,
) -> None:
    lines = [{"supplier": "NORTH", "item": "HOOK-6", "packs": 6}]
    code = two_due.post(SUGGESTED, {"lines": lines}).json()["orders"][0]["code"]
    expected = "supplier-order-lines/?is_expected=true"
    assert [row["order"] for row in two_due.get(expected).json()["results"]] == [code]
    two_due.post(f"supplier-orders/{code}/close/", {"reason": "they stopped making them"})
    assert two_due.get(expected).json()["count"] == 0

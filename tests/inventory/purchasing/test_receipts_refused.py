"""Deliveries that are refused: then nothing of them comes in."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from django.utils import timezone

from inventory.catalog.models import Item, Supplier
from inventory.catalog.operations import (
    change_item,
    change_place,
    change_supplier,
    create_supplier,
)
from inventory.purchasing.errors import DateImpossibleError
from inventory.purchasing.models import Receipt, SupplierOrder
from inventory.purchasing.operations import (
    close_supplier_order,
)
from inventory.stock.models import Lot, Posting
from inventory.stock.operations import close_books
from shopfloor.models import User
from tests.inventory.conftest import LATER, NOON, stamp_at
from tests.inventory.purchasing.conftest import (
    Calling,
    delivery,
    hooks,
    receive,
)


@pytest.mark.parametrize(
    ("fields", "status", "code"),
    [
        ({"amount": "0"}, 422, "amount_not_positive"),
        ({"amount": "0.1", "unit": "g"}, 422, "amount_not_positive"),
        ({"amount": "-1"}, 422, "invalid_input"),
        ({"amount": "ten"}, 422, "invalid_input"),
        ({"amount": "NaN"}, 422, "invalid_input"),
        ({"amount": "Infinity"}, 422, "invalid_input"),
        ({"amount": "12345678901234567890"}, 422, "invalid_input"),
        ({"amount": "1e15", "unit": "dozen"}, 422, "amount_too_large"),
        ({"amount": 1.5}, 422, "invalid_input"),
        ({"amount": "1.5"}, 422, "fraction_of_piece"),
        ({"amount": None}, 422, "invalid_input"),
        ({"unit": "L"}, 422, "unit_mismatch"),
        ({"unit": "box"}, 422, "invalid_input"),
        ({"unit": None}, 422, "invalid_input"),
        ({"value": "-0.01"}, 422, "invalid_input"),
        ({"value": "1.0000001"}, 422, "invalid_input"),
        ({"value": "1e10"}, 422, "invalid_input"),
        ({"value": "NaN"}, 422, "invalid_input"),
        ({"lot_code": "L-2345"}, 422, "own_code_refused"),
        ({"lot_code": "LOT 1"}, 422, "invalid_input"),
        ({"lot_code": "X" * 25}, 422, "own_code_refused"),
        ({"supplier_lot_code": "x" * 61}, 422, "invalid_input"),
        ({"supplier_lot_code": "x\x00"}, 422, "invalid_input"),
        ({"expires_on": "2026-03-01"}, 422, "expiry_before_receipt"),
        ({"expires_on": "2200-01-01"}, 422, "invalid_input"),
        ({"expires_on": "20300101"}, 422, "invalid_input"),
        ({"expires_on": "never"}, 422, "invalid_input"),
        ({"place": "NOWHERE"}, 404, "not_found"),
        ({"disposition": "held"}, 422, "invalid_input"),
        ({"owner": "A customer"}, 422, "value_of_others"),
        ({"order_line": 1}, 422, "order_line"),
        ({"order_line": 0}, 422, "invalid_input"),
        ({"item": "NOTHING"}, 404, "not_found"),
        ({"lot": "X1"}, 422, "invalid_input"),
    ],
)
def test_a_line_that_cannot_be_meant_is_refused_and_nothing_comes_in(
    calling: Calling,
    lead: User,
    supplier: Supplier,
    hook: Item,
    fields: dict[str, Any],
    status: int,
    code: str,
) -> None:
    refused = calling(lead).post("receipts/", delivery(**fields))
    assert (refused.status_code, refused.json()["code"]) == (status, code), refused.json()
    assert (Lot.objects.count(), Receipt.objects.count(), Posting.objects.count()) == (0, 0, 0)


@pytest.mark.parametrize(
    ("fields", "status", "code"),
    [
        ({"supplier": "NOBODY"}, 404, "not_found"),
        ({"order": "F-2222"}, 404, "not_found"),
        ({"lines": []}, 422, "invalid_input"),
        ({"delivery_note": "x" * 61}, 422, "invalid_input"),
        ({"at": "2026-03-02T12:00:00"}, 422, "invalid_input"),
        ({"at": "1999-03-02T12:00:00Z"}, 422, "invalid_input"),
        ({"date": "2026-03-02"}, 422, "invalid_input"),
    ],
)
def test_a_delivery_that_cannot_be_meant_is_refused(
    calling: Calling,
    lead: User,
    supplier: Supplier,
    hook: Item,
    fields: dict[str, Any],
    status: int,
    code: str,
) -> None:
    refused = calling(lead).post("receipts/", {**delivery(), **fields})
    assert (refused.status_code, refused.json()["code"]) == (status, code)
    assert not Lot.objects.exists()


def test_nothing_lasts_two_hundred_years_whichever_way_it_comes_in(
    lead: User, supplier: Supplier, hook: Item
) -> None:
    with pytest.raises(DateImpossibleError):
        receive(lead, hooks(1, value_micro=0, expires_on=date(2200, 1, 1)))
    receive(lead, hooks(1, value_micro=0, expires_on=date(2199, 12, 31)))


@pytest.mark.parametrize("left_out", ["item", "amount", "unit"])
def test_a_line_says_what_and_how_much_in_which_unit(
    calling: Calling, lead: User, supplier: Supplier, hook: Item, left_out: str
) -> None:
    body = delivery()
    del body["lines"][0][left_out]
    refused = calling(lead).post("receipts/", body)
    assert (refused.status_code, refused.json()["code"]) == (422, "invalid_input")
    assert left_out in str(refused.json()["facts"]["fields"])


def test_nothing_comes_tomorrow(
    calling: Calling, lead: User, supplier: Supplier, hook: Item
) -> None:
    tomorrow = (timezone.now() + timedelta(days=1)).isoformat()
    refused = calling(lead).post("receipts/", {**delivery(), "at": tomorrow})
    assert (refused.status_code, refused.json()["code"]) == (422, "time_in_future")


def test_a_lot_code_is_given_once(
    calling: Calling, lead: User, supplier: Supplier, hook: Item
) -> None:
    caller = calling(lead)
    body = delivery(lot_code="MINE")
    twice = caller.post("receipts/", {**body, "lines": body["lines"] * 2})
    assert (twice.status_code, twice.json()["code"]) == (422, "stands_twice")
    assert caller.post("receipts/", body).status_code == 201
    again = caller.post("receipts/", delivery(lot_code="mine"))
    assert (again.status_code, again.json()["code"]) == (409, "duplicate_code")
    assert again.json()["facts"] == {"codes": ["MINE"]}
    assert Lot.objects.count() == 1


def test_what_is_out_of_use_does_not_come_in(
    calling: Calling, lead: User, supplier: Supplier, hook: Item
) -> None:
    for change, code in (
        (change_item, "HOOK-6"),
        (change_supplier, "HOOKS"),
        (change_place, "SHELF-A"),
    ):
        change(code=code, fields={"is_active": False}, by=lead, at=LATER)
        refused = calling(lead).post("receipts/", delivery())
        assert (refused.status_code, refused.json()["code"]) == (409, "not_active")
        assert refused.json()["facts"] == {"code": code}
        change(code=code, fields={"is_active": True}, by=lead, at=LATER)
    assert calling(lead).post("receipts/", delivery()).status_code == 201


def test_an_item_without_a_storage_place_needs_a_place(
    calling: Calling, lead: User, supplier: Supplier, hook: Item
) -> None:
    change_item(code="HOOK-6", fields={"storage_place": None}, by=lead, at=LATER)
    refused = calling(lead).post("receipts/", delivery())
    assert (refused.status_code, refused.json()["code"]) == (422, "place_missing")
    assert calling(lead).post("receipts/", delivery(place="SHELF-A")).status_code == 201


def test_the_order_of_another_supplier_or_of_a_later_day_is_refused(
    calling: Calling, lead: User, order: SupplierOrder
) -> None:
    create_supplier(code="BENDERS", fields={"name": "Another"}, by=lead, at=NOON)
    other = calling(lead).post(
        "receipts/", {**delivery(), "supplier": "BENDERS", "order": order.code}
    )
    assert (other.status_code, other.json()["code"]) == (422, "wrong_supplier")
    early = {**delivery(), "order": order.code, "at": "2026-01-04T23:59:59-06:00"}
    refused = calling(lead).post("receipts/", early)
    assert (refused.status_code, refused.json()["code"]) == (422, "date_impossible")
    same_day = {**early, "at": "2026-01-05T00:00:00-06:00"}
    assert calling(lead).post("receipts/", same_day).status_code == 201


@pytest.mark.parametrize("order_line", [2, 999_999_999])
def test_a_line_that_the_order_lacks_is_refused(
    calling: Calling, lead: User, order: SupplierOrder, order_line: int
) -> None:
    body = {**delivery(order_line=order_line), "order": order.code}
    refused = calling(lead).post("receipts/", body)
    assert (refused.status_code, refused.json()["code"]) == (422, "order_line")
    assert refused.json()["facts"]["order_lines"] == [1]


def test_the_order_line_of_another_item_is_refused(
    calling: Calling, lead: User, order: SupplierOrder, resin: Item
) -> None:
    body = {**delivery(item="RESIN", unit="lb", order_line=1), "order": order.code}
    refused = calling(lead).post("receipts/", body)
    assert (refused.status_code, refused.json()["code"]) == (422, "order_line")


def test_nothing_comes_on_an_order_that_is_closed(
    calling: Calling, lead: User, order: SupplierOrder
) -> None:
    close_supplier_order(order_code=order.code, stamp=stamp_at(lead, reason="sold out"))
    refused = calling(lead).post("receipts/", {**delivery(), "order": order.code})
    assert (refused.status_code, refused.json()["code"]) == (409, "order_not_open")
    assert refused.json()["facts"]["state"] == "closed"


def test_the_books_are_not_opened_for_a_late_receipt(
    calling: Calling, owner: User, lead: User, supplier: Supplier, hook: Item
) -> None:
    close_books(through=date(2026, 3, 2), stamp=stamp_at(owner, LATER))
    refused = calling(lead).post("receipts/", delivery())
    assert (refused.status_code, refused.json()["code"]) == (409, "books_closed")

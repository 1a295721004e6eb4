"""Deliveries: what comes in, what it is worth, when it expires, and what is refused."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

from inventory.catalog.models import Item, Offer, Place, Supplier
from inventory.catalog.operations import (
    change_item,
    change_place,
    change_supplier,
    create_item,
    create_supplier,
)
from inventory.purchasing.models import Receipt, SupplierOrder
from inventory.purchasing.operations import (
    close_supplier_order,
    place_supplier_order,
    reverse_receipt,
)
from inventory.purchasing.selectors import LeadTime, lead_times_days
from inventory.purchasing.steps import OrderLineDraft, ReceiptLineDraft
from inventory.stock.models import Lot, Posting
from inventory.stock.operations import close_books, dispose_of_lot, split_off
from shopfloor.codes.alphabet import Prefix, encode
from shopfloor.days import day_end
from shopfloor.models import User
from tests.inventory.conftest import LATER, NOON, Caller, stamp_at
from tests.inventory.purchasing.conftest import (
    ORDERED_ON,
    each,
    hooks,
    lots_of,
    moved,
    receive,
)

Calling = Callable[[User], Caller]

AT = "2026-03-02T12:00:00-06:00"


def delivery(**fields: Any) -> dict[str, Any]:
    line = {"item": "hook-6", "amount": "1000", "unit": "each", "value": "45", **fields}
    return {"supplier": "hooks", "at": AT, "lines": [line]}


def test_a_delivery_makes_a_lot_a_line_in_one_posting(
    calling: Calling, packer: User, viewer: User, supplier: Supplier, hook: Item, incoming: Place
) -> None:
    body = {
        "supplier": "hooks",
        "at": AT,
        "delivery_note": "DN 4711",
        "lines": [
            {"item": "HOOK-6", "amount": "7", "unit": "gross", "value": "45.36"},
            {
                "item": "HOOK-6",
                "amount": "350",
                "unit": "g",
                "value": "0",
                "lot_code": "hooks-b",
                "supplier_lot_code": "b/77 x",
                "expires_on": "2026-03-02",
                "place": "incoming",
                "disposition": "quarantined",
            },
        ],
    }
    came = calling(packer).post("receipts/", body)
    assert came.status_code == 201, came.json()
    receipt = came.json()
    made, given = receipt["lines"]
    assert (receipt["code"][:2], receipt["posting"][:2]) == ("R-", "P-")
    assert (receipt["at"], receipt["by"], receipt["order"]) == (
        "2026-03-02T18:00:00Z",
        "packer",
        None,
    )
    assert made == {
        "lot": made["lot"],
        "item": "HOOK-6",
        "amount": {"amount": "1008", "unit": "each"},
        "value": "45.36",
        "supplier_lot_code": "",
        "expires_at": None,
        "place": "SHELF-A",
        "disposition": "released",
        "owner": "",
        "order_line": None,
    }
    assert (given["lot"], given["amount"]["amount"], given["value"]) == ("HOOKS-B", "1000", "0.00")
    assert (given["supplier_lot_code"], given["place"]) == ("b/77 x", "INCOMING")
    # The last second of 2 March in Chicago, UTC-6 in winter.
    assert (given["expires_at"], given["disposition"]) == ("2026-03-03T05:59:59Z", "quarantined")
    assert calling(viewer).get(f"receipts/{receipt['code']}/").json() == receipt
    posting = Posting.objects.get()
    assert (posting.kind, posting.outside_kind, posting.outside_micro) == (
        "received",
        "purchase",
        45_360_000,
    )
    assert (posting.document_kind, posting.document_code) == ("delivery_note", "DN 4711")
    lot = Lot.objects.get(code=made["lot"])
    assert lot.supplier == supplier
    assert (lot.on_hand_base, lot.value_micro) == (1008, 45_360_000)


def test_part_deliveries_close_the_line_once_all_came_and_are_worth_its_price_together(
    calling: Calling, molder: User, order: SupplierOrder
) -> None:
    caller = calling(molder)
    lines = [
        caller.post("receipts/", {**delivery(amount=amount), "order": order.code}).json()["lines"][
            0
        ]
        for amount in ("1", "1998", "3001")
    ]
    assert [line["order_line"]["received_before"]["amount"] for line in lines] == ["0", "1", "1999"]
    assert [line["order_line"]["received_now"]["amount"] for line in lines] == ["1", "1998", "3001"]
    assert lines[2]["order_line"]["ordered"] == {"amount": "5000", "unit": "each"}
    shown = caller.get(f"supplier-orders/{order.code}/").json()
    assert shown["state"] == "closed"
    assert shown["lines"][0]["is_closed"] is True
    assert len(shown["receipts"]) == 3


def test_the_price_of_the_order_line_values_what_comes(lead: User, order: SupplierOrder) -> None:
    # 5 packs of 1,000 at 40.00.
    first = receive(lead, hooks(1), hooks(2), order=order)
    rest = receive(lead, hooks(4997), order=order)
    assert moved(lots_of(first)) == [(1, 40_000), (2, 80_000)]
    assert moved(lots_of(rest)) == [(4997, 199_880_000)]


def test_more_than_ordered_is_taken_in_and_shown(
    calling: Calling, lead: User, order: SupplierOrder
) -> None:
    body = delivery(amount="5001")
    del body["lines"][0]["value"]
    came = calling(lead).post("receipts/", {**body, "order": order.code})
    assert came.status_code == 201, came.json()
    assert came.json()["order_state"] == "closed"
    assert came.json()["lines"][0]["value"] == "200.04"
    assert came.json()["lines"][0]["order_line"] == {
        "line": 1,
        "ordered": {"amount": "5000", "unit": "each"},
        "received_before": {"amount": "0", "unit": "each"},
        "received_now": {"amount": "5001", "unit": "each"},
        "is_over": True,
    }
    line = calling(lead).get(f"supplier-orders/{order.code}/").json()["lines"][0]
    assert (line["received"]["amount"], line["open"]["amount"]) == ("5001", "0")


def test_one_less_than_ordered_leaves_the_order_open(lead: User, order: SupplierOrder) -> None:
    receive(lead, hooks(4999), order=order)
    order.refresh_from_db()
    assert (order.state, order.lines.get().is_closed) == ("open", False)
    receive(lead, hooks(1), order=order)
    order.refresh_from_db()
    assert (order.state, order.lines.get().is_closed) == ("closed", True)


def test_something_the_order_does_not_have_comes_along_and_needs_a_value(
    calling: Calling, lead: User, order: SupplierOrder, resin: Item
) -> None:
    body = {**delivery(item="RESIN", unit="lb"), "order": order.code}
    came = calling(lead).post("receipts/", body)
    assert (came.json()["lines"][0]["order_line"], came.json()["order_state"]) == (None, "open")
    del body["lines"][0]["value"]
    refused = calling(lead).post("receipts/", body)
    assert (refused.status_code, refused.json()["code"]) == (422, "price_missing")


def test_which_line_is_asked_where_the_order_has_the_item_twice(
    calling: Calling, lead: User, hook_offer: Offer
) -> None:
    order = place_supplier_order(
        supplier_code="HOOKS",
        lines=[OrderLineDraft(item_code="HOOK-6", packs=1)] * 2,
        ordered_on=ORDERED_ON,
        stamp=stamp_at(lead),
    )
    body = {**delivery(), "order": order.code}
    refused = calling(lead).post("receipts/", body)
    assert (refused.json()["code"], refused.json()["facts"]["order_lines"]) == (
        "order_line",
        [1, 2],
    )
    body["lines"][0]["order_line"] = 2
    assert calling(lead).post("receipts/", body).json()["lines"][0]["order_line"]["line"] == 2
    closed = calling(lead).post("receipts/", body)
    assert (closed.status_code, closed.json()["code"]) == (409, "order_not_open")


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
        ({"expires_on": "2200-01-01"}, 422, "date_impossible"),
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


def test_a_lot_of_a_customer_has_no_value_and_answers_no_order(
    calling: Calling, lead: User, order: SupplierOrder
) -> None:
    body = delivery(owner="A customer")
    del body["lines"][0]["value"]
    came = calling(lead).post("receipts/", {**body, "order": order.code})
    line = came.json()["lines"][0]
    assert (line["owner"], line["value"], line["order_line"]) == ("A customer", "0.00", None)
    body["lines"][0]["order_line"] = 1
    refused = calling(lead).post("receipts/", {**body, "order": order.code})
    assert (refused.status_code, refused.json()["code"]) == (422, "value_of_others")


def test_what_waits_for_a_test_is_never_received_as_released(
    calling: Calling, lead: User, supplier: Supplier, paint: Item
) -> None:
    body = delivery(item="PAINT-RED", amount="1", unit="L")
    came = calling(lead).post("receipts/", body)
    assert came.json()["lines"][0]["disposition"] == "quarantined"
    body["lines"][0]["disposition"] = "released"
    refused = calling(lead).post("receipts/", body)
    assert (refused.status_code, refused.json()["code"]) == (422, "arrives_quarantined")


def test_the_shelf_life_counts_from_the_shops_day_of_the_delivery(
    calling: Calling, lead: User, supplier: Supplier, paint: Item
) -> None:
    body = delivery(item="PAINT-RED", amount="1", unit="L")
    # 11 in the evening of 2 March at the shop is 3 March in UTC; the 180th day after is 29 August.
    body["at"] = "2026-03-03T05:00:00Z"
    came = calling(lead).post("receipts/", body)
    lot = Lot.objects.get(code=came.json()["lines"][0]["lot"])
    assert lot.expires_at == day_end(date(2026, 8, 29))
    # The suppliers's own day is taken before the shelf life, the day of the delivery at the least.
    body["lines"][0]["expires_on"] = "2026-03-02"
    came = calling(lead).post("receipts/", body)
    assert came.json()["lines"][0]["expires_at"] == "2026-03-03T05:59:59Z"


def test_a_weight_of_something_kept_by_volume_comes_in_by_its_density(
    lead: User, calling: Calling, supplier: Supplier, paint: Item
) -> None:
    came = calling(lead).post("receipts/", delivery(item="PAINT-RED", amount="250", unit="g"))
    assert came.json()["lines"][0]["amount"] == {"amount": "200", "unit": "mL"}


def test_the_books_are_not_opened_for_a_late_receipt(
    calling: Calling, owner: User, lead: User, supplier: Supplier, hook: Item
) -> None:
    close_books(through=date(2026, 3, 2), stamp=stamp_at(owner, LATER))
    refused = calling(lead).post("receipts/", delivery())
    assert (refused.status_code, refused.json()["code"]) == (409, "books_closed")


def test_the_same_delivery_sent_twice_comes_in_once(
    calling: Calling, molder: User, supplier: Supplier, hook: Item
) -> None:
    first, again = (calling(molder).post("receipts/", delivery(), key="k") for _ in range(2))
    assert first.json() == again.json()
    assert Lot.objects.count() == 1
    keyless = calling(molder).client.post("/api/v1/receipts/", delivery(), format="json")
    assert (keyless.status_code, keyless.json()["code"]) == (400, "idempotency_key_missing")


def test_everybody_who_writes_receives_and_viewers_do_not(
    calling: Calling,
    owner: User,
    lead: User,
    molder: User,
    packer: User,
    viewer: User,
    supplier: Supplier,
    hook: Item,
) -> None:
    for person in (owner, lead, molder, packer):
        assert calling(person).post("receipts/", delivery()).status_code == 201
    assert calling(viewer).post("receipts/", delivery()).status_code == 403
    assert calling(viewer).post("receipts/R-2222/reverse/", {"reason": "x"}).status_code == 403
    assert calling(viewer).get("receipts/").json()["count"] == 4


def test_any_number_of_lots_takes_the_same_few_statements(
    lead: User, order: SupplierOrder, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    few = [hooks(10, order_position=1, lot_code=f"A{number}") for number in range(2)]
    many = [hooks(10, order_position=1, lot_code=f"B{number}") for number in range(40)]
    # Eleven, and two of the savepoint that stands for the transaction. SQLite takes 999 values a
    # statement, so beyond some 60 lots it gets them in parts.
    with django_assert_num_queries(13):
        receive(lead, *few, order=order)
    with django_assert_num_queries(13):
        receive(lead, *many, order=order)


def test_a_receipt_is_reversed_and_its_order_line_is_open_again(
    calling: Calling, lead: User, molder: User, order: SupplierOrder
) -> None:
    first = receive(lead, hooks(4000), order=order)
    second = receive(lead, hooks(1000), order=order)
    reversed_ = calling(molder).post(f"receipts/{second.code}/reverse/", {"reason": "900 came"})
    assert reversed_.status_code == 200, reversed_.json()
    assert reversed_.json()["reversed_by"][:2] == "P-"
    assert reversed_.json()["order_state"] == "open"
    assert moved(lots_of(second)) == [(1000, 40_000_000), (-1000, -40_000_000)]
    line = calling(molder).get(f"supplier-orders/{order.code}/").json()["lines"][0]
    assert (line["received"]["amount"], line["open"]["amount"], line["is_closed"]) == (
        "4000",
        "1000",
        False,
    )
    again = calling(molder).post(f"receipts/{second.code}/reverse/", {"reason": "again"})
    assert (again.status_code, again.json()["code"]) == (409, "not_reversible")
    right = receive(lead, hooks(900), order=order)
    assert moved(lots_of(right)) == [(900, 36_000_000)]
    assert moved(lots_of(first)) == [(4000, 160_000_000)]


def test_a_receipt_is_not_reversed_once_something_of_it_was_used(
    calling: Calling, lead: User, order: SupplierOrder
) -> None:
    came = receive(lead, hooks(100), order=order)
    lot = lots_of(came)[0]
    dispose_of_lot(lot_code=lot.code, qty_base=1, stamp=stamp_at(lead, LATER, reason="rusted"))
    refused = calling(lead).post(f"receipts/{came.code}/reverse/", {"reason": "wrong"})
    assert (refused.status_code, refused.json()["code"]) == (409, "not_reversible")
    assert refused.json()["facts"]["stands_in_the_way"][0]["lot"] == lot.code


@pytest.mark.parametrize(
    ("code", "status", "problem"),
    [
        ("R-2222", 422, "code_typo"),
        (encode(1, Prefix.SUPPLIER_ORDER), 422, "wrong_kind_of_code"),
        (encode(1, Prefix.RECEIPT), 404, "not_found"),
        ("receipt", 422, "code_typo"),
        ("7", 422, "code_unreadable"),
    ],
)
def test_what_is_no_receipt_is_not_reversed(
    calling: Calling, lead: User, code: str, status: int, problem: str
) -> None:
    refused = calling(lead).post(f"receipts/{code}/reverse/", {"reason": "x"})
    assert (refused.status_code, refused.json()["code"]) == (status, problem)
    assert calling(lead).get(f"receipts/{code}/").status_code == status


def test_a_reversal_says_why(calling: Calling, lead: User, order: SupplierOrder) -> None:
    came = receive(lead, hooks(1), order=order)
    refused = calling(lead).post(f"receipts/{came.code}/reverse/", {"reason": " "})
    assert (refused.status_code, refused.json()["code"]) == (422, "invalid_input")


def test_receipts_are_filtered_and_searched(
    calling: Calling, lead: User, viewer: User, order: SupplierOrder
) -> None:
    first = receive(lead, hooks(1, supplier_lot_code="b77"), order=order)
    second = receive(lead, hooks(1, value_micro=0), at=NOON + timedelta(days=1))
    reverse_receipt(receipt_code=second.code, stamp=stamp_at(lead, LATER, reason="wrong"))

    def codes(**query: str) -> list[str]:
        found = calling(viewer).get("receipts/", **query).json()
        return [row["code"] for row in found["results"]]

    assert codes() == [second.code, first.code]
    assert codes(order=order.code.lower()) == [first.code]
    assert codes(is_reversed="true") == [second.code]
    assert codes(is_reversed="false") == [first.code]
    assert codes(item="hook-6", supplier="HOOKS", search="b77") == [first.code]
    assert codes(at_after="2026-03-03T00:00:00Z") == [second.code]


def test_a_page_of_receipts_takes_three_queries(
    calling: Calling,
    lead: User,
    order: SupplierOrder,
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    for _ in range(3):
        receive(lead, hooks(1), hooks(2), order=order)
    with django_assert_num_queries(3):
        assert calling(lead).get("receipts/").json()["count"] == 3


def test_lead_times_are_days_from_the_order_to_the_first_delivery_that_stands(
    lead: User, order: SupplierOrder, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    line = order.lines.get()
    assert lead_times_days() == []
    wrong = receive(lead, hooks(1), order=order)
    reverse_receipt(receipt_code=wrong.code, stamp=stamp_at(lead, LATER, reason="wrong"))
    assert lead_times_days() == []
    # 11 in the evening of 16 March at the shop is 17 March in UTC; 70 days after 5 January.
    receive(lead, hooks(100), at=NOON.replace(day=17, hour=4), order=order)
    receive(lead, hooks(4900), at=NOON + timedelta(days=20), order=order)
    with django_assert_num_queries(1):
        assert lead_times_days() == [LeadTime(line.item_id, order.supplier_id, 70)]


def test_what_came_as_part_of_a_lot_is_still_a_lot_of_its_supplier(
    lead: User, supplier: Supplier, hook: Item
) -> None:
    lot = lots_of(receive(lead, hooks(100, value_micro=100)))[0]
    part = split_off(lot_code=lot.code, qty_base=40, stamp=stamp_at(lead, LATER))
    assert part.supplier_id == supplier.pk


def test_an_item_with_no_shelf_life_does_not_expire(
    lead: User, supplier: Supplier, shelf: Place
) -> None:
    create_item(
        code="RINGS",
        fields={
            "name": "Split rings",
            "kind": "split_ring",
            "dimension": "count",
            "display_unit": "each",
            "storage_place": "SHELF-A",
        },
        by=lead,
        at=NOON,
    )
    came = receive(lead, ReceiptLineDraft(item_code="RINGS", amount=each(1), value_micro=0))
    assert lots_of(came)[0].expires_at is None

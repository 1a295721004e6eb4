"""Deliveries: what comes in, what it is worth and when it expires."""

from __future__ import annotations

from datetime import date

from pytest_django import DjangoAssertNumQueries

from inventory.catalog.models import Item, Offer, Place, Supplier
from inventory.catalog.operations import (
    create_item,
)
from inventory.purchasing.models import SupplierOrder
from inventory.purchasing.operations import (
    place_supplier_order,
)
from inventory.purchasing.steps import OrderLineDraft, ReceiptLineDraft
from inventory.stock.models import Lot, Posting
from inventory.stock.operations import split_off
from shopfloor.days import day_end
from shopfloor.models import User
from tests.inventory.conftest import LATER, NOON, stamp_at
from tests.inventory.purchasing.conftest import (
    AT,
    ORDERED_ON,
    Calling,
    delivery,
    each,
    hooks,
    lots_of,
    moved,
    receive,
)


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


def test_the_same_delivery_sent_twice_comes_in_once(
    calling: Calling, molder: User, supplier: Supplier, hook: Item
) -> None:
    first, again = (calling(molder).post("receipts/", delivery(), key="k") for _ in range(2))
    assert first.json() == again.json()
    assert Lot.objects.count() == 1
    keyless = calling(molder).client.post("/api/v1/receipts/", delivery(), format="json")
    assert (keyless.status_code, keyless.json()["code"]) == (400, "idempotency_key_missing")


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

"""Deliveries: who writes and reads them, the list, and the lead times they show."""

from __future__ import annotations

from datetime import timedelta

from pytest_django import DjangoAssertNumQueries

from inventory.catalog.models import Item, Supplier
from inventory.purchasing.models import SupplierOrder
from inventory.purchasing.operations import (
    reverse_receipt,
)
from inventory.purchasing.selectors import LeadTime, lead_times_days
from shopfloor.models import User
from tests.inventory.conftest import LATER, NOON, stamp_at
from tests.inventory.purchasing.conftest import (
    Calling,
    delivery,
    hooks,
    receive,
)


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

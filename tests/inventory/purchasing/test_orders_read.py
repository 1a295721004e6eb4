"""Supplier orders: who reads them, the list, and what is on order."""

from __future__ import annotations

from datetime import date, timedelta

from pytest_django import DjangoAssertNumQueries

from inventory.catalog.models import Offer
from inventory.purchasing.models import SupplierOrder
from inventory.purchasing.operations import place_supplier_order
from inventory.purchasing.selectors import open_order_base
from inventory.purchasing.steps import OrderLineDraft
from shopfloor.models import User
from tests.inventory.conftest import stamp_at
from tests.inventory.purchasing.conftest import (
    FIVE_PACKS,
    ORDERED_ON,
    Calling,
    hooks,
    receive,
    with_line,
)


def test_only_owner_and_lead_order_and_everybody_reads(
    calling: Calling, molder: User, packer: User, viewer: User, order: SupplierOrder
) -> None:
    for person in (molder, packer, viewer):
        caller = calling(person)
        one = f"supplier-orders/{order.code}/"
        for address in ("supplier-orders/", f"{one}close/", f"{one}cancel/"):
            assert caller.post(address, FIVE_PACKS).status_code == 403
        assert caller.get("supplier-orders/").json()["count"] == 1
        assert caller.get(one).status_code == 200


def test_orders_are_filtered_and_searched(
    calling: Calling, lead: User, viewer: User, hook_offer: Offer
) -> None:
    first = calling(lead).post("supplier-orders/", FIVE_PACKS).json()["code"]
    second = calling(lead).post(
        "supplier-orders/", {**with_line(packs=1), "ordered_on": "2026-02-01", "note": "by phone"}
    )
    second_code = second.json()["code"]
    calling(lead).post(f"supplier-orders/{second_code}/cancel/", {"reason": "no"})

    def codes(**query: str) -> list[str]:
        found = calling(viewer).get("supplier-orders/", **query).json()
        return [row["code"] for row in found["results"]]

    assert codes() == [second_code, first]
    assert codes(ordering="ordered_on") == [first, second_code]
    assert codes(state="open") == [first]
    assert codes(item="hook-6", supplier="hooks") == [second_code, first]
    assert codes(ordered_on_after="2026-01-15") == [second_code]
    assert codes(search="phone") == [second_code]
    assert codes(open_promised_before="2026-03-16") == []
    assert codes(open_promised_before="2026-03-17") == [first]


def test_a_page_of_orders_takes_three_queries(
    calling: Calling,
    lead: User,
    order: SupplierOrder,
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    calling(lead).post("supplier-orders/", FIVE_PACKS)
    with django_assert_num_queries(3):
        assert calling(lead).get("supplier-orders/").json()["count"] == 2
    with django_assert_num_queries(3):
        calling(lead).get(f"supplier-orders/{order.code}/")


def test_what_is_on_order_is_what_is_still_to_come(
    lead: User,
    order: SupplierOrder,
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    hook_id = order.lines.get().item_id
    receive(lead, hooks(1200), order=order)
    place_supplier_order(
        supplier_code="HOOKS",
        lines=[OrderLineDraft(item_code="HOOK-6", packs=1)],
        ordered_on=date(2026, 3, 1),
        stamp=stamp_at(lead),
    )
    with django_assert_num_queries(1):
        assert open_order_base(on=date(2026, 3, 1)) == {hook_id: 3800 + 1000}
    assert open_order_base(on=date(2026, 2, 28)) == {hook_id: 3800}
    assert open_order_base(on=ORDERED_ON - timedelta(days=1)) == {}

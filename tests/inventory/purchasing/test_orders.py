"""Supplier orders: what is ordered, at which price, and what is refused."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

from inventory.catalog.models import Item, Offer, Supplier
from inventory.catalog.operations import change_item, change_offer, change_supplier, create_offer
from inventory.catalog.steps import PriceBreak
from inventory.purchasing.errors import DateImpossibleError
from inventory.purchasing.models import SupplierOrder
from inventory.purchasing.operations import place_supplier_order
from inventory.purchasing.steps import OrderLineDraft
from shopfloor.models import User
from tests.inventory.conftest import LATER, NOON, stamp_at
from tests.inventory.purchasing.conftest import (
    FIVE_PACKS,
    ORDERED_ON,
    Calling,
    each,
    with_line,
)


def test_an_order_takes_pack_and_price_from_the_offer(
    calling: Calling, lead: User, viewer: User, hook_offer: Offer
) -> None:
    placed = calling(lead).post("supplier-orders/", FIVE_PACKS)
    assert placed.status_code == 201, placed.json()
    body = placed.json()
    assert (body["code"][:2], body["state"], body["by"]) == ("F-", "open", "lead")
    assert (body["supplier"], body["supplier_name"]) == ("HOOKS", "The hook supplier")
    assert body["lines"] == [
        {
            "line": 1,
            "item": "HOOK-6",
            "packs": 5,
            "pack": {"amount": "1000", "unit": "each"},
            "pack_price": "40.00",
            "promised_on": "2026-03-16",
            "is_closed": False,
            "ordered": {"amount": "5000", "unit": "each"},
            "received": {"amount": "0", "unit": "each"},
            "open": {"amount": "5000", "unit": "each"},
        }
    ]
    assert calling(viewer).get(f"supplier-orders/{body['code'].lower()}/").json() == body


def test_fewer_packs_than_the_break_cost_more(
    calling: Calling, lead: User, hook_offer: Offer
) -> None:
    placed = calling(lead).post("supplier-orders/", with_line(packs=4))
    assert placed.json()["lines"][0]["pack_price"] == "45.00"


def test_pack_and_price_may_be_given_where_no_offer_says_them(
    calling: Calling, lead: User, supplier: Supplier, hook: Item, resin: Item
) -> None:
    body = {
        "supplier": "HOOKS",
        "code": "po-17",
        "lines": [
            {
                "item": "RESIN",
                "packs": 2,
                "pack": {"amount": "55", "unit": "lb"},
                "pack_price": "123.456789",
            },
            {
                "item": "HOOK-6",
                "packs": 1,
                "pack": {"amount": "1", "unit": "gross"},
                "pack_price": "0",
            },
        ],
    }
    placed = calling(lead).post("supplier-orders/", body)
    assert placed.status_code == 201, placed.json()
    assert placed.json()["code"] == "PO-17"
    resin_line, hook_line = placed.json()["lines"]
    # 55 lb = 24,947,580.35 mg (NIST SP 811: 453.59237 g a pound), kept as whole milligrams.
    assert SupplierOrder.objects.get().lines.get(position=1).pack_base == 24_947_580
    assert resin_line["pack_price"] == "123.456789"
    assert hook_line["ordered"] == {"amount": "144", "unit": "each"}


def test_the_preferred_offer_is_meant_where_a_supplier_has_several(
    lead: User, hook_offer: Offer
) -> None:
    create_offer(
        supplier_code="HOOKS",
        item_code="HOOK-6",
        pack=each(100),
        fields={"prices": [PriceBreak(1, 6_000_000)]},
        by=lead,
        at=NOON,
    )
    lines = [
        OrderLineDraft(item_code="HOOK-6", packs=1),
        OrderLineDraft(item_code="HOOK-6", packs=1, pack=each(100)),
    ]
    order = place_supplier_order(supplier_code="HOOKS", lines=lines, stamp=stamp_at(lead))
    assert [(line.pack_base, line.pack_price_micro) for line in order.lines.all()] == [
        (1000, 45_000_000),
        (100, 6_000_000),
    ]


def test_which_pack_is_asked_where_several_offers_fit(
    calling: Calling, lead: User, hook_offer: Offer
) -> None:
    create_offer(
        supplier_code="HOOKS", item_code="HOOK-6", pack=each(100), fields={}, by=lead, at=NOON
    )
    change_offer(
        supplier_code="HOOKS",
        item_code="HOOK-6",
        pack=each(1000),
        fields={"is_preferred": False},
        by=lead,
        at=NOON,
    )
    refused = calling(lead).post("supplier-orders/", FIVE_PACKS)
    assert (refused.status_code, refused.json()["code"]) == (422, "offer_unclear")
    assert [pack["amount"] for pack in refused.json()["facts"]["packs"]] == ["1000", "100"]
    unpriced = with_line(pack={"amount": "100", "unit": "each"})
    assert calling(lead).post("supplier-orders/", unpriced).json()["code"] == "price_missing"


@pytest.mark.parametrize(
    ("fields", "code"),
    [
        ({"packs": 0}, "invalid_input"),
        ({"packs": -1}, "invalid_input"),
        ({"packs": 1.5}, "invalid_input"),
        ({"packs": "many"}, "invalid_input"),
        ({"packs": 1_000_001}, "invalid_input"),
        ({"packs": 12345678901234567890}, "invalid_input"),
        ({"pack": {"amount": "0", "unit": "each"}, "pack_price": "1"}, "amount_not_positive"),
        ({"pack": {"amount": "-5", "unit": "each"}, "pack_price": "1"}, "invalid_input"),
        ({"pack": {"amount": "NaN", "unit": "each"}, "pack_price": "1"}, "invalid_input"),
        ({"pack": {"amount": "0.5", "unit": "each"}, "pack_price": "1"}, "fraction_of_piece"),
        ({"pack": {"amount": "1", "unit": "L"}, "pack_price": "1"}, "unit_mismatch"),
        ({"pack": {"amount": "1"}, "pack_price": "1"}, "invalid_input"),
        (
            {"pack": {"amount": "1000000000000000", "unit": "each"}, "pack_price": "1"},
            "amount_too_large",
        ),
        ({"pack": {"amount": "7", "unit": "each"}}, "price_missing"),
        ({"pack_price": "-1"}, "invalid_input"),
        ({"pack_price": "1e9"}, "number_too_large"),
        ({"pack_price": 1.5}, "invalid_input"),
        ({"promised_on": "2026-01-04"}, "date_impossible"),
        ({"promised_on": "2100-01-01"}, "invalid_input"),
        ({"promised_on": "20260316"}, "invalid_input"),
        ({"promised_on": "soon"}, "invalid_input"),
        ({"item": "RESIN"}, "not_found"),
        ({"quantity": 5}, "invalid_input"),
    ],
)
def test_a_line_that_cannot_be_meant_is_refused(
    calling: Calling, lead: User, hook_offer: Offer, fields: dict[str, Any], code: str
) -> None:
    refused = calling(lead).post("supplier-orders/", with_line(**fields))
    assert refused.json()["code"] == code, refused.json()
    assert refused.status_code in {404, 422}
    assert not SupplierOrder.objects.exists()


@pytest.mark.parametrize(
    ("fields", "code"),
    [
        ({"supplier": "NOBODY"}, "not_found"),
        ({"lines": []}, "invalid_input"),
        ({"lines": [{"item": "HOOK-6", "packs": 1}] * 201}, "invalid_input"),
        ({"code": "F-234"}, "own_code_refused"),
        ({"ordered_on": "1999-12-31"}, "invalid_input"),
        ({"ordered_on": "9999-12-31"}, "invalid_input"),
        ({"note": "x" * 301}, "invalid_input"),
        ({"due": "2026-01-01"}, "invalid_input"),
    ],
)
def test_an_order_that_cannot_be_meant_is_refused(
    calling: Calling, lead: User, hook_offer: Offer, fields: dict[str, Any], code: str
) -> None:
    refused = calling(lead).post("supplier-orders/", {**FIVE_PACKS, **fields})
    assert refused.json()["code"] == code, refused.json()
    assert not SupplierOrder.objects.exists()


def test_an_order_goes_out_today_at_the_latest(
    calling: Calling, lead: User, hook_offer: Offer
) -> None:
    now = timezone.now()
    future = {**with_line(), "ordered_on": (now + timedelta(days=2)).date().isoformat()}
    assert calling(lead).post("supplier-orders/", future).json()["code"] == "date_impossible"
    past = {**with_line(), "ordered_on": (now - timedelta(days=1)).date().isoformat()}
    assert calling(lead).post("supplier-orders/", past).status_code == 201


@pytest.mark.parametrize(
    ("ordered_on", "promised_on"),
    [(date(1999, 12, 31), None), (date(9999, 12, 31), None), (ORDERED_ON, date(2100, 1, 1))],
)
def test_days_nobody_means_are_refused_whichever_way_an_order_comes_in(
    lead: User, hook_offer: Offer, ordered_on: date, promised_on: date | None
) -> None:
    line = OrderLineDraft(item_code="HOOK-6", packs=1, promised_on=promised_on)
    with pytest.raises(DateImpossibleError):
        place_supplier_order(
            supplier_code="HOOKS", lines=[line], ordered_on=ordered_on, stamp=stamp_at(lead)
        )


def test_fewer_packs_than_the_supplier_sells_need_pack_and_price(
    calling: Calling, lead: User, hook_offer: Offer
) -> None:
    change_offer(
        supplier_code="HOOKS",
        item_code="HOOK-6",
        pack=each(1000),
        fields={"packs_min": 3},
        by=lead,
        at=LATER,
    )
    refused = calling(lead).post("supplier-orders/", with_line(packs=2))
    assert (refused.json()["code"], refused.json()["facts"]["packs_min"]) == (
        "packs_below_minimum",
        3,
    )
    agreed = with_line(packs=2, pack={"amount": "1000", "unit": "each"}, pack_price="50")
    assert calling(lead).post("supplier-orders/", agreed).status_code == 201
    assert calling(lead).post("supplier-orders/", with_line(packs=3)).status_code == 201


def test_an_order_number_of_the_shop_is_given_once(
    calling: Calling, lead: User, hook_offer: Offer
) -> None:
    caller = calling(lead)
    assert caller.post("supplier-orders/", {**FIVE_PACKS, "code": "PO-1"}).status_code == 201
    refused = caller.post("supplier-orders/", {**FIVE_PACKS, "code": "po-1"})
    assert (refused.status_code, refused.json()["code"]) == (409, "duplicate_code")


def test_nothing_is_ordered_that_is_out_of_use_nor_from_whom_is(
    calling: Calling, lead: User, hook_offer: Offer
) -> None:
    change_item(code="HOOK-6", fields={"is_active": False}, by=lead, at=LATER)
    assert calling(lead).post("supplier-orders/", FIVE_PACKS).json()["code"] == "not_active"
    change_item(code="HOOK-6", fields={"is_active": True}, by=lead, at=LATER)
    change_supplier(code="HOOKS", fields={"is_active": False}, by=lead, at=LATER)
    assert calling(lead).post("supplier-orders/", FIVE_PACKS).json()["code"] == "not_active"


def test_the_same_request_twice_places_one_order(
    calling: Calling, lead: User, hook_offer: Offer
) -> None:
    first, again = (calling(lead).post("supplier-orders/", FIVE_PACKS, key="k") for _ in range(2))
    assert first.json() == again.json()
    assert SupplierOrder.objects.count() == 1


def test_any_number_of_lines_takes_the_same_few_statements(
    lead: User, hook_offer: Offer, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    lines = [OrderLineDraft(item_code="HOOK-6", packs=1)] * 50
    # Nine and the two of the savepoint that stands for the transaction in a test.
    with django_assert_max_num_queries(11):
        place_supplier_order(supplier_code="HOOKS", lines=lines, stamp=stamp_at(lead))

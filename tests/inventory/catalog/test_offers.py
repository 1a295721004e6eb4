"""What suppliers offer, with price breaks."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from pytest_django import DjangoAssertNumQueries

from inventory.catalog.models import Item, Offer, Supplier
from inventory.catalog.operations import change_item, change_supplier, create_offer, create_supplier
from inventory.catalog.steps import PriceBreak
from shopfloor.fields import Amount
from shopfloor.models import Change, User
from tests.inventory.conftest import LATER, NOON, Caller

Calling = Callable[[User], Caller]

HOOKS = {"supplier": "hooks", "item": "hook-6", "pack": {"amount": "1000", "unit": "each"}}


def other_offer(lead: User, *, is_preferred: bool) -> Offer:
    create_supplier(code="BENDERS", fields={"name": "Another hook supplier"}, by=lead, at=NOON)
    return create_offer(
        supplier_code="BENDERS",
        item_code="HOOK-6",
        pack=Amount(Decimal(500), "each"),
        fields={"is_preferred": is_preferred},
        by=lead,
        at=LATER,
    )


def test_an_offer_is_entered_with_its_price_breaks_and_shown_with_item_and_supplier(
    calling: Calling, lead: User, viewer: User, supplier: Supplier, hook: Item
) -> None:
    entered = calling(lead).post(
        "offers/",
        {
            **HOOKS,
            "supplier_item_number": "T6-1000",
            "packs_min": 2,
            "lead_time_days": 70,
            "is_preferred": True,
            "prices": [
                {"packs_from": 1, "pack_price": "45.00"},
                {"packs_from": 5, "pack_price": "39.999999"},
            ],
        },
    )
    assert entered.status_code == 201, entered.json()
    expected = {
        "supplier": "HOOKS",
        "item": "HOOK-6",
        "pack": {"amount": "1000", "unit": "each"},
        "supplier_item_number": "T6-1000",
        "packs_min": 2,
        "lead_time_days": 70,
        "is_preferred": True,
        "is_active": True,
        "prices": [
            {"packs_from": 1, "pack_price": "45.00"},
            {"packs_from": 5, "pack_price": "39.999999"},
        ],
    }
    assert entered.json() == expected
    caller = calling(viewer)
    assert caller.get("items/HOOK-6/").json()["offers"] == [expected]
    assert caller.get("suppliers/HOOKS/").json()["offers"] == [expected]
    assert caller.get("offers/", item="hook-6", is_preferred="true").json()["results"] == [expected]


@pytest.mark.parametrize(
    ("pack", "pack_base"),
    [
        ({"amount": "7", "unit": "gross"}, 1008),
        ({"amount": "350", "unit": "g"}, 1000),
    ],
)
def test_a_pack_may_be_in_any_unit_that_can_be_turned_into_the_items(
    calling: Calling,
    lead: User,
    supplier: Supplier,
    hook: Item,
    pack: dict[str, str],
    pack_base: int,
) -> None:
    entered = calling(lead).post("offers/", {**HOOKS, "pack": pack})
    assert entered.json()["pack"] == {"amount": str(pack_base), "unit": "each"}


@pytest.mark.parametrize(
    ("fields", "code"),
    [
        ({"pack": {"amount": "0", "unit": "each"}}, "amount_not_positive"),
        ({"pack": {"amount": "0.1", "unit": "g"}}, "amount_not_positive"),
        ({"pack": {"amount": "-1", "unit": "each"}}, "invalid_input"),
        ({"pack": {"amount": "1.5", "unit": "each"}}, "fraction_of_piece"),
        ({"pack": {"amount": "1", "unit": "mL"}}, "unit_mismatch"),
        ({"pack": {"amount": "NaN", "unit": "each"}}, "invalid_input"),
        ({"pack": {"amount": "many", "unit": "each"}}, "invalid_input"),
        ({"pack": {"amount": "12345678901234567890", "unit": "each"}}, "invalid_input"),
        ({"pack": {"amount": "1000000000000000", "unit": "gross"}}, "amount_too_large"),
        ({"pack": {"amount": "1"}}, "invalid_input"),
        ({"pack": {"amount": "1", "unit": "box"}}, "invalid_input"),
        ({"packs_min": 0}, "invalid_input"),
        ({"packs_min": -1}, "invalid_input"),
        ({"lead_time_days": 3651}, "invalid_input"),
        ({"prices": [{"packs_from": 1, "pack_price": "-1"}]}, "invalid_input"),
        ({"prices": [{"packs_from": 1, "pack_price": "1.0000001"}]}, "invalid_input"),
        ({"prices": [{"packs_from": 1, "pack_price": "NaN"}]}, "invalid_input"),
        ({"prices": [{"packs_from": 0, "pack_price": "1"}]}, "invalid_input"),
        ({"prices": [{"packs_from": 1}]}, "invalid_input"),
        ({"prices": [{"packs_from": 1, "pack_price": "1", "currency": "X"}]}, "invalid_input"),
        ({"prices": [{"packs_from": 2, "pack_price": "1"}]}, "price_breaks"),
        (
            {
                "prices": [
                    {"packs_from": 1, "pack_price": "1"},
                    {"packs_from": 1, "pack_price": "2"},
                ]
            },
            "price_breaks",
        ),
        (
            {
                "prices": [
                    {"packs_from": 5, "pack_price": "1"},
                    {"packs_from": 1, "pack_price": "2"},
                ]
            },
            "price_breaks",
        ),
        ({"is_active": False, "is_preferred": True}, "not_active"),
        ({"supplier": "NOBODY"}, "not_found"),
        ({"item": "NOTHING"}, "not_found"),
    ],
)
def test_an_offer_that_cannot_be_meant_is_refused(
    calling: Calling,
    lead: User,
    supplier: Supplier,
    hook: Item,
    fields: dict[str, Any],
    code: str,
) -> None:
    refused = calling(lead).post("offers/", {**HOOKS, **fields})
    status = {"not_active": 409, "not_found": 404}.get(code, 422)
    assert (refused.status_code, refused.json()["code"]) == (status, code)
    assert not Offer.objects.exists()


def test_a_first_price_at_the_least_order_passes(
    calling: Calling, lead: User, supplier: Supplier, hook: Item
) -> None:
    prices = [{"packs_from": 2, "pack_price": "0"}]
    entered = calling(lead).post("offers/", {**HOOKS, "packs_min": 2, "prices": prices})
    assert entered.status_code == 201, entered.json()


def test_a_supplier_offers_one_pack_of_an_item_once(
    calling: Calling, lead: User, hook_offer: Offer
) -> None:
    refused = calling(lead).post("offers/", {**HOOKS, "pack": {"amount": "350", "unit": "g"}})
    assert (refused.status_code, refused.json()["code"]) == (409, "duplicate_offer")
    assert refused.json()["facts"]["pack"] == {"amount": "1000", "unit": "each"}


def test_an_item_has_one_preferred_offer_the_last_named(lead: User, hook_offer: Offer) -> None:
    other = other_offer(lead, is_preferred=True)
    hook_offer.refresh_from_db()
    assert (hook_offer.is_preferred, other.is_preferred) == (False, True)
    kept = Change.objects.filter(row_code=str(hook_offer.pk)).latest("id")
    assert (kept.before, kept.after) == ({"is_preferred": True}, {"is_preferred": False})


def test_preferring_an_offer_later_takes_it_from_the_other(
    calling: Calling, lead: User, hook_offer: Offer
) -> None:
    other_offer(lead, is_preferred=False)
    body = {
        "supplier": "BENDERS",
        "item": "HOOK-6",
        "pack": {"amount": "500", "unit": "each"},
        "is_preferred": True,
    }
    changed = calling(lead).post("offers/change/", body)
    assert changed.status_code == 200, changed.json()
    preferred = Offer.objects.filter(is_preferred=True)
    assert [offer.supplier.code for offer in preferred] == ["BENDERS"]


def test_an_offer_out_of_use_is_not_preferred(
    calling: Calling, lead: User, hook_offer: Offer
) -> None:
    changed = calling(lead).post("offers/change/", {**HOOKS, "is_active": False})
    assert (changed.json()["is_active"], changed.json()["is_preferred"]) == (False, False)
    assert changed.json()["prices"][0] == {"packs_from": 1, "pack_price": "45.00"}


def test_new_prices_replace_all_and_the_old_are_kept_in_the_audit(
    calling: Calling, lead: User, hook_offer: Offer
) -> None:
    changed = calling(lead).post(
        "offers/change/", {**HOOKS, "prices": [{"packs_from": 1, "pack_price": "47.5"}]}
    )
    assert changed.json()["prices"] == [{"packs_from": 1, "pack_price": "47.50"}]
    kept = Change.objects.filter(row_code=str(hook_offer.pk)).latest("id")
    assert kept.before == {"prices": [["1", "45.00"], ["5", "40.00"]]}
    assert kept.after == {"prices": [["1", "47.50"]]}


def test_a_change_of_the_least_order_below_the_first_price_is_refused(
    lead: User, calling: Calling, supplier: Supplier, hook: Item
) -> None:
    create_offer(
        supplier_code="HOOKS",
        item_code="HOOK-6",
        pack=Amount(Decimal(1000), "each"),
        fields={"packs_min": 5, "prices": [PriceBreak(5, 1)]},
        by=lead,
        at=NOON,
    )
    refused = calling(lead).post("offers/change/", {**HOOKS, "packs_min": 4})
    assert refused.json()["code"] == "price_breaks"


def test_a_change_of_an_offer_that_is_not_there_is_refused(
    calling: Calling, lead: User, hook_offer: Offer
) -> None:
    pack = {"amount": "999", "unit": "each"}
    refused = calling(lead).post("offers/change/", {**HOOKS, "pack": pack, "packs_min": 4})
    assert (refused.status_code, refused.json()["code"]) == (404, "not_found")


def test_who_and_what_is_out_of_use_is_offered_no_more(
    calling: Calling, lead: User, supplier: Supplier, hook: Item
) -> None:
    change_supplier(code="HOOKS", fields={"is_active": False}, by=lead, at=LATER)
    assert calling(lead).post("offers/", HOOKS).json()["code"] == "not_active"
    change_supplier(code="HOOKS", fields={"is_active": True}, by=lead, at=LATER)
    change_item(code="HOOK-6", fields={"is_active": False}, by=lead, at=LATER)
    assert calling(lead).post("offers/", HOOKS).json()["code"] == "not_active"


def test_only_owner_and_lead_write_offers(
    calling: Calling, molder: User, packer: User, viewer: User, hook_offer: Offer
) -> None:
    for person in (molder, packer, viewer):
        assert calling(person).post("offers/", HOOKS).status_code == 403
        assert calling(person).post("offers/change/", HOOKS).status_code == 403
        assert calling(person).get("offers/").json()["count"] == 1


def test_a_page_of_offers_takes_three_queries(
    calling: Calling,
    lead: User,
    hook_offer: Offer,
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    other_offer(lead, is_preferred=False)
    caller = calling(lead)
    with django_assert_num_queries(3):
        assert caller.get("offers/").json()["count"] == 2
    with django_assert_num_queries(3):
        caller.get("suppliers/HOOKS/")

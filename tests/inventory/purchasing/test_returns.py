"""What goes back to a supplier."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from pytest_django import DjangoAssertNumQueries

from inventory.catalog.models import Item, Supplier
from inventory.catalog.operations import create_supplier
from inventory.purchasing.operations import return_to_supplier
from inventory.purchasing.steps import ReturnDraft
from inventory.stock.models import Lot, Posting
from inventory.stock.operations import (
    OpeningLot,
    hold_lot,
    reject_lot,
    split_off,
    take_in_opening_lots,
)
from shopfloor.models import User
from tests.inventory.conftest import LATER, NOON, Caller, stamp_at
from tests.inventory.purchasing.conftest import each, hooks, lots_of, moved, receive

Calling = Callable[[User], Caller]


@pytest.fixture
def lot(lead: User, supplier: Supplier, hook: Item) -> Lot:
    """A hundred hooks for 10.00."""
    return lots_of(receive(lead, hooks(100, value_micro=10_000_000)))[0]


def going_back(lot: Lot, amount: str = "30", unit: str = "each", **fields: Any) -> dict[str, Any]:
    lots = [{"lot": lot.code.lower(), "amount": amount, "unit": unit, **fields}]
    return {"lots": lots, "reason": "points are blunt"}


def test_part_of_a_lot_goes_back_at_its_share_of_the_value(
    calling: Calling, lead: User, lot: Lot
) -> None:
    sent = calling(lead).post("supplier-returns/", going_back(lot))
    assert sent.status_code == 201, sent.json()
    body = sent.json()
    assert (body["kind"], body["outside_kind"], body["outside_value"]) == (
        "returned",
        "purchase",
        "-3.00",
    )
    assert (body["document_kind"], body["document_code"]) == ("supplier_return", "HOOKS")
    assert body["reason"] == "points are blunt"
    assert moved([lot]) == [(100, 10_000_000), (-30, -3_000_000)]


def test_held_and_rejected_lots_go_back_too(calling: Calling, lead: User, lot: Lot) -> None:
    part = split_off(lot_code=lot.code, qty_base=40, stamp=stamp_at(lead))
    hold_lot(lot_code=lot.code, stamp=stamp_at(lead, LATER, reason="blunt"))
    other = lots_of(receive(lead, hooks(5, value_micro=0, disposition="quarantined")))[0]
    reject_lot(lot_code=other.code, stamp=stamp_at(lead, LATER, reason="blunt"))
    body = going_back(lot, "60")
    body["lots"] += going_back(part, "40")["lots"] + going_back(other, "5")["lots"]
    sent = calling(lead).post("supplier-returns/", body)
    assert sent.status_code == 201, sent.json()
    assert sent.json()["outside_value"] == "-10.00"
    left = Lot.objects.filter(pk__in=[lot.pk, part.pk, other.pk])
    assert set(left.values_list("on_hand_base", "value_micro")) == {(0, 0)}


@pytest.mark.parametrize(
    ("amount", "unit", "status", "code"),
    [
        ("100", "each", 201, None),
        ("101", "each", 409, "lot_short"),
        ("0", "each", 422, "amount_not_positive"),
        ("-1", "each", 422, "invalid_input"),
        ("1.5", "each", 422, "fraction_of_piece"),
        ("NaN", "each", 422, "invalid_input"),
        ("12345678901234567890", "each", 422, "invalid_input"),
        ("1", "mL", 422, "unit_mismatch"),
        ("1", "box", 422, "invalid_input"),
    ],
)
def test_no_more_goes_back_than_there_is(
    calling: Calling, lead: User, lot: Lot, amount: str, unit: str, status: int, code: str | None
) -> None:
    sent = calling(lead).post("supplier-returns/", going_back(lot, amount, unit))
    assert (sent.status_code, sent.json().get("code") if code else None) == (status, code)
    assert Posting.objects.filter(kind="returned").exists() is (code is None)


def test_lots_of_two_suppliers_do_not_go_back_together(
    calling: Calling, lead: User, lot: Lot
) -> None:
    create_supplier(code="BENDERS", fields={"name": "Another"}, by=lead, at=NOON)
    other = lots_of(receive(lead, hooks(5, value_micro=0), supplier="BENDERS"))[0]
    body = going_back(lot)
    body["lots"] += going_back(other, "5")["lots"]
    refused = calling(lead).post("supplier-returns/", body)
    assert (refused.status_code, refused.json()["code"]) == (422, "wrong_supplier")
    assert refused.json()["facts"] == {"suppliers": ["BENDERS", "HOOKS"]}


def test_what_did_not_come_from_a_supplier_does_not_go_back_to_one(
    calling: Calling, lead: User, hook: Item
) -> None:
    opening = [OpeningLot(item_code="HOOK-6", qty_base=50, value_micro=0)]
    ours = take_in_opening_lots(lots=opening, stamp=stamp_at(lead)).made[0]
    refused = calling(lead).post("supplier-returns/", going_back(ours))
    assert (refused.status_code, refused.json()["code"]) == (422, "not_bought")


@pytest.mark.parametrize(
    ("fields", "code"),
    [
        ({"lots": []}, "invalid_input"),
        ({"reason": ""}, "invalid_input"),
        ({"reason": " "}, "invalid_input"),
        ({"lots": [{"lot": "NONE", "amount": "1", "unit": "each"}]}, "not_found"),
        ({"lots": [{"lot": "NONE", "amount": "1"}]}, "invalid_input"),
        ({"supplier": "HOOKS"}, "invalid_input"),
    ],
)
def test_a_return_that_cannot_be_meant_is_refused(
    calling: Calling, lead: User, lot: Lot, fields: dict[str, Any], code: str
) -> None:
    refused = calling(lead).post("supplier-returns/", {**going_back(lot), **fields})
    assert refused.json()["code"] == code
    assert moved([lot]) == [(100, 10_000_000)]


def test_a_lot_stands_in_a_return_once(calling: Calling, lead: User, lot: Lot) -> None:
    body = going_back(lot)
    refused = calling(lead).post("supplier-returns/", {**body, "lots": body["lots"] * 2})
    assert (refused.status_code, refused.json()["code"]) == (422, "stands_twice")


def test_a_return_written_down_wrongly_is_reversed(calling: Calling, lead: User, lot: Lot) -> None:
    caller = calling(lead)
    code = caller.post("supplier-returns/", going_back(lot)).json()["code"]
    undone = caller.post(f"supplier-returns/{code}/reverse/", {"reason": "not sent"})
    assert (undone.status_code, undone.json()["outside_value"]) == (200, "3.00")
    assert moved([lot])[-1] == (30, 3_000_000)
    again = caller.post(f"supplier-returns/{code}/reverse/", {"reason": "not sent"})
    assert (again.status_code, again.json()["code"]) == (409, "not_reversible")


def test_another_kind_of_posting_is_no_return(calling: Calling, lead: User, lot: Lot) -> None:
    received = Posting.objects.get()
    refused = calling(lead).post(f"supplier-returns/{received.code}/reverse/", {"reason": "x"})
    assert (refused.status_code, refused.json()["code"]) == (404, "not_found")


def test_owner_and_lead_send_back_and_nobody_else(
    calling: Calling, owner: User, molder: User, packer: User, viewer: User, lot: Lot
) -> None:
    for person in (molder, packer, viewer):
        assert calling(person).post("supplier-returns/", going_back(lot)).status_code == 403
        reverse = "supplier-returns/P-2222/reverse/"
        assert calling(person).post(reverse, {"reason": "x"}).status_code == 403
    assert calling(owner).post("supplier-returns/", going_back(lot)).status_code == 201


def test_the_same_return_sent_twice_leaves_once(calling: Calling, lead: User, lot: Lot) -> None:
    first, again = (
        calling(lead).post("supplier-returns/", going_back(lot), key="k") for _ in range(2)
    )
    assert first.json() == again.json()
    assert len(moved([lot])) == 2


def test_any_number_of_lots_goes_back_in_the_same_few_statements(
    lead: User, supplier: Supplier, hook: Item, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    lots = lots_of(receive(lead, *[hooks(10, value_micro=7)] * 40))

    def send(some: list[Lot]) -> None:
        return_to_supplier(
            lots=[ReturnDraft(lot.code, each(1)) for lot in some],
            stamp=stamp_at(lead, LATER, reason="blunt"),
        )

    # Lots, suppliers, posting, movements, caches, and two of the savepoint.
    with django_assert_num_queries(7):
        send(lots[:2])
    with django_assert_num_queries(7):
        send(lots[2:])

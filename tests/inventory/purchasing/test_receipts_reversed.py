"""Deliveries written down wrongly: reversed while their lots are untouched."""

from __future__ import annotations

import pytest

from inventory.purchasing.models import SupplierOrder
from inventory.stock.operations import dispose_of_lot
from shopfloor.codes.alphabet import Prefix, encode
from shopfloor.models import User
from tests.inventory.conftest import LATER, stamp_at
from tests.inventory.purchasing.conftest import (
    Calling,
    hooks,
    lots_of,
    moved,
    receive,
)


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

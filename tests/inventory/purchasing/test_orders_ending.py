"""Supplier orders: closed, line by line or whole, and cancelled."""

from __future__ import annotations

import pytest

from inventory.catalog.models import Offer
from inventory.purchasing.models import SupplierOrder
from inventory.purchasing.operations import reverse_receipt
from inventory.purchasing.selectors import open_order_base
from shopfloor.models import Change, User
from tests.inventory.conftest import LATER, stamp_at
from tests.inventory.purchasing.conftest import (
    FIVE_PACKS,
    Calling,
    hooks,
    receive,
)


def test_a_line_is_closed_with_a_reason_and_the_order_with_its_last_line(
    calling: Calling, lead: User, hook_offer: Offer
) -> None:
    caller = calling(lead)
    body = {**FIVE_PACKS, "lines": [{"item": "HOOK-6", "packs": 1}] * 2}
    address = f"supplier-orders/{caller.post('supplier-orders/', body).json()['code']}/close/"
    closed = caller.post(address, {"line": 2, "reason": "sold out"})
    assert closed.status_code == 200, closed.json()
    assert [line["is_closed"] for line in closed.json()["lines"]] == [False, True]
    assert closed.json()["lines"][1]["open"] == {"amount": "0", "unit": "each"}
    assert closed.json()["state"] == "open"
    again = caller.post(address, {"line": 2, "reason": "sold out"})
    assert (again.status_code, again.json()["code"]) == (409, "order_not_open")
    assert caller.post(address, {"line": 3, "reason": "?"}).json()["code"] == "order_line"
    assert caller.post(address, {"line": 1, "reason": "late"}).json()["state"] == "closed"
    over = caller.post(address, {"reason": "late"})
    assert (over.status_code, over.json()["code"]) == (409, "order_not_open")
    kept = Change.objects.order_by("id").last()
    assert kept is not None
    assert kept.after == {"state": "closed", "open_lines": [], "reason": "late"}


def test_a_whole_order_is_closed_at_once(
    calling: Calling, lead: User, order: SupplierOrder
) -> None:
    closed = calling(lead).post(f"supplier-orders/{order.code}/close/", {"reason": "no answer"})
    assert (closed.json()["state"], closed.json()["lines"][0]["is_closed"]) == ("closed", True)
    assert open_order_base(on=LATER.date()) == {}


@pytest.mark.parametrize("body", [{}, {"reason": ""}, {"reason": "  "}, {"reason": "x" * 301}])
def test_closing_and_cancelling_say_why(
    calling: Calling, lead: User, order: SupplierOrder, body: dict[str, str]
) -> None:
    for action in ("close", "cancel"):
        refused = calling(lead).post(f"supplier-orders/{order.code}/{action}/", body)
        assert (refused.status_code, refused.json()["code"]) == (422, "invalid_input")


def test_an_order_of_which_nothing_came_is_cancelled(
    calling: Calling, lead: User, order: SupplierOrder
) -> None:
    address = f"supplier-orders/{order.code}/cancel/"
    cancelled = calling(lead).post(address, {"reason": "ordered twice"})
    assert (cancelled.status_code, cancelled.json()["state"]) == (200, "cancelled")
    assert open_order_base(on=LATER.date()) == {}
    again = calling(lead).post(address, {"reason": "ordered twice"})
    assert (again.status_code, again.json()["code"]) == (409, "order_not_open")


def test_an_order_is_not_cancelled_once_something_came_unless_that_was_reversed(
    calling: Calling, lead: User, order: SupplierOrder
) -> None:
    came = receive(lead, hooks(1), order=order)
    address = f"supplier-orders/{order.code}/cancel/"
    refused = calling(lead).post(address, {"reason": "late"})
    assert (refused.status_code, refused.json()["code"]) == (409, "order_received")
    assert refused.json()["facts"] == {"order": order.code, "lines": [1]}
    reverse_receipt(receipt_code=came.code, stamp=stamp_at(lead, LATER, reason="not ours"))
    assert calling(lead).post(address, {"reason": "late"}).json()["state"] == "cancelled"


def test_what_is_not_there_is_said_so(calling: Calling, lead: User) -> None:
    caller = calling(lead)
    assert caller.get("supplier-orders/F-2222/").json()["code"] == "not_found"
    for action in ("close", "cancel"):
        refused = caller.post(f"supplier-orders/F-2222/{action}/", {"reason": "none"})
        assert (refused.status_code, refused.json()["code"]) == (404, "not_found")

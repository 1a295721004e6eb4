"""Pages of buying: order, receive what was ordered, and a supplier's label scanned into a line."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Any

from django.test import Client

from inventory.catalog.models import Offer
from inventory.purchasing.models import Receipt, SupplierOrder
from inventory.stock.models import Lot
from shopfloor.models import User
from tests.inventory.purchasing.conftest import hooks, receive

KEY = "a-form-of-this-test"


def test_an_order_is_placed_by_a_form_and_its_page_says_what_to_do_next(
    desk: Client, hook_offer: Offer
) -> None:
    form = {
        "idempotency_key": KEY,
        "supplier": "hooks",
        "lines.0.item": "hook-6",
        "lines.0.packs": "5",
        "lines.0.pack.unit": "mg",
        "lines.1.pack.unit": "mg",
    }
    done = desk.post("/supplier-orders/new/", form)
    order = SupplierOrder.objects.get()
    assert done["Location"] == f"/supplier-orders/{order.code}/"
    page = desk.get(done["Location"]).content.decode()
    assert f"{order.code} is ordered." in page
    assert f'href="/receipts/new/?order={order.code}&amp;supplier=HOOKS"' in page


def test_a_line_that_is_wrong_says_so_in_its_own_row(desk: Client, hook_offer: Offer) -> None:
    form = {
        "idempotency_key": KEY,
        "supplier": "HOOKS",
        "lines.0.item": "HOOK-6",
        "lines.0.packs": "5",
        "lines.2.item": "HOOK-6",
        "lines.2.packs": "five",
    }
    page = desk.post("/supplier-orders/new/", form)
    html = page.content.decode()
    assert page.status_code == 422
    assert 'aria-describedby="f-lines-1-packs-wrong"' in html
    assert 'aria-describedby="f-lines-0-packs-wrong"' not in html
    assert 'value="five"' in html
    assert not SupplierOrder.objects.exists()


def test_what_is_open_on_an_order_is_offered_and_received(
    desk: Client, order: SupplierOrder
) -> None:
    offered = desk.get(f"/receipts/new/?order={order.code}").content.decode()
    assert 'name="lines.0.amount" value="5000"' in offered
    assert 'value="HOOKS"' in offered
    form: dict[str, Any] = {
        "idempotency_key": KEY,
        "supplier": "HOOKS",
        "order": order.code,
        "at": "2026-03-02T12:00",
        "lines.0.item": "HOOK-6",
        "lines.0.order_line": "1",
        "lines.0.amount": "2000",
        "lines.0.unit": "each",
    }
    done = desk.post("/receipts/new/", form)
    receipt = Receipt.objects.get()
    assert done["Location"] == f"/receipts/{receipt.code}/"
    lot = Lot.objects.get()
    page = desk.get(done["Location"]).content.decode()
    assert lot.on_hand_base == 2000
    assert f'href="/api/v1/labels/lots.pdf?codes={lot.code}"' in page
    assert (
        'name="lines.0.amount" value="3000"'
        in desk.get(f"/receipts/new/?order={order.code}").content.decode()
    )


def test_what_came_of_an_order_is_one_row_and_a_closed_order_says_so(
    desk: Client, hook_offer: Offer
) -> None:
    form = {"idempotency_key": KEY, "supplier": "HOOKS"}
    desk.post("/supplier-orders/new/", {**form, "lines.0.item": "HOOK-6", "lines.0.packs": "5"})
    code = SupplierOrder.objects.get().code
    open_order = desk.get(f"/receipts/new/?order={code}").content.decode()
    assert 'name="lines.0.item" value="HOOK-6"' in open_order
    assert 'name="lines.1.item"' not in open_order
    assert re.search(r'<label for="f-lines-0-(item|amount)">[^<]*</label>', open_order)
    desk.post(f"/supplier-orders/{code}/close/", {"idempotency_key": "k", "reason": "late"})
    closed = desk.get(f"/receipts/new/?order={code}").content.decode()
    assert f"{code} is closed: nothing more is expected of it." in closed
    assert 'name="supplier" value="HOOKS"' in closed
    assert 'name="order" value=""' in closed


def test_lists_of_orders_and_receipts_say_what_to_do_when_empty(desk: Client) -> None:
    assert "Nothing was ordered yet." in desk.get("/supplier-orders/").content.decode()
    assert "Nothing was received yet." in desk.get("/receipts/").content.decode()


def test_receipts_are_found_by_the_shops_days(desk: Client, lead: User, hook_offer: Offer) -> None:
    receipt = receive(
        lead, hooks(1000, value_micro=0), at=datetime(2026, 3, 3, 5, 30, tzinfo=UTC)
    )  # 23:30 there
    second, third = "at_after=2026-03-02&at_before=2026-03-02", "at_after=2026-03-03"
    assert receipt.code in desk.get(f"/receipts/?{second}").content.decode()
    assert receipt.code not in desk.get(f"/receipts/?{third}").content.decode()

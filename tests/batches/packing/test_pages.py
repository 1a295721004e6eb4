"""Pages of orders, boxes, shipments, returns and complaints: a day of the packing bench on them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from batches.packing.models import Box, Complaint, Customer, CustomerOrder, CustomerReturn, Shipment
from batches.runs.models import ScrapReason
from inventory.catalog.models import Item
from inventory.stock.models import Lot
from shopfloor.models import User
from shopfloor.roles import Role
from tests.batches.packing.conftest import Enter

BACKEND = "django.contrib.auth.backends.ModelBackend"


@pytest.fixture
def desk(packer: User) -> Client:
    client = Client()
    client.force_login(packer, backend=BACKEND)
    return client


def send(desk: Client, address: str, **form: Any) -> Any:
    """A form with a key of its own."""
    return desk.post(address, {"idempotency_key": address, **form})


def test_an_order_is_packed_shipped_complained_of_and_taken_back_on_pages(
    desk: Client, customer: Customer, lot: Lot, leak: ScrapReason
) -> None:
    line = {"lines.0.item": "MINNOW", "lines.0.pieces": "10", "lines.0.price": "7.20"}
    ordered = send(desk, "/customer-orders/new/", customer="HEN", **line)
    order = CustomerOrder.objects.get()
    assert ordered["Location"] == f"/customer-orders/{order.code}/"
    packed = send(
        desk, "/boxes/new/", **{"contents.0.lot": "M1", "contents.0.pieces": "10", "code": "BOX1"}
    )
    assert packed["Location"] == "/boxes/BOX1/"
    open_box = desk.get("/boxes/BOX1/").content.decode()
    assert "BOX1 is packed: 10 pieces." in open_box
    assert "/shipments/new/" not in open_box
    send(desk, "/boxes/BOX1/close/")
    assert "/shipments/new/?boxes=BOX1" in desk.get("/boxes/BOX1/").content.decode()

    asked = f"/shipments/new/?order={order.code}&customer=HEN&boxes=BOX1"
    form = desk.get(asked).content.decode()
    assert "Still to be sent" in form
    assert "BOX1</textarea>" in form
    left = send(desk, asked, customer="HEN", order=order.code, boxes="BOX1", purpose="sale")
    shipment = Shipment.objects.get()
    assert left["Location"] == f"/shipments/{shipment.code}/"
    page = desk.get(left["Location"]).content.decode()
    assert f"/api/v1/labels/shipments/{shipment.code}.pdf" in page

    told = send(desk, "/complaints/new/", defect="LEAK", pieces="3", customer="HEN", box="BOX1")
    complaint = Complaint.objects.get()
    assert told["Location"] == f"/complaints/{complaint.code}/"
    assert "/trace/?code=BOX1" in desk.get(told["Location"]).content.decode()
    again = desk.get(f"/complaints/new/?replaces={complaint.code}").content.decode()
    assert 'value="BOX1"' in again

    form = desk.get(f"/customer-returns/new/?shipment={shipment.code}").content.decode()
    assert 'value="M1.1"' in form
    back = send(
        desk,
        "/customer-returns/new/",
        shipment=shipment.code,
        place="RETURNS",
        complaint=complaint.code,
        reason="They leak",
        **{"lines.0.lot": "M1.1", "lines.0.pieces": "3"},
    )
    returned = CustomerReturn.objects.get()
    assert back["Location"] == f"/customer-returns/{returned.posting.code}/"
    assert complaint.code in desk.get(back["Location"]).content.decode()


def test_a_box_stands_alone_again_where_nothing_was_named(
    desk: Client, lot: Lot, closed_box: Callable[..., Box]
) -> None:
    send(desk, "/boxes/new/", code="CARTON")
    box = closed_box(("M1", 5))
    send(desk, f"/boxes/{box.code}/put-in/", parent="CARTON")
    box.refresh_from_db()
    assert box.parent is not None
    desk.post(f"/boxes/{box.code}/put-in/", {"parent": "", "idempotency_key": "out"})
    box.refresh_from_db()
    assert box.parent is None


def test_what_is_wrong_in_a_row_stands_there_and_nothing_is_lost(desk: Client, lot: Lot) -> None:
    form = {
        "contents.0.lot": "M1",
        "contents.0.pieces": "5",
        "contents.2.lot": "NOPE",
        "contents.2.pieces": "x",
    }
    refused = send(desk, "/boxes/new/", code="BOX1", **form)
    page = refused.content.decode()
    assert refused.status_code == 422
    assert 'id="f-contents-1-pieces-wrong"' in page
    assert 'value="NOPE"' in page
    assert not Box.objects.exists()


def test_who_only_looks_has_no_forms(enter: Enter, customer: Customer, minnow: Item) -> None:
    client = Client()
    client.force_login(enter(Role.VIEWER), backend=BACKEND)
    assert client.get("/shipments/new/").status_code == 403
    page = client.get("/customers/HEN/").content.decode()
    assert "/shipments/new/" not in page
    assert "/complaints/?customer=HEN" in page


def test_lists_take_as_many_statements_however_long_they_are(
    desk: Client,
    lot: Lot,
    closed_box: Callable[..., Box],
    django_assert_max_num_queries: DjangoAssertNumQueries,
) -> None:
    for _ in range(4):
        closed_box(("M1", 5))
    for folder in ("boxes", "customers", "customer-orders", "shipments", "customer-returns"):
        with django_assert_max_num_queries(12):
            assert desk.get(f"/{folder}/").status_code == 200
    assert "Nobody complained." in desk.get("/complaints/").content.decode()

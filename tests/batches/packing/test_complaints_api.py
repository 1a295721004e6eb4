"""Doors of complaints: a good call, a problem, a refused role; the list by its queries."""

from __future__ import annotations

from datetime import datetime

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from batches.packing.models import Complaint
from inventory.catalog.models import Item
from inventory.stock.models import Lot
from shopfloor.codes.alphabet import encode
from shopfloor.roles import Role
from tests.batches.packing.conftest import MONDAY, ClientOf, Told
from tests.batches.packing.test_api import Caller

pytestmark = pytest.mark.usefixtures("leak")

TOLD = {"defect": "LEAK", "pieces": 2, "told_on": "2026-03-10"}


def test_a_complaint_is_written_once_a_key_listed_and_found_by_what_it_names(
    sent: Lot, client_of: ClientOf
) -> None:
    lead = client_of(Role.LEAD)
    body = {**TOLD, "lot": "m1", "customer": "hen", "note": "Two took water."}
    first, again = (
        lead.post("/api/v1/complaints/", body, headers={"Idempotency-Key": "k"}).json()
        for _ in range(2)
    )
    assert first == again
    recorded_at = datetime.fromisoformat(first.pop("recorded_at"))
    assert recorded_at > MONDAY
    assert first == {
        "code": encode(Complaint.objects.get().pk, "W"),
        "defect": "LEAK",
        "defect_name": "Leaks",
        "pieces": 2,
        "told_on": "2026-03-10",
        "customer": "HEN",
        "customer_name": "A test customer",
        "box": None,
        "lot": "M1",
        "item": None,
        "model": None,
        "bought_first_on": None,
        "bought_last_on": None,
        "note": "Two took water.",
        "by": "lead",
        "replaces": None,
        "replaced_by": None,
        "returns": [],
    }
    api = Caller(lead)
    assert api.get(f"/complaints/{first['code'].lower()}/")["lot"] == "M1"
    assert api.get(f"/scan/?code={first['code']}")["address"] == (
        f"/api/v1/complaints/{first['code']}/"
    )
    for query in (
        "",
        "?defect=leak",
        "?customer=HEN",
        "?lot=M1",
        "?told_on_after=2026-03-10&told_on_before=2026-03-10",
        "?is_replaced=false",
        "?search=water",
    ):
        assert api.get(f"/complaints/{query}")["count"] == 1
    for query in (
        "?defect=PEEL",
        "?told_on_after=2026-03-11",
        "?is_replaced=true",
        "?model=MINNOW-90",
    ):
        assert api.get(f"/complaints/{query}")["count"] == 0


def test_a_page_of_complaints_costs_the_same_however_many(
    sent: Lot, told: Told, client_of: ClientOf
) -> None:
    api = Caller(client_of(Role.VIEWER))
    api.get("/complaints/")  # the token's last use is noted
    counts = []
    for _ in range(2):
        told(lot_code="M1", pieces=1)
        told(lot_code="M1", pieces=1, customer_code="HEN")
        with CaptureQueriesContext(connection) as asked:
            api.get("/complaints/")
        counts.append(len(asked))
    assert counts[0] == counts[1]


@pytest.mark.parametrize("role", [Role.BENCH, Role.VIEWER])
def test_who_neither_packs_nor_leads_writes_no_complaint(
    sent: Lot, client_of: ClientOf, role: Role
) -> None:
    api = Caller(client_of(role))
    assert api.post("/complaints/", {**TOLD, "lot": "M1"}, 403)["code"] == "not_allowed"
    assert api.get("/complaints/")["count"] == 0


def test_a_door_says_what_is_wrong(lot: Lot, minnow: Item, client_of: ClientOf) -> None:
    api = Caller(client_of(Role.PACKER))
    assert api.post("/complaints/", {**TOLD, "lot": "M1"}, 409)["code"] == "never_shipped"
    assert (
        api.post("/complaints/", {**TOLD, "pieces": 0, "lot": "M1"}, 422)["code"] == "invalid_input"
    )
    assert api.get(f"/complaints/{encode(7, 'W')}/", 404)["code"] == "not_found"

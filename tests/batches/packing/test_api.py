"""Doors of packing: a good call, a problem, a refused role; each list by its queries."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient

from batches.packing.models import Customer, CustomerOrder
from inventory.stock.models import Lot
from shopfloor.roles import Role
from tests.batches.packing.conftest import ClientOf

API = "/api/v1"


class Caller:
    """Calls the API with a fresh key each time."""

    def __init__(self, client: APIClient) -> None:
        self._client = client
        self._calls = 0

    def get(self, address: str, status: int = 200) -> Any:
        """Read an address."""
        answer = self._client.get(f"{API}{address}")
        assert answer.status_code == status, answer.content
        return answer.json()

    def post(self, address: str, body: Any = None, status: int = 201) -> Any:
        """Write, with a key never used before."""
        self._calls += 1
        answer = self._client.post(
            f"{API}{address}", body or {}, headers={"Idempotency-Key": f"k{self._calls}"}
        )
        assert answer.status_code == status, answer.content
        return answer.json()


@pytest.fixture
def packer_api(client_of: ClientOf) -> Caller:
    return Caller(client_of(Role.PACKER))


def test_a_customer_is_entered_changed_and_listed(packer_api: Caller) -> None:
    packer_api.post("/customers/", {"code": "hen", "name": "A test customer"})
    changed = packer_api.post("/customers/HEN/change/", {"address": "2 Dock St"}, 200)
    assert changed == {
        "code": "HEN",
        "name": "A test customer",
        "address": "2 Dock St",
        "is_active": True,
    }
    assert packer_api.get("/customers/?search=test")["results"] == [changed]
    assert packer_api.get("/customers/?is_active=false")["count"] == 0
    assert packer_api.get("/customers/hen/") == changed


def test_an_unknown_customer_is_a_problem(packer_api: Caller) -> None:
    assert packer_api.get("/customers/NOBODY/", 404)["code"] == "not_found"


def test_from_order_to_shipment_to_return(
    customer: Customer, lot: Lot, frogs: Lot, packer_api: Caller
) -> None:
    order = packer_api.post(
        "/customer-orders/",
        {
            "customer": "HEN",
            "ordered_on": "2026-03-02",
            "lines": [
                {"item": "MINNOW", "pieces": 24, "price": "7.95", "promised_on": "2026-04-01"},
                {"item": "FROG", "pieces": 5, "price": "6.50"},
            ],
        },
    )
    box = packer_api.post(
        "/boxes/",
        {
            "contents": [{"lot": "M1", "pieces": 24}, {"lot": "F1", "pieces": 5}],
            "at": "2026-03-03T15:00:00Z",
        },
    )
    assert (box["state"], box["pieces"]) == ("open", 29)
    assert box["lots"][0] == {
        "lot": "M1.1",
        "item": "MINNOW",
        "item_name": "Minnow, fire tiger",
        "model": "MINNOW-90",
        "model_name": "Minnow 90",
        "colorway": "TIGER",
        "colorway_name": "Fire tiger",
        "pieces": 24,
        "grade": "first",
        "disposition": "released",
        "expires_at": None,
    }
    assert packer_api.post(f"/boxes/{box['code']}/close/", status=200)["state"] == "closed"
    shipment = packer_api.post(
        "/shipments/",
        {"customer": "HEN", "order": order["code"], "boxes": [box["code"]], "carrier": "ours"},
    )
    assert (shipment["price"], shipment["cost"]) == ("223.30", "29.00")
    assert [line["order_line"] for line in shipment["lines"]] == [1, 2]
    assert packer_api.get(f"/boxes/{box['code']}/")["shipment"] == shipment["code"]
    assert packer_api.get(f"/customer-orders/{order['code']}/")["state"] == "closed"
    returned = packer_api.post(
        "/customer-returns/",
        {
            "shipment": shipment["code"],
            "place": "RETURNS",
            "reason": "hook pulled out",
            "lines": [{"lot": "M1.1", "pieces": 2}],
        },
    )
    assert returned["lines"] == [
        {
            "lot": "M1.1",
            "item": "MINNOW",
            "item_name": "Minnow, fire tiger",
            "place": "RETURNS",
            "pieces": 2,
        }
    ]
    assert (returned["customer"], returned["cost"]) == ("HEN", "2.00")
    assert packer_api.get(f"/customer-returns/{returned['posting'].lower()}/") == returned
    for query in (
        "",
        f"?shipment={shipment['code']}",
        "?lot=m1.1",
        "?customer=hen",
        "?search=hook",
    ):
        assert packer_api.get(f"/customer-returns/{query}")["results"] == [returned]
    assert packer_api.get("/customer-returns/?lot=F1.1")["count"] == 0
    assert packer_api.get("/customer-returns/?shipment=S-2222", 422)["code"] == "code_typo"
    assert (
        packer_api.get(f"/customer-returns/{shipment['code']}/", 422)["code"]
        == "wrong_kind_of_code"
    )
    assert packer_api.get(f"/shipments/{shipment['code']}/")["lines"][0]["returned"] == 2


def test_a_box_is_packed_over_the_api(lot: Lot, packer_api: Caller) -> None:
    packer_api.post("/boxes/", {"code": "pallet"})
    box = packer_api.post("/boxes/", {"code": "A", "parent": "PALLET"})
    assert box["parent"] == "PALLET"
    more = packer_api.post("/boxes/a/add/", {"contents": [{"lot": "M1", "pieces": 6}]}, 200)
    assert more["pieces"] == 6
    less = packer_api.post(
        "/boxes/A/take-out/", {"contents": [{"lot": "M1.1", "pieces": 1}], "place": "SHELF"}, 200
    )
    assert less["pieces"] == 5
    assert packer_api.post("/boxes/A/put-in/", {"parent": None}, 200)["parent"] is None
    assert packer_api.post("/boxes/A/close/", status=200)["state"] == "closed"
    assert packer_api.post("/boxes/A/reopen/", status=200)["state"] == "open"
    found = packer_api.get("/boxes/?lot=M1.1&state=open")["results"]
    assert [row["code"] for row in found] == ["A"]


def test_a_shipment_is_reversed_over_the_api(
    customer: Customer, lot: Lot, packer_api: Caller
) -> None:
    shipment = packer_api.post(
        "/shipments/",
        {"customer": "HEN", "lots": [{"lot": "M1", "pieces": 5, "price": "8.00"}]},
    )
    undone = packer_api.post(
        f"/shipments/{shipment['code']}/reverse/", {"reason": "wrong customer"}, 200
    )
    assert undone["reversed_by"]
    assert packer_api.get("/shipments/?is_reversed=true")["count"] == 1
    assert packer_api.get("/shipments/?is_reversed=false&customer=hen")["count"] == 0
    assert packer_api.get("/shipments/?lot=M1.1")["count"] == 1


@pytest.mark.parametrize(("verb", "state"), [("close", "closed"), ("cancel", "cancelled")])
def test_an_order_ends_over_the_api(
    customer: Customer, lot: Lot, packer_api: Caller, verb: str, state: str
) -> None:
    lines = [{"item": "MINNOW", "pieces": 1, "price": "1"}]
    order = packer_api.post("/customer-orders/", {"customer": "HEN", "lines": lines})
    address = f"/customer-orders/{order['code']}/{verb}/"
    assert packer_api.post(address, status=422)["code"] == "reason_missing"
    assert packer_api.post(address, {"reason": "called it off"}, 200)["state"] == state
    assert packer_api.get("/customer-orders/?state=open")["count"] == 0
    assert packer_api.get("/customer-orders/?item=minnow&ordering=-ordered_on")["count"] == 1


def test_a_refusal_is_a_problem_with_its_facts(lot: Lot, packer_api: Caller) -> None:
    problem = packer_api.post("/boxes/", {"contents": [{"lot": "M1", "pieces": 101}]}, 409)
    assert problem["code"] == "lot_short"
    assert problem["facts"]["lots"] == [
        {
            "lot": "M1",
            "on_hand": {"amount": "100", "unit": "each"},
            "wanted": {"amount": "101", "unit": "each"},
        }
    ]


@pytest.mark.parametrize(
    ("address", "body", "field"),
    [
        ("/boxes/", {"contents": [{"lot": "M1", "pieces": 0}]}, "contents"),
        ("/boxes/", {"contents": [{"lot": "M1", "pieces": 1.5}]}, "contents"),
        ("/boxes/", {"boxes": []}, "boxes"),
        ("/customer-orders/", {"customer": "HEN", "lines": []}, "lines"),
        ("/shipments/", {"customer": "HEN", "purpose": "gift"}, "purpose"),
        (
            "/customer-orders/",
            {"customer": "HEN", "lines": [{"item": "M", "pieces": 1, "price": 1.5}]},
            "lines",
        ),
        ("/customer-returns/", {"shipment": "S-2222", "place": "SHELF", "lines": []}, "lines"),
    ],
)
def test_what_cannot_be_meant_names_its_field(
    packer_api: Caller, address: str, body: Any, field: str
) -> None:
    assert field in packer_api.post(address, body, 422)["facts"]["fields"]


WRITES: list[tuple[str, Any]] = [
    ("/customers/", {"code": "X1", "name": "X"}),
    ("/customers/HEN/change/", {}),
    ("/customer-orders/", {}),
    ("/customer-orders/T-2222/close/", {}),
    ("/customer-orders/T-2222/cancel/", {}),
    ("/shipments/", {}),
    ("/shipments/S-2222/reverse/", {}),
    ("/customer-returns/", {}),
]
BOX_WRITES: list[tuple[str, Any]] = [
    ("/boxes/", {}),
    ("/boxes/A/add/", {}),
    ("/boxes/A/take-out/", {}),
    ("/boxes/A/close/", {}),
    ("/boxes/A/reopen/", {}),
    ("/boxes/A/put-in/", {}),
]


@pytest.mark.parametrize(("address", "body"), WRITES)
def test_the_bench_does_not_ship(client_of: ClientOf, address: str, body: Any) -> None:
    assert Caller(client_of(Role.BENCH)).post(address, body, 403)["code"] == "not_allowed"


@pytest.mark.parametrize(("address", "body"), [*WRITES, *BOX_WRITES])
def test_a_viewer_writes_nothing(client_of: ClientOf, address: str, body: Any) -> None:
    assert Caller(client_of(Role.VIEWER)).post(address, body, 403)["code"] == "not_allowed"


def test_the_bench_packs_boxes(lot: Lot, client_of: ClientOf) -> None:
    bench = Caller(client_of(Role.BENCH))
    assert bench.post("/boxes/", {"contents": [{"lot": "M1", "pieces": 1}]})["pieces"] == 1


@pytest.mark.parametrize(
    "address", ["customers", "customer-orders", "boxes", "shipments", "customer-returns"]
)
def test_everybody_reads_the_lists(client_of: ClientOf, address: str) -> None:
    assert Caller(client_of(Role.VIEWER)).get(f"/{address}/")["count"] == 0


@pytest.mark.parametrize(
    "address", ["customers", "customer-orders", "boxes", "shipments", "customer-returns"]
)
def test_a_list_takes_the_same_queries_for_any_number_of_rows(
    customer: Customer,
    lot: Lot,
    packer_api: Caller,
    address: str,
) -> None:
    def one_more(number: int) -> None:
        packer_api.post("/customers/", {"code": f"C{number}", "name": "X"})
        lines = [{"item": "MINNOW", "pieces": 9, "price": "1"}]
        packer_api.post("/customer-orders/", {"customer": "HEN", "lines": lines})
        box = packer_api.post("/boxes/", {"contents": [{"lot": "M1", "pieces": 1}]})
        packer_api.post(f"/boxes/{box['code']}/close/", status=200)
        prices = [{"item": "MINNOW", "price": "1"}]
        body = {"customer": "HEN", "boxes": [box["code"]], "prices": prices}
        line = packer_api.post("/shipments/", body)
        back = [{"lot": line["lines"][0]["lot"], "pieces": 1}]
        body = {"shipment": line["code"], "place": "RETURNS", "reason": "wrong", "lines": back}
        packer_api.post("/customer-returns/", body)
        packer_api.post("/boxes/", {"contents": [{"lot": "M1", "pieces": 1}]})

    def queries() -> int:
        with CaptureQueriesContext(connection) as caught:
            packer_api.get(f"/{address}/")
        return len(caught)

    one_more(1)
    few = queries()
    one_more(2)
    one_more(3)
    assert queries() == few
    assert CustomerOrder.objects.count() == 3


def test_the_newest_come_first(lot: Lot, packer_api: Caller) -> None:
    for code in ("B1", "B2"):
        packer_api.post("/boxes/", {"code": code})
    assert [row["code"] for row in packer_api.get("/boxes/")["results"]] == ["B2", "B1"]
    by_code = packer_api.get("/boxes/?ordering=code")["results"]
    assert [row["code"] for row in by_code] == ["B1", "B2"]

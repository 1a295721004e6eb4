"""Doors that take an amount of a lot, beside when and why."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import pytest
from rest_framework.test import APIClient

from inventory.catalog.models import Item, Place
from inventory.stock.models import Lot
from inventory.stock.operations import OpeningLot, take_in_opening_lots
from shopfloor.models import User
from tests.inventory.stock.conftest import NOON, stamp_at

WHY: dict[str, Any] = {"at": "2026-03-03T12:00:00Z", "reason": "spilled"}


@pytest.fixture
def lot_of_1_kg(adhesive: Item, lead: User) -> Lot:
    """Worth 50.00."""
    opening = OpeningLot(item_code=adhesive.code, qty_base=1_000_000, value_micro=50_000_000)
    return take_in_opening_lots(lots=[opening], stamp=stamp_at(lead, NOON)).made[0]


@pytest.fixture
def post(lead: User, lot_of_1_kg: Lot) -> Any:
    """`post("split", {...})`: does it to the lot."""
    client = APIClient()
    client.force_authenticate(lead)

    def send(what: str, body: dict[str, Any]) -> Any:
        path = f"/api/v1/lots/{lot_of_1_kg.code}/{what}/"
        return client.post(path, body, headers={"Idempotency-Key": uuid4().hex})

    return send


def test_a_part_is_split_off_and_put_elsewhere(post: Any, bench: Place) -> None:
    answer = post("split", {"amount": "0.2", "unit": "kg", "place": "bench", **WHY})
    assert answer.status_code == 201
    part = answer.json()
    assert (part["on_hand"], part["place"]) == ({"amount": "200", "unit": "g"}, "BENCH")
    assert part["value"] == "10.00"


@pytest.mark.parametrize(
    ("what", "amount", "moved"), [("dispose", "200", "-200"), ("adjust", "-0.5", "-0.5")]
)
def test_an_amount_is_taken_out_of_a_lot(post: Any, what: str, amount: str, moved: str) -> None:
    answer = post(what, {"amount": amount, "unit": "g", **WHY})
    assert answer.status_code == 201
    posting = answer.json()
    assert [row["amount"] for row in posting["movements"]] == [{"amount": moved, "unit": "g"}]
    assert (posting["reason"], posting["at"]) == ("spilled", "2026-03-03T12:00:00Z")


def test_an_adjustment_may_put_something_in(post: Any) -> None:
    answer = post("adjust", {"amount": "3", "unit": "g", **WHY})
    assert answer.json()["movements"][0]["amount"] == {"amount": "3", "unit": "g"}


@pytest.mark.parametrize("what", ["split", "dispose"])
def test_less_than_nothing_cannot_be_taken(post: Any, what: str) -> None:
    answer = post(what, {"amount": "-1", "unit": "g", **WHY})
    assert (answer.status_code, set(answer.json()["facts"]["fields"])) == (422, {"amount"})


@pytest.mark.parametrize("what", ["split", "dispose", "adjust", "open"])
@pytest.mark.parametrize(
    ("sent", "named"),
    [
        ({"amount": 0.5, "unit": "g"}, {"amount"}),
        ({"amount": "1e30", "unit": "g"}, {"amount"}),
        ({"amount": "1", "unit": "stone"}, {"unit"}),
        ({"amount": "1", "unit": "g", "color": "red"}, {"color"}),
        ({"amount": "1", "unit": "g", "reason": "a\x07b"}, {"reason"}),
    ],
)
def test_what_cannot_be_meant_is_named(
    post: Any, what: str, sent: dict[str, Any], named: set[str]
) -> None:
    answer = post(what, {**WHY, **sent})
    assert (answer.status_code, set(answer.json()["facts"]["fields"])) == (422, named)


def test_a_part_needs_its_unit(post: Any) -> None:
    answer = post("open", {"amount": "1", **WHY})
    assert (answer.status_code, set(answer.json()["facts"]["fields"])) == (422, {"body"})


def test_a_container_is_opened_for_a_part(post: Any) -> None:
    answer = post("open", {"amount": "100", "unit": "g", **WHY})
    assert answer.status_code == 200
    assert answer.json()["on_hand"] == {"amount": "100", "unit": "g"}
    assert answer.json()["opened_at"] == "2026-03-03T12:00:00Z"

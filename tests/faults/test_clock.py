"""A clock that was set back: what can be recorded is, what cannot is told why, nothing breaks."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.utils import timezone
from rest_framework.test import APIClient

from batches.exchange.selectors.proofs import floor_proofs
from batches.runs.models import Batch
from inventory.stock.models import Lot, Posting
from inventory.stock.selectors.proofs import ledger_proofs
from shopfloor.models import RequestKey, User
from shopfloor.operations import issue_token
from tests.batches.runs import conftest as runs

shop = runs.shop
lead = runs.lead

NOW = runs.LATER
Ask = Callable[..., Any]
SetClock = Callable[[datetime], None]


@pytest.fixture
def set_clock(monkeypatch: pytest.MonkeyPatch) -> SetClock:
    """Doors read the clock by this one function."""
    return lambda now: monkeypatch.setattr(timezone, "now", lambda: now)


@pytest.fixture
def gluing(shop: User) -> Batch:
    runs.stock(shop, "HALF", 10**6)
    runs.stock(shop, "ADH-A", 10**9)
    return runs.running(shop, "BODY")


@pytest.fixture
def post(shop: User, gluing: Batch) -> Ask:
    """Writes by the door, at the time that the clock says."""
    token = issue_token(username=shop.username, name="a test", by=shop, at=runs.NOON).text
    client = APIClient(headers={"Authorization": f"Token {token}"})

    def ask(path: str, *, key: str, **body: object) -> Any:
        return client.post(f"/api/v1/{path}", body, headers={"Idempotency-Key": key})

    return ask


@pytest.fixture
def record(post: Ask, gluing: Batch) -> Ask:
    good = [{"amount": "7", "unit": "each"}]
    return lambda key: post(f"batches/{gluing.code}/entries/", key=key, good=good)


def differences() -> list[str]:
    return [line for p in (*ledger_proofs(), *floor_proofs()) for line in p.differences]


def test_a_clock_set_back_records_on_and_breaks_nothing(record: Ask, set_clock: SetClock) -> None:
    clocks = [NOW, NOW - timedelta(hours=2), NOW + timedelta(minutes=1)]
    for number, now in enumerate(clocks):
        set_clock(now)
        assert record(f"k{number}").status_code == 201
    # What was recorded is in the order of its numbers, whatever the clock said.
    recorded = Posting.objects.filter(kind="made").order_by("pk")
    assert list(recorded.values_list("recorded_at", flat=True)) == clocks
    assert differences() == []


def test_what_needs_a_lot_of_later_is_told_to_set_the_clock(
    post: Ask, record: Ask, set_clock: SetClock
) -> None:
    set_clock(NOW + timedelta(days=365))
    made = record("ahead").json()["made"][0]["lot"]
    body = {"amount": "1", "unit": "each", "reason": "fell"}
    set_clock(NOW)
    refused = post(f"lots/{made}/dispose/", key="k", **body)
    assert (refused.status_code, refused.json()["code"]) == (409, "lot_not_there_yet")
    assert "Set the clock right" in refused.json()["detail"]
    assert Lot.objects.get(code=made).on_hand_base == 7
    assert not RequestKey.objects.filter(key="k").exists()
    set_clock(NOW + timedelta(days=366))
    assert post(f"lots/{made}/dispose/", key="k", **body).status_code == 201
    assert differences() == []

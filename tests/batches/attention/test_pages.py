"""The first page: empty, alive, and as many statements whatever stands on the shelves."""

from __future__ import annotations

from datetime import timedelta
from http import HTTPStatus

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from batches.attention.selectors import overview
from inventory.catalog.operations import change_item
from inventory.stock.operations import hold_lot, open_lot
from shopfloor.days import shop_day
from shopfloor.models import User
from tests.batches.runs.conftest import NOON, lead, running, shop, stamp_at, stock

OVERVIEW_STATEMENTS = 10  # in a shop that buys nothing; six more where it does

__all__ = ["lead", "shop"]  # fixtures of the room below


def test_an_empty_shop_says_how_to_begin(client: Client, lead: User) -> None:
    client.force_login(lead, backend="django.contrib.auth.backends.ModelBackend")
    answer = client.get("/")
    assert answer.status_code == HTTPStatus.OK
    text = answer.content.decode()
    assert "Nothing is on the shelves yet" in text
    assert "/api/docs/" in text


def test_the_page_shows_what_is_held_runs_and_expires(client: Client, shop: User) -> None:
    halves = stock(shop, "HALF", 500, 5_000_000)
    soon = stock(shop, "ADH-A", 100_000, expires_at=NOON + timedelta(days=3))
    batch = running(shop, "BODY")
    hold = hold_lot(lot_code=halves.code, stamp=stamp_at(shop, reason="looks short"))
    client.force_login(shop, backend="django.contrib.auth.backends.ModelBackend")
    text = client.get("/").content.decode()
    assert "5.00 USD" in text
    assert hold.code in text
    assert "looks short" in text
    assert batch.code in text
    assert soon.code in text


@pytest.mark.parametrize("lots", [1, 30])
def test_the_overview_takes_as_many_statements_for_thirty_lots_as_for_one(
    shop: User, lots: int
) -> None:
    for _ in range(lots):
        stock(shop, "ADH-A", 100_000, expires_at=NOON + timedelta(days=3))
    with CaptureQueriesContext(connection) as seen:
        overview(now=NOON)
    assert len(seen) == OVERVIEW_STATEMENTS


def test_an_open_container_is_named_by_the_end_of_its_opened_life(shop: User) -> None:
    change_item(code="ADH-A", fields={"opened_life_minutes": 60 * 24 * 2}, by=shop, at=NOON)
    shut = stock(shop, "ADH-A", 100_000, expires_at=NOON + timedelta(days=300))
    assert overview(now=NOON).expiring == []
    open_lot(lot_code=shut.code, stamp=stamp_at(shop))
    row = overview(now=NOON).expiring[0]
    assert (row.lot, row.amount, row.is_past) == (shut.code, "100 g", False)
    assert row.use_by == shop_day(NOON + timedelta(days=2)).isoformat()
    assert overview(now=NOON + timedelta(days=3)).expiring[0].is_past


def test_what_waits_for_a_test_is_counted(shop: User) -> None:
    stock(shop, "HALF", 500, 5_000_000)
    stock(shop, "HALF", 20, disposition="quarantined")
    found = overview(now=NOON)
    assert (found.lots, found.items, found.quarantined) == (2, 1, 1)

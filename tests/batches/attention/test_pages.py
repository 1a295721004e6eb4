"""The first page: empty, alive, and as many statements whatever stands on the shelves."""

from __future__ import annotations

from datetime import timedelta
from http import HTTPStatus

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from batches.attention.selectors import overview
from inventory.stock.operations import hold_lot
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

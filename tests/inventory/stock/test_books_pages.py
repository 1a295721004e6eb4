"""Pages for who keeps the books."""

from __future__ import annotations

import pytest
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from inventory.stock.models import Lot
from shopfloor.models import User


@pytest.fixture
def desk(lead: User, lot_of_500_hooks: Lot) -> Client:
    client = Client()
    client.force_login(lead)
    return client


def test_a_period_stands_in_one_look_above_its_lines(
    desk: Client, lot_of_500_hooks: Lot, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    with django_assert_max_num_queries(12):
        page = desk.get("/books/?from=2026-01-01&to=2026-12-31").content.decode()
    assert "Stock before" in page
    assert "ask a licensed adviser" in page
    assert f"/lots/{lot_of_500_hooks.code}/" in page
    assert "/books-closings/new/" not in page, "that is for owners"


def test_days_the_wrong_way_round_are_said_above_the_form_that_keeps_them(desk: Client) -> None:
    refused = desk.get("/books/?from=2026-02-01&to=2026-01-01")
    page = refused.content.decode()
    assert refused.status_code == 422
    assert "The last day is before the first." in page
    assert 'value="2026-02-01" type="date"' in page


def test_the_stock_of_a_day_and_the_postings_have_pages(
    desk: Client, lot_of_500_hooks: Lot
) -> None:
    assert desk.get("/books/stock/").status_code == 200
    assert "/postings/P-" in desk.get("/postings/").content.decode()

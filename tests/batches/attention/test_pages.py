"""The first page: what needs a person, in order of harm, each a click away; and how to begin."""

from __future__ import annotations

import re
from datetime import timedelta
from html import unescape
from typing import Any

import pytest
from django.test import override_settings
from django.urls import resolve

from batches.attention.selectors import Line, first_steps, overview
from inventory.catalog.operations import change_item
from inventory.stock.operations import hold_lot, open_lot
from shopfloor.days import shop_day
from shopfloor.models import User
from tests.batches.runs.conftest import NOON, lead, running, shop, stamp_at, stock
from tests.pages import STATEMENTS_MAX, browse, text_of

OVERVIEW_STATEMENTS = 7

__all__ = ["lead", "shop"]  # fixtures of the room below


def lines(slug: str, *, days: int = 0) -> list[Line]:
    """The lines of a group, so many days later."""
    found = overview(now=NOON + timedelta(days=days))
    group = next(each for each in (*found.harm, *found.work) if each.slug == slug)
    return list(group.lines)


@override_settings(SHOP_NAME="Lure shop")
def test_an_empty_shop_leads_from_nothing_to_the_first_run(lead: User) -> None:
    text = text_of(browse(lead).get("/"))
    assert "First steps" in text
    assert "Done:" not in text
    assert [step.is_done for step in first_steps(person_id=lead.pk)] == [False] * 6


@override_settings(SHOP_NAME="Hen's lures", SHOP_TIME_ZONE="America/Chicago")
def test_each_step_says_when_it_is_done(shop: User) -> None:
    stock(shop, "HALF", 500)
    named, items, lots, bills, run, label = first_steps(person_id=shop.pk)
    assert [each.is_done for each in (named, items, lots, bills)] == [True] * 4
    assert [each.is_done for each in (run, label)] == [False] * 2
    assert [each.is_needed for each in (label, run)] == [False, True]


def test_the_page_shows_what_is_held_runs_and_expires_with_the_way_to_each(shop: User) -> None:
    halves = stock(shop, "HALF", 500, 5_000_000)
    soon = stock(shop, "ADH-A", 100_000, expires_at=NOON + timedelta(days=3))
    batch = running(shop, "BODY")
    hold = hold_lot(lot_code=halves.code, stamp=stamp_at(shop, reason="looks short"))
    page = browse(shop).get("/")
    text, html = text_of(page), page.content.decode()
    assert "5.00 USD" in text
    assert "looks short; stops 1 lot" in text
    for address in (f"/holds/{hold.code}/", f"/batches/{batch.code}/", f"/lots/{soon.code}/"):
        assert f'href="{address}"' in html
    assert text.index("Held") < text.index("To order today") < text.index("Running")
    assert "No defect became more frequent." in text


def test_every_way_from_the_page_leads_somewhere(shop: User) -> None:
    hold_lot(lot_code=stock(shop, "HALF", 500).code, stamp=stamp_at(shop, reason="short"))
    stock(shop, "ADH-A", 100_000, expires_at=NOON + timedelta(days=3))
    running(shop, "BODY")
    main = browse(shop).get("/").content.decode().partition("<main")[2]
    addresses = re.findall(r'(?:href|hx-get)="(/[^"?]*)', unescape(main))
    assert len(addresses) > 10
    assert [resolve(address).func for address in addresses]


@pytest.mark.parametrize("lots", [1, 30])
def test_the_page_takes_as_many_statements_for_thirty_lots_as_for_one(
    shop: User, lots: int, django_assert_num_queries: Any, django_assert_max_num_queries: Any
) -> None:
    for _ in range(lots):
        stock(shop, "ADH-A", 100_000, expires_at=NOON + timedelta(days=3))
    with django_assert_num_queries(OVERVIEW_STATEMENTS):
        overview(now=NOON)
    client = browse(shop)
    with django_assert_max_num_queries(STATEMENTS_MAX):
        client.get("/")
    with django_assert_max_num_queries(STATEMENTS_MAX):
        due = client.get("/today/orders/")
    assert text_of(due) == "Nothing needs ordering today."
    with django_assert_max_num_queries(STATEMENTS_MAX):
        counts = client.get("/today/counts/")
    assert f"{lots} lot" in text_of(counts)


def test_an_open_container_is_named_by_the_end_of_its_opened_life(shop: User) -> None:
    change_item(code="ADH-A", fields={"opened_life_minutes": 60 * 24 * 2}, by=shop, at=NOON)
    shut = stock(shop, "ADH-A", 100_000, expires_at=NOON + timedelta(days=300))
    assert lines("expiring") == []
    open_lot(lot_code=shut.code, stamp=stamp_at(shop))
    [line] = lines("expiring")
    assert line.address == f"/lots/{shut.code}/"
    assert line.says == f"100 g, use by {shop_day(NOON + timedelta(days=2))}"
    assert not line.is_late
    assert lines("expiring", days=3)[0].is_late


def test_a_run_left_open_since_an_earlier_day_is_said_to_be(shop: User) -> None:
    running(shop, "BODY")
    assert not lines("running")[0].is_late
    [line] = lines("running", days=2)
    assert line.is_late
    assert "left open since 2026-03-02" in line.says


def test_what_waits_for_a_test_is_counted(shop: User) -> None:
    stock(shop, "HALF", 500, 5_000_000)
    stock(shop, "HALF", 20, disposition="quarantined")
    found = overview(now=NOON)
    assert (found.lots, found.items, found.quarantined) == (2, 1, 1)

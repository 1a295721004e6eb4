"""Pages of the reorder list: tick, order, see why, decide."""

from __future__ import annotations

import re
from datetime import timedelta
from html import unescape
from typing import Any

import pytest
from django.utils import timezone

from inventory.catalog.models import Offer
from inventory.reorder.models import ReorderPolicy
from shopfloor.models import User
from tests.inventory.conftest import LATER, NOON
from tests.inventory.reorder.conftest import hold_lot_of, use_every_day
from tests.pages import STATEMENTS_MAX, browse, send, text_of


@pytest.fixture(autouse=True)
def _first_of_april(monkeypatch: pytest.MonkeyPatch) -> None:
    """The doors read the clock; the history of these tests ends the day before."""
    monkeypatch.setattr(timezone, "now", lambda: LATER)


@pytest.fixture
def hooks_due(lead: User, hook_offer: Offer) -> Offer:
    """A hundred a day, 7,847 left, which is the reorder point."""
    hold_lot_of(lead, 7847 + 3000, at=NOON)
    use_every_day(lead, [90, 110] * 15)
    return hook_offer


def test_what_is_due_is_listed_with_its_why_and_led_on_to_an_order_that_is_filled_in(
    lead: User, hooks_due: Offer, django_assert_max_num_queries: Any
) -> None:
    client = browse(lead)
    with django_assert_max_num_queries(STATEMENTS_MAX):
        page = client.get("/reorder/")
    assert "7,847 pieces left and on order, for 78 days: at or below the reorder point" in text_of(
        page
    )
    assert 'href="/planning/suggested-orders/"' in page.content.decode()
    item = client.get("/reorder/HOOK-6/").content.decode()
    [address] = re.findall(r'href="(/supplier-orders/new/[^"]*)"', unescape(item))
    html = client.get(address).content.decode()
    assert 'name="lines.0.item" value="HOOK-6"' in html
    assert re.search(r'name="lines\.0\.packs" value="[1-9]', html)


def test_an_item_shows_its_why_its_figures_and_stock_ahead(
    viewer: User, hooks_due: Offer, django_assert_max_num_queries: Any
) -> None:
    client = browse(viewer)
    with django_assert_max_num_queries(STATEMENTS_MAX):
        page = client.get("/reorder/HOOK-6/")
    text = text_of(page)
    assert "Order it now." in text
    assert "Reorder point 8,496 pieces" in text
    assert '<svg class="chart"' in page.content.decode()
    last_on = (LATER + timedelta(days=116)).date()
    assert f"On {last_on}" in page.content.decode()
    assert "What a person decides" not in text  # a viewer decides nothing


def test_a_policy_is_set_and_a_wrong_one_stands_at_its_field(lead: User, hooks_due: Offer) -> None:
    client = browse(lead)
    wrong = send(
        client, "/reorder/HOOK-6/policy/", service_level="0.2", review_days="9", is_watched="true"
    )
    assert wrong.status_code == 422
    html = wrong.content.decode()
    assert 'value="0.2"' in html
    assert "must be above 0.5" in html
    assert not ReorderPolicy.objects.exists()
    done = send(
        client, "/reorder/HOOK-6/policy/", service_level="0.9", review_days="9", is_watched="true"
    )
    assert done.headers["Location"] == "/reorder/HOOK-6/"
    assert ReorderPolicy.objects.get().review_days == 9


def test_a_viewer_may_look_but_not_decide(viewer: User, hooks_due: Offer) -> None:
    assert send(browse(viewer), "/reorder/HOOK-6/policy/", review_days="9").status_code == 403


def test_an_unknown_item_is_said(lead: User) -> None:
    page = browse(lead).get("/reorder/NO-SUCH/")
    assert page.status_code == 404
    assert "No item has this code." in text_of(page)

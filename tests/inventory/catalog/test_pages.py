"""Pages of items and the like: a change sends only what differs."""

from __future__ import annotations

import re
from html import unescape

from django.test import Client

from inventory.catalog.models import Item, Offer
from shopfloor.models import Change

KEY = "a-form-of-this-test"


def test_an_item_is_added_by_its_form(desk: Client) -> None:
    form = {
        "idempotency_key": KEY,
        "code": "ring-2",
        "name": "Split ring, size 2",
        "kind": "split_ring",
        "dimension": "count",
        "display_unit": "gross",
        "is_active": ["false", "true"],
    }
    done = desk.post("/items/new/", form)
    assert done["Location"] == "/items/RING-2/"
    page = desk.get(done["Location"]).content.decode()
    assert "RING-2 is added." in page
    assert "No supplier offers it yet." in page


def test_a_change_keeps_what_was_not_touched(desk: Client, paint: Item) -> None:
    address = f"/items/{paint.code}/change/"
    shown = desk.get(address).content.decode()
    assert f'value="{paint.name}"' in shown
    form = {"idempotency_key": KEY, "name": "Black, matte", "shelf_life_days": ""}
    assert desk.post(address, form)["Location"] == f"/items/{paint.code}/"
    changed = Item.objects.get(pk=paint.pk)
    assert (changed.name, changed.shelf_life_days) == ("Black, matte", None)
    assert changed.opened_life_minutes == paint.opened_life_minutes
    kept = Change.objects.latest("pk")
    assert kept.after.keys() == {"name", "shelf_life_days"}


def test_what_somebody_else_changed_meanwhile_is_not_turned_back(desk: Client, paint: Item) -> None:
    address = f"/items/{paint.code}/change/"
    html = desk.get(address).content.decode()
    shown = unescape(re.search(r'name="shown" value="([^"]*)"', html)[1])  # type: ignore[index]
    desk.post(address, {"idempotency_key": "another", "name": "Black, gloss"})
    form = {"idempotency_key": KEY, "shown": shown, "name": paint.name, "shelf_life_days": "90"}
    desk.post(address, form)
    changed = Item.objects.get(pk=paint.pk)
    assert (changed.name, changed.shelf_life_days) == ("Black, gloss", 90)


def test_an_items_page_shows_who_offers_it_and_at_what_price(
    desk: Client, hook_offer: Offer
) -> None:
    page = desk.get("/items/HOOK-6/").content.decode()
    assert '<a href="/suppliers/HOOKS/">HOOKS</a>' in page
    assert 'href="/reorder/HOOK-6/"' in page


def test_a_code_that_is_taken_is_said_and_everything_typed_stays(
    desk: Client, hook_offer: Offer
) -> None:
    form = {
        "idempotency_key": KEY,
        "code": "HOOK-6",
        "name": "Another hook",
        "kind": "hook",
        "dimension": "count",
        "display_unit": "each",
    }
    page = desk.post("/items/new/", form)
    assert page.status_code in {409, 422}
    assert 'value="Another hook"' in page.content.decode()
    assert Item.objects.filter(name="Another hook").count() == 0

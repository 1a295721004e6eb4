"""Pages of lots: a list is sifted, a lot is acted upon, what was typed is never lost."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from inventory.catalog.models import Item, Place
from inventory.stock.models import Lot, Movement
from inventory.stock.operations import OpeningLot, take_in_opening_lots
from shopfloor.models import User
from tests.inventory.stock.conftest import NOON, stamp_at

STATEMENTS_MAX = 12
KEY = "a-form-of-this-test"
IN_MAY = "2026-05-04T12:00"

Browsing = Callable[[User], Client]


@pytest.fixture
def browsing() -> Browsing:
    def browse(person: User) -> Client:
        client = Client()
        client.force_login(person)
        return client

    return browse


def text_of(answer: Any) -> str:
    """The page as it is read: without its marks."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode()))


def test_lots_on_hand_are_listed_and_an_empty_one_when_asked_for(
    browsing: Browsing, lead: User, lot_of_500_hooks: Lot
) -> None:
    page = browsing(lead).get("/lots/")
    assert f'<a href="/lots/{lot_of_500_hooks.code}/">' in page.content.decode()
    assert "1 in all" in text_of(page)
    none = browsing(lead).get("/lots/?is_on_hand=false")
    assert "Nothing fits these filters." in text_of(none)


def test_a_filter_that_cannot_be_meant_is_said_and_what_was_typed_stays(
    browsing: Browsing, lead: User, lot_of_500_hooks: Lot
) -> None:
    page = browsing(lead).get("/lots/?item=NO-SUCH-ITEM")
    assert page.status_code == 422
    assert "Nothing has the code NO-SUCH-ITEM." in text_of(page)
    assert 'value="NO-SUCH-ITEM"' in page.content.decode()


def test_a_long_list_takes_few_statements_and_has_pages_and_sheets(
    browsing: Browsing, lead: User, hook: Item, django_assert_max_num_queries: Any
) -> None:
    opening = [OpeningLot(item_code=hook.code, qty_base=5, value_micro=100) for _ in range(120)]
    take_in_opening_lots(lots=opening, stamp=stamp_at(lead, NOON))
    client = browsing(lead)
    with django_assert_max_num_queries(STATEMENTS_MAX):
        page = client.get("/lots/?is_on_hand=true&page=2")
    html = page.content.decode()
    assert html.count('<th scope="row"') == 50
    assert 'href="?is_on_hand=true&amp;page=1"' in html
    assert 'href="?is_on_hand=true&amp;page=3"' in html
    assert 'href="/api/v1/lots/?is_on_hand=true&amp;format=csv"' in html


def test_a_heading_orders_and_turns_round(
    browsing: Browsing, lead: User, lot_of_500_hooks: Lot
) -> None:
    html = browsing(lead).get("/lots/?ordering=on_hand_base").content.decode()
    assert 'aria-sort="ascending"' in html
    assert 'href="?ordering=-on_hand_base"' in html


def test_each_role_sees_what_it_may_do_with_a_lot(
    browsing: Browsing, lead: User, viewer: User, lot_of_500_hooks: Lot
) -> None:
    address = f"/lots/{lot_of_500_hooks.code}/"
    may_write, may_not = browsing(lead).get(address), browsing(viewer).get(address)
    assert "Throw away" in text_of(may_write)
    assert "Throw away" not in text_of(may_not)
    assert "Sticker" in text_of(may_not)
    assert browsing(viewer).get(f"{address}dispose/").status_code == 403


def test_a_lot_is_moved_once_however_often_the_form_is_sent(
    browsing: Browsing, lead: User, lot_of_500_hooks: Lot, bench: Place
) -> None:
    address = f"/lots/{lot_of_500_hooks.code}/"
    client = browsing(lead)
    assert '<option value="each" selected>' in client.get(f"{address}move/").content.decode()
    form = {
        "idempotency_key": KEY,
        "amount": "120",
        "unit": "each",
        "place": "bench",
        "at": IN_MAY,
        "reason": "",
    }
    first, again = client.post(f"{address}move/", form), client.post(f"{address}move/", form)
    assert (first.status_code, first["Location"]) == (302, address)
    assert again.status_code == 302
    parts = Lot.objects.filter(parent=lot_of_500_hooks)
    assert [(part.place.code, part.on_hand_base) for part in parts] == [("BENCH", 120)]
    assert "Done." in text_of(client.get(address))


def test_a_refusal_stands_above_the_form_that_still_has_everything(
    browsing: Browsing, lead: User, lot_of_500_hooks: Lot, bench: Place
) -> None:
    form = {"idempotency_key": KEY, "amount": "501", "unit": "each", "place": "BENCH", "at": IN_MAY}
    before = Movement.objects.count()
    page = browsing(lead).post(f"/lots/{lot_of_500_hooks.code}/move/", form)
    assert page.status_code == 409
    html = page.content.decode()
    assert "500" in text_of(page)
    assert 'value="501"' in html
    assert f'value="{KEY}"' in html
    assert Movement.objects.count() == before


def test_what_is_wrong_with_a_field_stands_at_the_field(
    browsing: Browsing, lead: User, lot_of_500_hooks: Lot
) -> None:
    form = {"idempotency_key": KEY, "amount": "a dozen", "unit": "each", "place": ""}
    page = browsing(lead).post(f"/lots/{lot_of_500_hooks.code}/move/", form)
    html = page.content.decode()
    assert page.status_code == 422
    assert 'aria-describedby="f-amount-wrong"' in html
    assert 'aria-describedby="f-place-wrong"' in html
    assert 'value="a dozen"' in html


def test_codes_are_offered_while_they_are_typed(
    browsing: Browsing, viewer: User, hook: Item
) -> None:
    client = browsing(viewer)
    offered = client.get("/choices/items/?search=treble").content.decode()
    assert '<option value="HOOK-6">Treble hook</option>' in offered
    assert client.get("/choices/people/").status_code == 404


def test_a_lot_that_there_is_not_is_said_so(browsing: Browsing, lead: User) -> None:
    page = browsing(lead).get("/lots/L-NONE/")
    assert page.status_code == 404
    assert "L-NONE" in text_of(page)


def test_a_packer_holds_a_lot_and_a_lead_releases_it(
    browsing: Browsing, owner: User, lead: User, packer: User, lot_of_500_hooks: Lot
) -> None:
    address = f"/lots/{lot_of_500_hooks.code}/"
    form = {"idempotency_key": KEY, "reason": "points bend", "at": IN_MAY}
    browsing(packer).post(f"{address}hold/", form)
    assert "held" in text_of(browsing(packer).get(address))
    assert browsing(packer).post(f"{address}release/", form).status_code == 403
    later = {**form, "at": "2026-05-04T12:05", "reason": "ten pulled, none bent"}
    assert browsing(lead).post(f"{address}release/", later)["Location"] == address
    lot_of_500_hooks.refresh_from_db()
    assert lot_of_500_hooks.disposition == "released"

"""Pages of counts: units are never guessed, what differs is shown first, and a count is undone."""

from __future__ import annotations

import html
import re
from typing import Any

from django.conf import settings
from django.test import Client

from inventory.catalog.models import Item
from inventory.stock.models import Count, Lot, Movement
from inventory.stock.operations import Found, count_lots
from inventory.stock.pages.counts import LOTS_MAX
from shopfloor.models import User
from tests.inventory.stock.conftest import NOON, stamp_at

KEY = "a-form-of-this-test"
IN_MAY = "2026-05-04T12:00"


def typed(lot: Lot, pieces: str, **more: str) -> dict[str, str]:
    return {
        "idempotency_key": KEY,
        "at": IN_MAY,
        "lines.0.lot": lot.code,
        "lines.0.found.amount": pieces,
        "lines.0.found.unit": "each",
        "lines.1.found.unit": "",
        **more,
    }


def text_of(page: Any) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page.content.decode()))


def shown(page: Any) -> str:
    """What the form remembers of what it showed."""
    found = re.search(r'name="shown" value="([^"]*)"', page.content.decode())
    assert found is not None
    return html.unescape(found[1])


def test_a_row_begins_without_a_unit_and_without_one_nothing_is_counted(
    desk: Client, lot_of_500_hooks: Lot
) -> None:
    page = desk.get("/counts/new/").content.decode()
    units = re.findall(r'<select name="lines.0.found.unit"[^>]*>(<option[^>]*>)', page)
    assert units == ['<option value="" selected>']
    form = typed(lot_of_500_hooks, "500", **{"lines.0.found.unit": ""})
    refused = desk.post("/counts/new/", form)
    assert refused.status_code == 422
    assert "Choose the unit." in text_of(refused)
    assert not Count.objects.exists()


def test_a_lot_that_stands_twice_is_said_at_its_rows_before_anything_is_shown_to_confirm(
    desk: Client, lot_of_500_hooks: Lot
) -> None:
    again = {"lines.1.lot": lot_of_500_hooks.code, "lines.1.found.amount": "2"}
    form = typed(lot_of_500_hooks, "1", **again, **{"lines.1.found.unit": "each"})
    refused = desk.post("/counts/new/", form)
    assert refused.status_code == 422
    assert refused.content.decode().count('class="wrong"') == 2
    assert "A lot stands twice in the count. Add the two up." in text_of(refused)
    assert "Is this right?" not in text_of(refused)


def test_a_shelf_offers_its_lots_by_name_and_in_their_unit(
    desk: Client, lot_of_500_hooks: Lot
) -> None:
    page = desk.get("/counts/new/?place=SHELF-A")
    offered = page.content.decode()
    assert f'name="lines.0.lot" value="{lot_of_500_hooks.code}"' in offered
    assert '<option value="each" selected>' in offered
    assert "HOOK-6 Treble hook" in text_of(page)
    assert '<option value="SHELF-A" selected>' in offered
    assert offered.index("<summary>More") < offered.index('name="lines.0.gross.amount"')


def test_as_many_lots_of_a_shelf_as_are_offered_can_be_sent(
    desk: Client, lot_of_500_hooks: Lot
) -> None:
    page = desk.get("/counts/new/?place=SHELF-A").content.decode()
    of_a_row = page.count('name="lines.0.')
    assert of_a_row * LOTS_MAX + 100 < settings.DATA_UPLOAD_MAX_NUMBER_FIELDS


def test_what_differs_is_shown_and_posted_only_when_it_is_sent_once_more(
    desk: Client, lot_of_500_hooks: Lot
) -> None:
    form = typed(lot_of_500_hooks, "2", reason="three bent ones thrown away")
    look = desk.post("/counts/new/", form)
    assert "Nothing is posted yet. 1 of 1 counted lot differs" in text_of(look)
    assert "HOOK-6 500 2 -498 -9.96" in text_of(look)
    assert not Count.objects.exists()
    changed = {**form, "lines.0.found.amount": "497", "shown": shown(look)}
    again = desk.post("/counts/new/", changed)
    assert "HOOK-6 500 497 -3 -0.06" in text_of(again)
    assert not Count.objects.exists()
    done = desk.post("/counts/new/", {**changed, "shown": shown(again)})
    assert "497" in text_of(desk.get(done["Location"]))
    lot_of_500_hooks.refresh_from_db()
    assert lot_of_500_hooks.on_hand_base == 497
    sent_twice = desk.post("/counts/new/", {**changed, "shown": shown(again)})
    assert sent_twice["Location"] == done["Location"]
    assert Count.objects.count() == 1


def test_a_lot_that_changed_after_it_was_shown_is_shown_anew(
    desk: Client, lot_of_500_hooks: Lot, lead: User
) -> None:
    form = typed(lot_of_500_hooks, "497", reason="bent")
    look = desk.post("/counts/new/", form)
    count_lots(found=[Found(lot_of_500_hooks.code, 499)], stamp=stamp_at(lead, NOON))
    refused = desk.post("/counts/new/", {**form, "shown": shown(look)})
    assert refused.status_code == 409
    assert "HOOK-6 499 497 -2" in text_of(refused)
    assert Count.objects.count() == 1


def test_a_count_that_agrees_is_posted_at_once_and_rows_left_empty_are_not_counted(
    desk: Client, lot_of_500_hooks: Lot
) -> None:
    form = typed(lot_of_500_hooks, "")
    none = desk.post("/counts/new/", form)
    assert "Write what you found of at least one lot" in text_of(none)
    first_empty = {**form, "lines.1.lot": lot_of_500_hooks.code}
    first_empty |= {"lines.1.found.amount": "500", "lines.1.found.unit": "each"}
    desk.post("/counts/new/", first_empty)
    count = Count.objects.get()
    assert (count.lines.count(), count.posting) == (1, None)


def test_a_problem_stands_at_its_row_though_rows_before_it_are_empty(
    desk: Client, lot_of_500_hooks: Lot, adhesive: Item
) -> None:
    form = typed(lot_of_500_hooks, "")
    form |= {"lines.1.lot": lot_of_500_hooks.code, "lines.1.found.amount": "many"}
    form |= {"lines.1.found.unit": "each"}
    page = desk.post("/counts/new/", form)
    assert page.status_code == 422
    wrong = r'name="lines.0.found.amount" value="many"[^>]*aria-invalid="true"'
    assert re.search(wrong, page.content.decode())


def test_more_rows_are_offered_and_nothing_is_written(desk: Client, lot_of_500_hooks: Lot) -> None:
    before = Movement.objects.count()
    form = typed(lot_of_500_hooks, "1", more_rows="lines")
    page = desk.post("/counts/new/", form).content.decode()
    assert f'value="{lot_of_500_hooks.code}"' in page
    assert 'name="lines.4.lot"' in page
    assert Movement.objects.count() == before


def test_a_count_is_undone_from_its_page_and_from_its_posting(
    desk: Client, lot_of_500_hooks: Lot, lead: User
) -> None:
    count = count_lots(found=[Found(lot_of_500_hooks.code, 2)], stamp=stamp_at(lead, NOON))
    undo = f"/counts/{count.code}/reverse/"
    assert f'href="{undo}"' in desk.get(f"/counts/{count.code}/").content.decode()
    posting = desk.get(f"/postings/{count.posting}/").content.decode()
    assert f'href="{undo}"' in posting
    assert "HOOK-6 500 2 -498 -9.96" in text_of(desk.get(undo))
    done = desk.post(undo, {"idempotency_key": KEY, "reason": "in milligrams"})
    after = desk.get(done["Location"])
    assert "Undone by" in text_of(after)
    assert f'href="{undo}"' not in after.content.decode()
    lot_of_500_hooks.refresh_from_db()
    assert (lot_of_500_hooks.on_hand_base, lot_of_500_hooks.value_micro) == (500, 10_000_000)

"""Pages of the trace and of causes: scan, see, go on from there, act."""

from __future__ import annotations

import re
from html import unescape
from typing import Any

import pytest

from batches.trace import pages
from batches.trace.rules import wording
from inventory.stock.models import Lot
from shopfloor.models import User
from tests.batches import floor
from tests.batches.trace.conftest import Run, bodies, checked
from tests.pages import STATEMENTS_MAX, browse, text_of


def test_a_lot_is_traced_forward_drawn_and_told_in_tables(
    run: Run, lead: User, django_assert_max_num_queries: Any
) -> None:
    client = browse(lead)
    with django_assert_max_num_queries(STATEMENTS_MAX):
        page = client.get("/trace/", {"code": run.adhesive.code.lower()})
    html, text = page.content.decode(), text_of(page)
    assert "1 customer got something of it" in text
    assert "<svg" in html
    assert f'href="?code={run.lure.code}&amp;way=downstream#drawn"' in html
    assert f'href="/lots/{run.adhesive.code}/hold/"' in html
    assert f'href="/recalls/new/?lots={run.adhesive.code}"' in html
    assert f"/api/v1/trace/downstream.pdf?lot={run.adhesive.code}" in html
    assert "HEN" in text


def test_a_long_table_is_cut_and_says_where_all_of_it_is(
    run: Run, lead: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pages, "LAYERS_MAX", 3)
    page = browse(lead).get("/trace/", {"code": run.adhesive.code})
    assert "The first 3 of " in text_of(page)
    [sheet] = re.findall(r'href="([^"]*rows=nodes)"', unescape(page.content.decode()))
    answer: Any = browse(lead).get(sheet)
    assert b"".join(answer.streaming_content).count(b"\n") > 3


def test_a_box_is_traced_back_to_what_was_received(run: Run, viewer: User) -> None:
    page = browse(viewer).get("/trace/", {"code": "BOX-1"})
    text = text_of(page)
    assert "What went into box BOX-1" in text
    assert "GA-17" in text  # the supplier's lot
    assert "Begin a recall" not in text  # a viewer begins none


def test_what_is_no_start_is_named_with_the_way_on(run: Run, lead: User) -> None:
    page = browse(lead).get("/trace/", {"code": "GLUE-A"})
    assert page.status_code == 200
    assert "A trace begins with a lot, a batch or a box." in text_of(page)
    assert 'href="/lots/?item=GLUE-A"' in page.content.decode()


def test_an_unknown_code_is_said_and_stays_to_be_mended(run: Run, lead: User) -> None:
    page = browse(lead).get("/trace/", {"code": "NO-SUCH"})
    assert page.status_code == 404
    assert 'value="NO-SUCH"' in page.content.decode()
    assert "Nothing here has this code." in text_of(page)


def test_a_drawing_is_only_beside_json_and_needs_all_edges(run: Run, lead: User) -> None:
    api = floor.Caller(lead)
    asked = {"lot": run.adhesive.code, "drawing": "true"}
    assert api.get("trace/downstream/", **asked).json()["drawing"].startswith("<svg")
    for more in ({"format": "svg"}, {"fold": "batches"}):
        assert api.get("trace/downstream/", **asked, **more).status_code == 422


def test_causes_are_told_in_words_drawn_and_led_on_to_hold_and_recall(
    two_pots: tuple[Lot, Lot], lead: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    good, bad = two_pots
    for minute in range(8):
        checked(lead, bodies(lead, good, 20 + minute), 20, 0)
        checked(lead, bodies(lead, bad, 30 + minute), 20, 9)
    client = browse(lead)
    days = {"first_on": "2026-03-01", "last_on": "2026-05-01"}
    page = client.get("/trace/causes/", {"defect": "LEAK", **days})
    html, text = page.content.decode(), text_of(page)
    assert f"With lot {bad.code}" in text
    assert '<svg class="chart"' in html
    assert f'href="/lots/{bad.code}/hold/"' in html
    assert f'href="/recalls/new/?lots={bad.code}"' in html
    monkeypatch.setattr(wording, "RIVALS_MAX", -1)
    page = client.get("/trace/causes/", {"defect": "LEAK", **days})
    assert "Too few failures to say." in text_of(page)
    assert "/hold/" not in page.content.decode()
    assert "/recalls/new/" not in page.content.decode()


def test_an_unknown_defect_and_days_in_the_wrong_order_are_said(run: Run, lead: User) -> None:
    client = browse(lead)
    unknown = client.get("/trace/causes/", {"defect": "RUST"})
    assert unknown.status_code == 404
    assert "No scrap reason has this code." in text_of(unknown)
    turned = client.get(
        "/trace/causes/", {"defect": "LEAK", "first_on": "2026-05-01", "last_on": "2026-03-01"}
    )
    assert turned.status_code == 422
    assert "is after the last" in text_of(turned)
    assert 'value="2026-05-01"' in turned.content.decode()

"""Pages of the bench, as the server answers them; tests/browser/test_bench.py works at them."""

from __future__ import annotations

import re
from html import unescape

import pytest
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from batches.bills.operations import change_revision, create_revision, release_bill
from batches.bills.steps.lines import LineDraft
from batches.runs.models import Batch
from batches.runs.operations import record
from batches.runs.steps.drafts import EntryDraft, GoodTally
from inventory.stock.operations import hold_lot
from shopfloor.models import User
from tests.batches.runs.conftest import NOON, grams, running, stamp_at, stock

BACKEND = "django.contrib.auth.backends.ModelBackend"


@pytest.fixture
def at_bench(client: Client, shop: User, bench_hand: User) -> Client:
    """Somebody at the bench, in a shop with halves and adhesive."""
    stock(shop, "HALF", 600, lot_code="HALVES")
    stock(shop, "ADH-A", 90_000, lot_code="GLUE")
    client.force_login(bench_hand, backend=BACKEND)
    return client


def test_a_batch_is_planned_and_started_at_its_stage(client: Client, shop: User) -> None:
    client.force_login(shop, backend=BACKEND)
    form = {"item": "BODY", "amount": "4o", "idempotency_key": "k1"}
    refused = client.post("/bench/GLUING/", form)
    assert refused.status_code == 422
    page = refused.content.decode()
    assert ('value="4o"' in page, "Write a whole number" in page) == (True, True)
    assert 'required aria-invalid="true" aria-describedby="amount-wrong"' in page
    assert not Batch.objects.exists()
    sent = client.post("/bench/GLUING/", {**form, "amount": "40", "idempotency_key": "k2"})
    batch = Batch.objects.get()
    assert (batch.state, batch.planned_base) == ("running", 40)
    assert sent.headers["Location"] == f"/bench/GLUING/{batch.code}/"


def test_the_bench_may_record_and_does_not_plan_and_a_viewer_does_neither(
    at_bench: Client, shop: User
) -> None:
    batch = running(shop, "BODY")
    page = at_bench.get("/bench/GLUING/").content.decode()
    assert batch.code in page
    assert "Plan it and start" not in page
    assert at_bench.post("/bench/GLUING/", {"item": "BODY"}).status_code == 403
    assert at_bench.get(f"/bench/GLUING/{batch.code}/").status_code == 200
    viewer = User.objects.create(
        username="v", display_name="V", role="viewer", created_at=shop.created_at
    )
    at_bench.force_login(viewer, backend=BACKEND)
    assert at_bench.get("/bench/GLUING/").status_code == 200
    assert at_bench.get(f"/bench/GLUING/{batch.code}/").status_code == 403


def test_a_traveler_leads_to_its_batch_and_a_batch_to_its_own_stage(
    at_bench: Client, shop: User
) -> None:
    batch = running(shop, "BODY")
    here = f"/bench/GLUING/{batch.code}/"
    assert at_bench.get("/bench/MOLDING/", {"code": batch.code}).headers["Location"] == here
    assert at_bench.get(f"/bench/MOLDING/{batch.code}/").headers["Location"] == here
    lot = at_bench.get("/bench/MOLDING/", {"code": "HALVES"})
    assert lot.headers["Location"] == "/lots/HALVES/"
    nothing = at_bench.get("/bench/MOLDING/", {"code": "NOTHING"})
    assert nothing.status_code == 404
    assert 'value="NOTHING"' in nothing.content.decode()


def test_a_held_batch_runs_again_from_the_bench(at_bench: Client, shop: User) -> None:
    batch = running(shop, "BODY")
    at_bench.post(f"/batches/{batch.code}/hold/", {"reason": "lunch", "idempotency_key": "k1"})
    assert "Let it run again" in at_bench.get(f"/bench/GLUING/{batch.code}/").content.decode()
    at_bench.post(f"/bench/GLUING/{batch.code}/", {"idempotency_key": "k2"})
    batch.refresh_from_db()
    assert batch.state == "running"


def test_parts_say_what_to_take_and_why_a_scan_is_wrong(at_bench: Client, shop: User) -> None:
    stock(shop, "HALF", 5, lot_code="HELD")
    hold_lot(lot_code="HELD", stamp=stamp_at(shop))
    here = f"/bench/GLUING/{running(shop, 'BODY').code}/"
    lots = at_bench.get(f"{here}lots/", {"amount": "100", "unit": "each"}).content.decode()
    assert 'data-proposed="HALVES"' in lots
    assert "20 g" in lots
    short = at_bench.get(f"{here}lots/", {"amount": "400", "unit": "each"}).content.decode()
    assert "200 missing" in short
    right = at_bench.get(f"{here}scan/", {"code": "HALVES"}).content.decode()
    assert 'data-lot="HALVES"' in right
    for code, why in {
        "HELD": "held",
        "GLUE<b>": "Nothing here has this code",
        "": "missing",
    }.items():
        wrong = at_bench.get(f"{here}scan/", {"code": code}).content.decode()
        assert "data-lot" not in wrong
        assert "<b>" not in wrong
        assert why.lower() in wrong.lower()


def test_what_is_missing_is_mixed_elsewhere_and_there_is_a_way_back(
    client: Client, shop: User
) -> None:
    client.force_login(shop, backend=BACKEND)
    by_mixture = [LineDraft(item_code="ADH-MIX", per_piece=grams("0.15"))]
    create_revision(item_code="BODY", by=shop, at=NOON)
    change_revision(item_code="BODY", number=2, lines=by_mixture, by=shop, at=NOON)
    release_bill(item_code="BODY", number=2, by=shop, at=NOON)
    here = f"/bench/GLUING/{running(shop, 'BODY').code}/"
    lots = client.get(f"{here}lots/", {"amount": "100", "unit": "each"}).content.decode()
    mix = unescape(re.findall(r'href="(/bench/MIXING/[^"]+)"', lots)[0])
    page = client.get(mix).content.decode()
    assert '<option value="ADH-MIX" selected>' in page
    assert 'value="15"' in page
    form = {"item": "ADH-MIX", "amount": "15", "unit": "g", "idempotency_key": "k1"}
    mixing = client.post(mix, form).headers["Location"]
    assert f'href="{here}"' in client.get(mixing).content.decode()


@pytest.mark.parametrize("back", ["//ill.example/x/", "/bench//ill.example/", "/bench/../lots/"])
def test_a_way_back_leads_to_a_bench_and_nowhere_else(
    client: Client, shop: User, back: str
) -> None:
    client.force_login(shop, backend=BACKEND)
    page = client.get("/bench/MIXING/", {"back": back}).content.decode()
    assert back not in page


def test_pages_take_as_many_statements_whatever_was_recorded(
    at_bench: Client, shop: User, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    batches = [running(shop, "BODY", 200) for _ in range(4)]
    for batch in batches * 3:
        draft = EntryDraft(batch_code=batch.code, good=[GoodTally(3)], equipment_codes=["WHEEL-1"])
        record(draft=draft, stamp=stamp_at(shop))
    here = f"/bench/GLUING/{batches[0].code}/"
    for address in ("/bench/", "/bench/GLUING/", here, f"{here}lots/?amount=9&unit=each"):
        with django_assert_max_num_queries(12):
            assert at_bench.get(address).status_code == 200
    with django_assert_max_num_queries(12):
        at_bench.get(f"{here}scan/", {"code": "HALVES"})

"""Pages of batches, entries and stages: a run on forms, what is wrong at its field, who may."""

from __future__ import annotations

import pytest
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from batches.runs.models import Batch, Entry
from shopfloor.models import User
from tests.batches.runs.conftest import running, stock


@pytest.fixture
def lead_page(client: Client, shop: User) -> Client:
    client.force_login(shop, backend="django.contrib.auth.backends.ModelBackend")
    return client


@pytest.fixture
def bench_page(client: Client, shop: User, bench_hand: User) -> Client:
    client.force_login(bench_hand, backend="django.contrib.auth.backends.ModelBackend")
    return client


def test_a_batch_is_planned_started_recorded_and_undone_on_forms(
    lead_page: Client, shop: User
) -> None:
    stock(shop, "RESIN", 5_000_000)
    planned = lead_page.post(
        "/batches/new/", {"item": "HALF", "pieces": "100", "idempotency_key": "k1"}
    )
    code = Batch.objects.get().code
    assert planned.headers["Location"] == f"/batches/{code}/"
    lead_page.post(f"/batches/{code}/start/", {"idempotency_key": "k2"})
    form = {
        "good.0.pieces": "90",
        "scrap.0.pieces": "3",
        "scrap.0.scrap_reason": "SHORT",
        "factors.0.name": "humidity",
        "factors.0.value": "53",
    }
    saved = lead_page.post(f"/batches/{code}/entries/new/", {**form, "idempotency_key": "k3"})
    entry = Entry.objects.get()
    assert saved.headers["Location"] == f"/entries/{entry.code}/"
    assert "<td>53</td>" in lead_page.get(f"/entries/{entry.code}/").content.decode()
    page = lead_page.get(f"/batches/{code}/").content.decode()
    assert f"/entries/{entry.code}/" in page
    assert f"/batches/{code}/complete/" in page
    undo = lead_page.get(f"/entries/{entry.code}/reverse/").content.decode()
    assert all(said in undo for said in ("Of HALF", entry.code, '<td class="number">90'))
    undone = lead_page.post(
        f"/entries/{entry.code}/reverse/", {"reason": "Wrong number", "idempotency_key": "k4"}
    )
    assert undone.headers["Location"] == f"/entries/{entry.code}/"
    assert "Undone by" in lead_page.get(undone.headers["Location"]).content.decode()


def test_what_is_wrong_stands_at_its_field_and_nothing_is_lost(
    lead_page: Client, shop: User
) -> None:
    batch = running(shop, "HALF")
    form = {"good.0.pieces": "9o", "scrap.0.pieces": "3", "scrap.0.scrap_reason": "SHORT"}
    refused = lead_page.post(
        f"/batches/{batch.code}/entries/new/", {**form, "idempotency_key": "k1"}
    )
    page = refused.content.decode()
    assert refused.status_code == 422
    assert 'value="9o"' in page
    assert 'value="SHORT"' in page
    assert "f-good-0-pieces-wrong" in page
    assert not Entry.objects.exists()


def test_the_bench_does_not_plan(bench_page: Client) -> None:
    assert bench_page.get("/batches/new/").status_code == 403
    assert "Plan a batch" not in bench_page.get("/batches/").content.decode()


def test_lists_take_as_many_statements_however_long_they_are(
    lead_page: Client, shop: User, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    for _ in range(5):
        running(shop, "HALF")
    for address in ("/batches/", "/entries/", "/stages/", "/batches/?stage=MOLDING"):
        with django_assert_max_num_queries(12):
            assert lead_page.get(address).status_code == 200


def test_a_stage_is_added_and_changed(lead_page: Client) -> None:
    lead_page.post(
        "/stages/new/",
        {"code": "RIG", "name": "Rigging", "position": "9", "idempotency_key": "k1"},
    )
    changed = lead_page.post(
        "/stages/RIG/change/",
        {"name": "Rigging and eyes", "position": "9", "idempotency_key": "k2"},
    )
    assert changed.headers["Location"] == "/stages/RIG/"
    assert "Rigging and eyes" in lead_page.get("/stages/").content.decode()


def test_a_scrap_reason_is_added_and_listed(lead_page: Client) -> None:
    form = {"code": "DULL", "name": "Dull paint", "stage": "", "idempotency_key": "k1"}
    added = lead_page.post("/scrap-reasons/new/", form)
    assert added["Location"] == "/scrap-reasons/"
    assert "Dull paint" in lead_page.get("/scrap-reasons/").content.decode()

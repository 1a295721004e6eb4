"""Pages of bills: a draft, its release, the next revision and what differs, on forms."""

from __future__ import annotations

import pytest
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from batches.bills.models import BillRevision
from shopfloor.models import User

BACKEND = "django.contrib.auth.backends.ModelBackend"


@pytest.fixture
def desk(lead: User) -> Client:
    client = Client()
    client.force_login(lead, backend=BACKEND)
    return client


def test_a_bill_is_drafted_released_and_changed_in_the_next_revision(
    desk: Client, floor_ready: None
) -> None:
    form = {
        "item": "HALF-L",
        "stage": "MOLDING",
        "lines.0.item": "RESIN",
        "lines.0.per_piece.amount": "4.5",
        "lines.0.per_piece.unit": "g",
        "lines.0.per_batch.amount": "200",
        "lines.0.per_batch.unit": "g",
        "lines.0.role": "",
        "lines.1.item": "",
        "lines.1.per_piece.amount": "",
        "lines.1.per_piece.unit": "mg",
        "scrap_ratio": "0.05",
        "idempotency_key": "new",
    }
    made = desk.post("/bills/new/", form)
    assert made.url == "/bills/HALF-L/revisions/1/"  # type: ignore[attr-defined]
    draft = desk.get("/bills/HALF-L/revisions/1/").content.decode()
    assert ("4.5 g" in draft, "0.2 kg" in draft, "5 %" in draft) == (True, True, True)
    desk.post("/bills/HALF-L/revisions/1/release/", {"idempotency_key": "release"})
    page = desk.get("/bills/HALF-L/").content.decode()
    assert "/bills/HALF-L/revisions/new/" in page
    assert "/revisions/1/change/" not in page

    desk.post("/bills/HALF-L/revisions/new/", {"note": "lighter", "idempotency_key": "second"})
    shown = desk.get("/bills/HALF-L/revisions/2/change/").content.decode()
    assert 'value="4.5"' in shown
    assert '<span class="what">HALF-L/2</span>' in shown
    changed = {**form, "lines.0.per_piece.amount": "4.2", "note": "lighter"}
    del changed["item"], changed["stage"]
    changed |= {"lines.1.item": "COLORANT", "lines.1.per_piece.amount": "90"}
    desk.post("/bills/HALF-L/revisions/2/change/", {**changed, "idempotency_key": "change"})
    found = BillRevision.objects.get(number=2)
    assert [line.item.code for line in found.lines.order_by("position")] == ["RESIN", "COLORANT"]

    told = desk.get("/changes/", {"table": "batches_billrevision"}).content.decode()
    assert "bill: HALF-L; number: 1;" in told
    assert "item: RESIN; role: taken; per piece: 4.5 g; per batch: 0.2 kg" in told
    assert "item: COLORANT; role: taken; per piece: 90 mg" in told

    differ = desk.get("/bills/HALF-L/compare/").content.decode()
    assert ("Revision 1" in differ, "Revision 2" in differ) == (True, True)
    assert ("4.5 g" in differ, "4.2 g" in differ, "90 mg" in differ) == (True, True, True)
    same = desk.get("/bills/HALF-L/compare/?a=2&b=2").content.decode()
    assert "They say the same." in same


def test_what_is_wrong_in_a_line_stands_at_its_field(desk: Client, floor_ready: None) -> None:
    form = {
        "item": "HALF-L",
        "stage": "MOLDING",
        "lines.0.item": "RESIN",
        "lines.0.per_piece.amount": "4,5 grams",
        "lines.0.per_piece.unit": "g",
        "lines.0.loss_ratio": "half",
        "idempotency_key": "new",
    }
    refused = desk.post("/bills/new/", form)
    page = refused.content.decode()
    assert refused.status_code == 422
    assert 'id="f-lines-0-per-piece-amount-wrong"' in page
    assert 'value="half"' in page
    assert "<details open" in page
    assert not BillRevision.objects.exists()


def test_a_bills_answers_have_pages(
    desk: Client,
    released_bills: None,
    django_assert_max_num_queries: DjangoAssertNumQueries,
) -> None:
    addresses = (
        "/bills/",
        "/bills/?takes=RESIN",
        "/bills/HALF-L/",
        "/bills/HALF-L/cost/?batch=100",
        "/bills/RESIN/where-used/",
    )
    for address in addresses:
        with django_assert_max_num_queries(12):
            assert desk.get(address).status_code == 200
    assert '<a href="/items/HALF-L/">' in desk.get("/bills/RESIN/where-used/").content.decode()


def test_the_bench_reads_bills_and_changes_none(bench: User, released_bills: None) -> None:
    client = Client()
    client.force_login(bench, backend=BACKEND)
    page = client.get("/bills/HALF-L/").content.decode()
    assert "/bills/HALF-L/cost/" in page
    assert "/revisions/new/" not in page
    assert client.get("/bills/HALF-L/revisions/1/change/").status_code == 403

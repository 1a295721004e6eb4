"""Pages of checks: a test at the bench, its verdict, the plan's curve and the chart drawn."""

from __future__ import annotations

import re
from collections.abc import Callable
from html import unescape
from typing import Any

import pypdfium2
import pytest
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from batches.quality.models import Check
from shopfloor.models import User
from tests.batches import floor
from tests.batches.quality.conftest import FIXED, Molded

Mold = Callable[[int], Molded]
BACKEND = "django.contrib.auth.backends.ModelBackend"
WEIGHT = {"code": "WEIGHT", "name": "Weight", "stage": "MOLDING", "kind": "measured", **FIXED}
WEIGHT |= {"unit": "g", "lower": "4.0", "upper": "4.4"}


@pytest.fixture
def bench_page(bench: User) -> Client:
    client = Client()
    client.force_login(bench, backend=BACKEND)
    return client


def test_a_check_is_recorded_at_the_bench_and_what_fails_is_held(
    bench_page: Client,
    mold: Mold,
    grip: Any,
    django_assert_max_num_queries: DjangoAssertNumQueries,
) -> None:
    lot = mold(100).lot
    assert (
        "Scan the lot, or a batch"
        in bench_page.get("/checks/new/?definition=GRIP").content.decode()
    )
    asked = f"/checks/new/?definition=GRIP&lot={lot}"
    with django_assert_max_num_queries(12):
        form = bench_page.get(asked).content.decode()
    assert "Test <strong>5</strong>" in form
    assert 'name="results.0.tested" value="5"' in form
    sent = {"definition": "GRIP", "lot": lot, "results.0.tested": "5", "results.0.failed": "2"}
    saved = bench_page.post(asked, {**sent, "idempotency_key": "check"})
    check = Check.objects.get()
    assert saved["Location"] == f"/checks/{check.code}/"
    page = bench_page.get(saved["Location"]).content.decode()
    assert "mark failed" in page
    assert "/holds/H-" in page


def test_a_check_of_another_stage_is_refused_before_anything_is_typed(
    bench_page: Client, mold: Mold, grip: Any, lead: User
) -> None:
    floor.take_in("RESIN", 1_000, worth="1", by=lead, lot_code="RESIN-1")
    refused = bench_page.get("/checks/new/?definition=GRIP&lot=RESIN-1")
    assert refused.status_code == 409
    assert 'value="RESIN-1"' in refused.content.decode()


def test_values_are_typed_one_after_the_other(
    bench_page: Client, mold: Mold, api: floor.Caller
) -> None:
    api.post("check-definitions/", WEIGHT)
    lot = mold(100).lot
    asked = f"/checks/new/?definition=WEIGHT&lot={lot}"
    assert 'name="values"' in bench_page.get(asked).content.decode()
    form = {"definition": "WEIGHT", "lot": lot, "idempotency_key": "w"}
    wrong = bench_page.post(asked, {**form, "values": "4.1 4,2"})
    assert (wrong.status_code, "4.1 4,2" in wrong.content.decode()) == (422, True)
    bench_page.post(asked, {**form, "values": "4.1 4.2\r\n4.15 4.25 4.2"})
    chart = bench_page.get("/checks/chart/?definition=WEIGHT").content.decode()
    assert "1 check from" in chart
    assert '<svg class="chart"' in chart


def test_the_plan_is_drawn_and_asked_for(bench_page: Client, mold: Mold, api: floor.Caller) -> None:
    plan = {"how_many": "plan", "level": "II", "aql": "1.0"}
    named = {"code": "GRIP", "name": "Grip", "stage": "MOLDING", "kind": "pass_fail"}
    api.post("check-definitions/", {**named, **plan})
    lot = mold(500).lot
    page = bench_page.get(f"/checks/plan/?definition=GRIP&lot={lot}").content.decode()
    assert '<svg class="chart"' in page
    assert (
        "Choose a check and scan a lot or a batch."
        in bench_page.get("/checks/plan/").content.decode()
    )
    assert bench_page.get("/checks/plan/?definition=GRIP&lot=NOPE").status_code == 404
    assert "Choose a check." in bench_page.get("/checks/chart/").content.decode()


def test_a_definition_is_written_by_leads_alone(
    bench_page: Client, lead: User, released_bills: None
) -> None:
    assert bench_page.get("/check-definitions/new/").status_code == 403
    desk = Client()
    desk.force_login(lead, backend=BACKEND)
    form = {"code": "SWIM", "name": "Swims", "stage": "MOLDING", "kind": "measured"}
    form |= {"unit": "mm", "lower": "1"}
    desk.post("/check-definitions/new/", {**form, "how_many": "all", "idempotency_key": "new"})
    page = desk.get("/check-definitions/SWIM/").content.decode()
    assert "/checks/chart/?definition=SWIM" in page
    changed = {"name": "Swims straight", "unit": "mm", "lower": "1", "idempotency_key": "change"}
    desk.post("/check-definitions/SWIM/change/", changed)
    assert "Swims straight" in desk.get("/check-definitions/").content.decode()


def test_all_that_a_batch_made_is_checked_in_one(bench_page: Client, mold: Mold, grip: Any) -> None:
    made = mold(100)
    asked = bench_page.get(f"/checks/new/?definition=GRIP&of={made.batch.lower()}")
    assert asked["Location"] == f"/checks/new/?definition=GRIP&batch={made.batch}"
    form = bench_page.get(asked["Location"]).content.decode()
    assert f'name="batch" value="{made.batch}"' in form
    assert "100 pieces" in form
    sent = {"definition": "GRIP", "batch": made.batch, "results.0.tested": "5"}
    bench_page.post(
        asked["Location"], {**sent, "results.0.failed": "1", "idempotency_key": "whole"}
    )
    check = Check.objects.get()
    assert (check.lot, check.batch.code, check.is_passed) == (None, made.batch, False)
    page = bench_page.get(f"/checks/{check.code}/").content.decode()
    assert f"definition=GRIP&amp;batch={made.batch}&amp;replaces={check.code}" in page
    plan = bench_page.get(f"/checks/plan/?definition=GRIP&batch={made.batch}").content.decode()
    assert "What this batch made would pass" in plan


def test_what_is_neither_lot_nor_batch_is_not_checked(bench_page: Client, grip: Any) -> None:
    refused = bench_page.get("/checks/new/?definition=GRIP&of=HALF-L")
    assert refused.status_code == 409
    assert "Scan a lot, or a batch." in refused.content.decode()
    assert 'value="HALF-L"' in refused.content.decode()


def test_the_charts_are_printed_as_they_are_drawn(
    bench_page: Client, mold: Mold, grip: Any, api: floor.Caller
) -> None:
    api.post("check-definitions/", WEIGHT)
    lot = mold(100).lot
    values = [{"value": text} for text in ("4.1", "4.2", "4.15", "4.25", "4.2")]
    api.post("checks/", {"definition": "WEIGHT", "lot": lot, "results": values})
    page = bench_page.get("/checks/chart/?definition=WEIGHT").content.decode()
    found = re.search(r'href="(/api/v1/checks/chart\.pdf[^"]+)"', page)
    assert found is not None
    paper = bench_page.get(unescape(found[1]))
    assert paper["Content-Type"] == "application/pdf"
    said = pypdfium2.PdfDocument(paper.content)[0].get_textpage().get_text_range()
    assert "Control charts of Weight" in said
    assert "Mean of each check, g" in said
    assert "cpk" in said
    assert bench_page.get("/api/v1/checks/chart.pdf?definition=NOPE").status_code == 404

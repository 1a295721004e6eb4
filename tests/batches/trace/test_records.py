"""The record of a batch: every line of it, as JSON and as a paper."""

from __future__ import annotations

from typing import Any

import pypdfium2
import pytest

from batches.labels.operations import note_printing
from batches.labels.selectors import print_job
from batches.runs.operations import plan, reverse
from batches.runs.steps.batches import BatchPlan
from shopfloor.models import User
from tests.batches import floor
from tests.batches.labels.conftest import rendered, symbols, words
from tests.batches.trace.conftest import Run, at_minute, entry, running


@pytest.fixture
def api(lead: User) -> floor.Caller:
    return floor.Caller(lead)


def record_of(api: floor.Caller, batch: str) -> Any:
    answer = api.get(f"batches/{batch}/record/")
    assert answer.status_code == 200, answer.json()
    return answer.json()


def text_of(api: floor.Caller, batch: str) -> str:
    pdf = api.get(f"labels/records/{batch}.pdf").content
    return "\n".join(words(pdf, page) for page in range(len(pypdfium2.PdfDocument(pdf))))


def test_it_has_the_bill_the_lots_their_suppliers_and_the_yields(
    run: Run, api: floor.Caller
) -> None:
    record = record_of(api, "gluing-1")
    assert record["page"]["batch"]["revision"] == 1
    need = next(row for row in record["bill"] if row["item"] == "HALF-L")
    assert (need["takes"]["amount"], need["makes"]["amount"]) == ("1", "1")
    taken = {row["item"]: row["amount"]["amount"] for row in record["taken"]}
    assert (taken["HALF-L"], taken["HALF-R"]) == ("72", "72")
    assert [row["supplier_lot_code"] for row in record["receipts"]] == ["GA-17"]
    ratios = {row["batch"]: row["ratio"] for row in record["yields"]}
    assert ratios == {"MIX-1": "1.0000", "GLUING-1": "0.9722"}  # 70 of 72
    assert [row["customer"] for row in record["shipments"]] == ["HEN"]


def test_what_was_found_of_it_stands_in_it(run: Run, lead: User, api: floor.Caller) -> None:
    fields = {
        "code": "LEAK-DUNK", "name": "Leak, dunked", "stage": "GLUING", "kind": "pass_fail",
        "how_many": "fixed", "fixed_pieces": 5,
    }  # fmt: skip
    assert api.post("check-definitions/", fields).status_code == 201
    found = {
        "definition": "LEAK-DUNK",
        "lot": run.body_first.code,
        "results": [{"tested": 5, "failed": 1}],
    }
    check = api.post("checks/", found).json()
    recall = api.post(
        "recalls/", {"kind": "mock", "lots": [run.body_first.code], "reason": "Drill"}
    )
    told = {"defect": "LEAK", "pieces": 2, "told_on": "2026-03-20", "box": "BOX-1"}
    complaint = api.post("complaints/", told).json()
    job = print_job("2x1", dpi=203)
    for _ in range(2):
        note_printing(
            kind="lots", codes=["OTHER-1", run.body_first.code], copies=1, job=job,
            stamp=at_minute(lead, 99),
        )  # fmt: skip
    record = record_of(api, "GLUING-1")
    assert [(row["code"], row["is_passed"]) for row in record["checks"]] == [(check["code"], False)]
    assert [row["code"] for row in record["holds"]] == check["holds"]
    assert {(row["lot"], row["after"]) for row in record["conclusions"]} == {
        (run.body_first.code, "held"),
    }
    assert [row["code"] for row in record["recalls"]] == [recall.json()["recall"]["code"]]
    assert [row["code"] for row in record["complaints"]] == [complaint["code"]]
    assert [row["papers"] for row in record["printings"]] == [
        [{"code": run.body_first.code, "reprint": number}] for number in (0, 1)
    ]
    paper = text_of(api, "GLUING-1")
    for words_of_it in (check["code"], "2 LEAK", complaint["code"], "reprint 1"):
        assert words_of_it in paper


def test_what_was_reversed_is_marked_and_counts_for_nothing(
    run: Run, lead: User, api: floor.Caller
) -> None:
    running("BODY-70", by=lead, code="GLUING-2", minute=30)
    wrong = entry("GLUING-2", 3, by=lead, minute=35)
    undone = reverse(entry_code=wrong.code, stamp=at_minute(lead, 36))
    record = record_of(api, "GLUING-2")
    assert record["page"]["entries"][0]["reversed_by"] is not None
    assert (record["taken"], record["receipts"], record["holds"]) == ([], [], [])
    assert record["yields"][-1]["ratio"] is None
    assert f"{wrong.code}, reversed by" in text_of(api, "GLUING-2").replace("\n", " ")
    assert undone is not None


def test_a_batch_that_only_stands_in_the_plan_has_a_record(
    released_bills: None, lead: User, api: floor.Caller
) -> None:
    plan(
        plan=BatchPlan(item_code="BODY-70", planned_base=10, code="SOON"), stamp=at_minute(lead, 0)
    )
    assert record_of(api, "SOON")["page"]["entries"] == []
    assert "Nothing was recorded." in text_of(api, "SOON")


def test_the_paper_scans_as_the_batch_and_shows_its_stickers(run: Run, api: floor.Caller) -> None:
    pdf = api.get("labels/records/BOXING-1.pdf", dpi=300).content
    pages = range(len(pypdfium2.PdfDocument(pdf)))
    found = {text for page in pages for _, text in symbols(rendered(pdf, dpi=300, page=page))}
    assert found == {"BOXING-1", run.packed.code, "BOX-1"}


def test_a_batch_that_nobody_has_is_refused(released_bills: None, api: floor.Caller) -> None:
    assert api.get("batches/NONE/record/").json()["code"] == "not_found"
    assert api.get("labels/records/NONE.pdf").json()["code"] == "not_found"

"""Lists of runs: as many statements for a hundred rows as for one, pages that are capped."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient

from batches.runs.models import Batch
from batches.runs.operations import add_scrap_reason, record, reverse
from batches.runs.steps.drafts import EntryDraft, GoodTally, ScrapTally
from shopfloor.models import User
from tests.batches.runs.conftest import NOON, running, stamp_at, stock

API = "/api/v1/"
LISTS = ["batches/", "entries/", "scrap-reasons/"]


@pytest.fixture
def get(shop: User) -> Callable[..., Any]:
    """`get("batches/", state="running")`."""
    client = APIClient()
    client.force_authenticate(shop)
    return lambda path, **asked: client.get(API + path, asked)


@pytest.fixture
def enter(shop: User) -> Callable[[Batch], str]:
    """Records an entry with all that one can have; its code."""
    stock(shop, "HALF", 100_000, lot_code="HALVES")
    stock(shop, "ADH-A", 10**9, lot_code="GLUE")

    def entry(batch: Batch) -> str:
        draft = EntryDraft(
            batch_code=batch.code,
            good=[GoodTally(3, equipment_code="WHEEL-1-1")],
            scrap=[ScrapTally(1, "LEAK", "WHEEL-1-2")],
            equipment_codes=["WHEEL-1"],
            factors={"humidity": "45"},
        )
        return record(draft=draft, stamp=stamp_at(shop)).code

    return entry


def statements(call: Callable[[], Any]) -> int:
    with CaptureQueriesContext(connection) as seen:
        answer = call()
    assert answer.status_code == 200
    return len(seen)


def test_a_list_takes_as_many_statements_for_a_hundred_rows_as_for_one(
    shop: User, get: Callable[..., Any], enter: Callable[[Batch], str]
) -> None:
    def fill(number: int) -> dict[str, int]:
        for row in range(number):
            enter(running(shop, "BODY"))
            code = f"WHY-{Batch.objects.count()}-{row}"
            add_scrap_reason(code=code, name="Why", by=shop, at=NOON)
        return {path: statements(asking(path)) for path in LISTS}

    def asking(path: str) -> Callable[[], Any]:
        return lambda: get(path, page_size=200)

    one, ten, hundred = fill(1), fill(9), fill(90)
    assert one == ten == hundred
    assert max(one.values()) <= 5
    assert get("entries/").json()["count"] == 100


def test_a_batch_takes_as_many_statements_for_a_hundred_entries_as_for_one(
    shop: User, get: Callable[..., Any], enter: Callable[[Batch], str]
) -> None:
    batch = running(shop, "BODY")
    enter(batch)
    one = statements(lambda: get(f"batches/{batch.code}/"))
    reverse(entry_code=enter(batch), stamp=stamp_at(shop))
    for _ in range(98):
        enter(batch)
    assert statements(lambda: get(f"batches/{batch.code}/")) == one <= 6
    page = get(f"batches/{batch.code.lower()}/").json()
    assert len(page["entries"]) == 100
    assert page["batch"]["good"] == {"amount": "297", "unit": "each"}
    assert [state["after"] for state in page["states"]] == ["running"]
    assert [entry["reversed_by"] is None for entry in page["entries"]].count(False) == 1


def test_an_entry_is_read_by_its_code(
    shop: User, get: Callable[..., Any], enter: Callable[[Batch], str]
) -> None:
    code = enter(running(shop, "BODY"))
    row = get(f"entries/{code}/").json()
    assert [(tally["grade"], tally["scrap_reason"]) for tally in row["tallies"]] == [
        ("first", None),
        ("", "LEAK"),
    ]
    assert {(factor["name"], factor["value"]) for factor in row["factors"]} == {
        ("wheel", "WHEEL-1"),
        ("humidity", "45"),
    }
    assert [(used["lot"], used["amount"]["amount"]) for used in row["taken"]] == [
        ("HALVES", "8"),
        ("GLUE", "5.6"),
    ]
    assert get("entries/E-2222/").json()["code"] == "code_typo"
    assert get("batches/NONE/").status_code == 404


@pytest.mark.parametrize("path", LISTS)
def test_a_page_is_capped_and_one_that_is_not_there_is_not_found(
    shop: User, get: Callable[..., Any], enter: Callable[[Batch], str], path: str
) -> None:
    enter(running(shop, "BODY"))
    answer = get(path, page_size=10**9).json()
    assert len(answer["results"]) == answer["count"]
    assert get(path, page=10**9).status_code == 404
    assert get(path, color="red").json()["code"] == "unknown_parameter"


@pytest.mark.parametrize(
    ("path", "asked", "found"),
    [
        ("batches/", {"state": "running", "item": "body"}, 2),
        ("batches/", {"stage": "molding"}, 1),
        ("batches/", {"search": "BODY", "ordering": "-recorded_at"}, 2),
        ("batches/", {"state": "complete"}, 0),
        ("entries/", {"item": "BODY", "done_by": "lead"}, 1),
        ("entries/", {"at_after": "2026-03-03T00:00:00Z"}, 0),
    ],
)
def test_batches_and_entries_are_found_by_what_they_are(
    shop: User, get: Callable[..., Any], enter: Callable[[Batch], str], path: str,
    asked: dict[str, str], found: int,
) -> None:  # fmt: skip
    running(shop, "HALF")
    running(shop, "BODY")
    enter(running(shop, "BODY"))
    assert get(path, **asked).json()["count"] == found

"""A trace as sheets: each part says what JSON says, and what means nothing is refused."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from shopfloor.models import User
from tests.batches import floor
from tests.batches.trace.conftest import Run
from tests.test_list_sheets import csv_of, differing, xlsx_of

Calling = Callable[[User], floor.Caller]

DOWN = (
    *("edges", "nodes", "batches", "totals", "whereabouts", "on_hand", "boxes", "shipments"),
    *("scrapped", "account"),
)
UP = ("edges", "nodes", "batches", "receipts")


@pytest.mark.parametrize(("kind", "read"), [("csv", csv_of), ("xlsx", xlsx_of)])
@pytest.mark.parametrize(
    ("direction", "parts"), [("downstream", DOWN), ("upstream", UP)], ids=["down", "up"]
)
def test_every_part_of_an_answer_is_a_sheet_that_says_what_json_says(
    direction: str, parts: tuple[str, ...], kind: str, read: Any, returned: Run, calling: Calling,
    viewer: User,
) -> None:  # fmt: skip
    get, start = calling(viewer).get, {"lot": returned.packed.code}
    json = get(f"trace/{direction}/", **start).json()
    assert set(json) - {"start", "goes_on"} == set(parts)
    found = {
        part: read(get(f"trace/{direction}/", **start, format=kind, rows=part)) for part in parts
    }
    assert {part: len(rows) for part, rows in found.items()} == {
        part: len(json[part]) for part in parts
    }
    assert {
        part: [differing(*both) for both in zip(rows, json[part], strict=True)]
        for part, rows in found.items()
    } == {part: [{}] * len(json[part]) for part in parts}


def test_a_sheet_shows_the_edges_if_nothing_is_named_and_has_a_telling_name(
    run: Run, calling: Calling, viewer: User
) -> None:
    answer = calling(viewer).get("trace/upstream/", box="BOX-1", format="csv")
    assert 'filename="upstream-BOX-1-edges-' in answer["Content-Disposition"]
    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    assert answer["Vary"].split(", ")[0] == "Accept"
    [first, *_] = csv_of(answer)
    assert (first["taken_lot"], first["taken_item"], first["made_item"]) == (
        run.adhesive.code,
        "GLUE-A",
        "GLUE",
    )
    assert (first["taken"], first["taken_unit"]) == ("36", "g")
    assert first["part_up_to"] == "36"


@pytest.mark.parametrize(
    ("accept", "content_type"),
    [
        ("text/csv", "text/csv; charset=utf-8"),
        ("application/json, text/csv", "application/json"),
        ("*/*", "application/json"),
        ("image/png", "application/json"),
    ],
)
def test_accept_says_it_too(
    accept: str, content_type: str, run: Run, client: Any, viewer: User
) -> None:
    client.force_login(viewer)
    address = "/api/v1/trace/downstream/?box=BOX-1"
    assert client.get(address, headers={"accept": accept})["Content-Type"] == content_type
    named = client.get(f"{address}&format=json", headers={"accept": "text/csv"})
    assert named["Content-Type"] == "application/json"


@pytest.mark.parametrize(
    ("asked", "field"),
    [
        ({"format": "xml"}, "format"),
        ({"rows": "edges"}, "rows"),
        ({"format": "json", "rows": "edges"}, "rows"),
        ({"format": "csv", "rows": "receipts"}, "rows"),
        ({"format": "csv", "fold": "batches"}, "fold"),
    ],
)
def test_what_means_nothing_is_refused(
    asked: dict[str, str], field: str, run: Run, calling: Calling, viewer: User
) -> None:
    answer = calling(viewer).get("trace/downstream/", box="BOX-1", **asked)
    assert (answer.status_code, answer.json()["code"]) == (422, "invalid_input")
    assert list(answer.json()["facts"]["fields"]) == [field]

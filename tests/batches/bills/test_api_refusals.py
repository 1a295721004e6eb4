"""The doors of bills: who may come in, and what they refuse."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from batches.bills.models import Bill
from batches.bills.operations import create_revision
from shopfloor.models import User
from tests.batches.floor import LATER, Caller

Calling = Callable[[User], Caller]

RESIN: dict[str, Any] = {
    "item": "resin",
    "per_piece": {"amount": "4.2", "unit": "g"},
    "alternatives": [{"item": "regrind", "largest_ratio": "0.2"}],
}
HALF: dict[str, Any] = {
    "item": "half-l",
    "stage": "molding",
    "lines": [RESIN],
}


WRITES: dict[str, dict[str, Any]] = {
    "bills/": {"item": "BODY-90", "stage": "GLUING"},
    "bills/HALF-L/stage/": {"stage": "MOLDING"},
    "bills/HALF-L/copy/": {"to_item": "HALF-R"},
    "bills/HALF-L/revisions/": {},
    "bills/HALF-L/revisions/2/change/": {"note": "x"},
    "bills/HALF-L/revisions/2/release/": {},
    "bills/HALF-L/revisions/2/retire/": {},
}


@pytest.mark.parametrize("path", WRITES)
def test_only_owner_and_leads_write(
    calling: Calling,
    released_bills: None,
    owner: User,
    bench: User,
    packer: User,
    viewer: User,
    path: str,
) -> None:
    create_revision(item_code="HALF-L", by=owner, at=LATER)
    refused = [
        calling(person).post(path, WRITES[path]).status_code for person in (bench, packer, viewer)
    ]
    assert refused == [403, 403, 403]
    assert calling(owner).post(path, WRITES[path]).status_code in {200, 201}


@pytest.mark.parametrize(
    "path",
    [
        "bills/",
        "bills/HALF-L/",
        "bills/HALF-L/revisions/1/",
        "bills/HALF-L/where-used/",
        "bills/HALF-L/cost/",
        "bills/HALF-L/compare/?a=1&b=1",
    ],
)
def test_everybody_reads(
    calling: Calling, released_bills: None, bench: User, packer: User, viewer: User, path: str
) -> None:
    answered = [calling(person).get(path).status_code for person in (bench, packer, viewer)]
    assert answered == [200, 200, 200]


@pytest.mark.parametrize(
    "path",
    [
        "bills/NONE/",
        "bills/RESIN/",
        "bills/HALF-L/revisions/2/",
        "bills/HALF-L/revisions/99999999999999999999/",
        "bills/NONE/where-used/",
        "bills/NONE/cost/",
        "bills/HALF-L/cost/?revision=2",
        "bills/HALF-L/compare/?a=1&b=2",
    ],
)
def test_what_there_is_not_is_not_found(
    calling: Calling, released_bills: None, viewer: User, path: str
) -> None:
    answered = calling(viewer).get(path)
    assert (answered.status_code, answered.json()["code"]) == (404, "not_found")


@pytest.mark.parametrize(
    "path",
    [
        "bills/HALF-L/revisions/99999999999999999999/release/",
        "bills/HALF-L/revisions/2/retire/",
        "bills/NONE/revisions/1/change/",
        "bills/NONE/copy/",
    ],
)
def test_what_there_is_not_cannot_be_written(
    calling: Calling, released_bills: None, lead: User, path: str
) -> None:
    body = {"to_item": "HALF-R"} if path.endswith("copy/") else {}
    assert calling(lead).post(path, body).status_code == 404


@pytest.mark.parametrize(
    ("line_given", "code"),
    [
        ({"item": "RESIN", "per_piece": {"amount": "4", "unit": "each"}}, "unit_mismatch"),
        ({"item": "RESIN", "per_piece": {"amount": "0", "unit": "g"}}, "line_takes_nothing"),
        ({"item": "HALF-L", "per_piece": {"amount": "1", "unit": "each"}}, "line_of_itself"),
        ({"item": "RING", "per_batch": {"amount": "0.5", "unit": "each"}}, "fraction_of_piece"),
        ({**RESIN, "loss_ratio": "1"}, "ratio_out_of_range"),
        ({**RESIN, "alternatives": [{"item": "REGRIND"}]}, "ratio_out_of_range"),
        ({**RESIN, "alternatives": [{"item": "RING"}]}, "dimension_mismatch"),
        ({**RESIN, "alternatives": [{"item": "RESIN"}]}, "line_twice"),
    ],
)
def test_a_line_that_cannot_be_meant_is_refused(
    calling: Calling, floor_ready: None, lead: User, line_given: dict[str, Any], code: str
) -> None:
    refused = calling(lead).post("bills/", {**HALF, "lines": [line_given]})
    assert (refused.status_code, refused.json()["code"]) == (422, code)
    assert not Bill.objects.exists()


@pytest.mark.parametrize(
    "body",
    [
        {},
        {**HALF, "stage": None},
        {**HALF, "lines": None},
        {**HALF, "lines": "RESIN"},
        {**HALF, "lines": [{"item": "RESIN", "per_piece": "4.2 g"}]},
        {**HALF, "lines": [{"item": "RESIN", "per_piece": {"amount": 4.2, "unit": "g"}}]},
        {**HALF, "lines": [{"item": "RESIN", "per_piece": {"amount": "-1", "unit": "g"}}]},
        {**HALF, "lines": [{"item": "RESIN", "per_piece": {"amount": "1", "unit": "stone"}}]},
        {**HALF, "lines": [{**RESIN, "role": "made"}]},
        {**HALF, "lines": [{**RESIN, "loss_ratio": "a third"}]},
        {**HALF, "lines": [{**RESIN, "color": "red"}]},
        {**HALF, "lines": [{**RESIN, "alternatives": [{"item": "REGRIND", "ratio": "0.2"}]}]},
        {**HALF, "lines": [{**RESIN, "alternatives": [{"item": "RING"}] * 21}]},
        {**HALF, "lines": [RESIN] * 201},
        {**HALF, "note": "n" * 301},
        {**HALF, "scrap_ratio": "NaN"},
    ],
)
def test_a_bad_body_is_refused_by_field(
    calling: Calling, floor_ready: None, lead: User, body: dict[str, Any]
) -> None:
    refused = calling(lead).post("bills/", body)
    assert (refused.status_code, refused.json()["code"]) == (422, "invalid_input")
    assert refused.json()["facts"]["fields"]


@pytest.mark.parametrize(
    "path",
    [
        "bills/HALF-L/compare/?a=1",
        "bills/HALF-L/compare/?a=0&b=1",
        "bills/HALF-L/compare/?a=1&b=9999999",
        "bills/HALF-L/cost/?batch=0",
        "bills/HALF-L/cost/?batch=1.5",
        "bills/HALF-L/cost/?pieces=5",
        "bills/?kind=stone",
        "bills/?ordering=name",
        "bills/?color=red",
    ],
)
def test_a_bad_question_is_refused(
    calling: Calling, released_bills: None, viewer: User, path: str
) -> None:
    assert calling(viewer).get(path).status_code == 422

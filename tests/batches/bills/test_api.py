"""The doors of bills: a good call, a problem, a refused role, and the statements of each read."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from pytest_django import DjangoAssertNumQueries

from batches.bills.models import Bill
from batches.bills.operations import create_revision
from shopfloor.models import User
from tests.batches.floor import LATER, Caller, draft_bill, line, take_in

Calling = Callable[[User], Caller]

RESIN: dict[str, Any] = {
    "item": "resin",
    "per_piece": {"amount": "4.2", "unit": "g"},
    "per_batch": {"amount": "150", "unit": "g"},
    "alternatives": [{"item": "regrind", "largest_ratio": "0.2"}],
}
RUNNERS: dict[str, Any] = {
    "item": "REGRIND",
    "role": "by_product",
    "per_piece": {"amount": "1100", "unit": "mg"},
    "value_ratio": "0.05",
}
HALF: dict[str, Any] = {
    "item": "half-l",
    "stage": "molding",
    "scrap_ratio": "0.02",
    "note": "two cavities",
    "lines": [RESIN, RUNNERS],
}


def test_a_bill_is_made_read_changed_and_released(
    calling: Calling, floor_ready: None, lead: User, viewer: User
) -> None:
    caller = calling(lead)
    made = caller.post("bills/", HALF)
    assert made.status_code == 201, made.json()
    released = caller.post("bills/HALF-L/revisions/1/release/")
    assert released.status_code == 200, released.json()
    read = calling(viewer).get("bills/half-l/").json()
    assert read == released.json()
    assert read["item"] == {"code": "HALF-L", "name": "Half, left", "kind": "half"}
    assert (read["stage"], read["is_mixing"], read["revision"]) == ("MOLDING", False, 1)
    assert (read["state"], read["scrap_ratio"], read["note"]) == ("current", "0.02", "two cavities")
    assert read["lines"] == [
        {
            "item": "RESIN",
            "name": "Resin, natural",
            "kind": "resin",
            "role": "taken",
            "per_piece": {"amount": "0.0042", "unit": "kg"},
            "per_amount": None,
            "per_batch": {"amount": "0.15", "unit": "kg"},
            "loss_ratio": "0",
            "value_ratio": "0",
            "alternatives": [
                {"item": "REGRIND", "name": "Regrind, natural", "largest_ratio": "0.2"}
            ],
        },
        {
            "item": "REGRIND",
            "name": "Regrind, natural",
            "kind": "regrind",
            "role": "by_product",
            "per_piece": {"amount": "0.0011", "unit": "kg"},
            "per_amount": None,
            "per_batch": {"amount": "0", "unit": "kg"},
            "loss_ratio": "0",
            "value_ratio": "0.05",
            "alternatives": [],
        },
    ]
    (row,) = read["revisions"]
    assert (row["number"], row["state"], row["by"]) == (1, "current", "lead")
    assert row["released_at"] is not None


def test_the_same_key_makes_one_bill(calling: Calling, floor_ready: None, lead: User) -> None:
    caller = calling(lead)
    first = caller.post("bills/", HALF, key="k-1")
    again = caller.post("bills/", HALF, key="k-1")
    assert (first.status_code, again.status_code) == (201, 201)
    assert first.json() == again.json()
    assert Bill.objects.count() == 1


def test_a_mixture_is_written_and_read_by_how_much_it_takes_for_how_much(
    calling: Calling, floor_ready: None, lead: User
) -> None:
    takes = {"amount": "50", "unit": "g"}
    makes = {"amount": "100", "unit": "g"}
    lines = [
        {"item": "GLUE-A", "per_amount": {"takes": takes, "makes": makes}},
        {"item": "GLUE-B", "per_piece": {"amount": "0.5", "unit": "mg"}},
    ]
    made = calling(lead).post("bills/", {"item": "GLUE", "stage": "MIXING", "lines": lines})
    assert made.status_code == 201, made.json()
    half = {"takes": {"amount": "0.5", "unit": "g"}, "makes": {"amount": "1", "unit": "g"}}
    assert [(one["per_piece"], one["per_amount"]) for one in made.json()["lines"]] == [
        (None, half),
        (None, half),
    ]


def test_a_new_revision_is_changed_and_a_released_one_says_make_a_new_revision(
    calling: Calling, released_bills: None, lead: User
) -> None:
    caller = calling(lead)
    refused = caller.post("bills/HALF-L/revisions/1/change/", {"lines": [RESIN]})
    assert (refused.status_code, refused.json()["code"]) == (409, "revision_released")
    assert "Make a new revision" in refused.json()["detail"]
    made = caller.post("bills/HALF-L/revisions/", {"note": "less loss"})
    assert (made.status_code, made.json()["revision"]) == (201, 2)
    changed = caller.post("bills/HALF-L/revisions/2/change/", {"lines": [RESIN], "note": "none"})
    assert changed.status_code == 200, changed.json()
    assert [one["item"] for one in changed.json()["lines"]] == ["RESIN"]
    assert caller.get("bills/HALF-L/").json()["revision"] == 1
    assert caller.get("bills/HALF-L/revisions/2/").json() == changed.json()


def test_a_circle_is_answered_with_its_path(
    calling: Calling, released_bills: None, lead: User
) -> None:
    caller = calling(lead)
    caller.post("bills/HALF-L/revisions/", {})
    lines = [{"item": "BODY-70", "per_piece": {"amount": "1", "unit": "each"}}]
    caller.post("bills/HALF-L/revisions/2/change/", {"lines": lines})
    refused = caller.post("bills/HALF-L/revisions/2/release/")
    assert (refused.status_code, refused.json()["code"]) == (409, "bill_cycle")
    assert refused.json()["facts"] == {"path": ["HALF-L", "BODY-70", "HALF-L"]}


def test_a_bill_is_retired_moved_and_copied(
    calling: Calling, released_bills: None, lead: User
) -> None:
    caller = calling(lead)
    moved = caller.post("bills/HALF-L/stage/", {"stage": "gluing"})
    assert (moved.status_code, moved.json()["stage"]) == (200, "GLUING")
    retired = caller.post("bills/HALF-L/revisions/1/retire/")
    assert (retired.status_code, retired.json()["state"]) == (200, "retired")
    body = {"to_item": "painted-90-shad", "replace": {"BODY-70": "BODY-90"}}
    copied = caller.post("bills/PAINTED-70-PERCH/copy/", body)
    assert copied.status_code == 201, copied.json()
    assert copied.json()["item"]["code"] == "PAINTED-90-SHAD"
    assert copied.json()["lines"][1]["per_piece"] == {"amount": "0.525", "unit": "mL"}


def test_where_an_item_is_used_is_answered_with_amounts(
    calling: Calling,
    released_bills: None,
    viewer: User,
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    caller = calling(viewer)
    with django_assert_num_queries(2):
        found = caller.get("bills/glue-a/where-used/").json()
    assert [(use["item"]["code"], use["level"]) for use in found["uses"]] == [
        ("GLUE", 1),
        ("BODY-70", 2),
        ("PAINTED-70-PERCH", 3),
        ("LURE-70-PERCH", 4),
        ("PACKED-70-PERCH", 5),
    ]
    glue, body = found["uses"][:2]
    assert glue["need"] == {
        "takes": {"amount": "0.6", "unit": "g"},
        "makes": {"amount": "1", "unit": "g"},
    }
    assert glue["direct"][0]["per_amount"] == glue["need"]
    # 120 mg of glue, 0.6 of it part A, 3 % of the bodies scrapped: 74.2268... mg.
    assert body["need"] == {
        "takes": {"amount": "74.226804124", "unit": "mg"},
        "makes": {"amount": "1", "unit": "each"},
    }
    assert (body["direct"], body["through"]) == ([], ["GLUE"])


def test_cost_is_answered_level_by_level_with_its_sources(
    calling: Calling,
    floor_ready: None,
    lead: User,
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    take_in("RESIN", 10**7, worth="30", by=lead)
    caller = calling(lead)
    caller.post("bills/", {**HALF, "scrap_ratio": "0", "lines": [RESIN]})
    with django_assert_num_queries(5):
        found = caller.get("bills/HALF-L/cost/", revision=1, batch=100).json()
    # 4.2 g and a hundredth of 150 g, at 3.00 a kilogram.
    assert found == {
        "item": {"code": "HALF-L", "name": "Half, left", "kind": "half"},
        "revision": 1,
        "batch": 100,
        "makes": {"amount": "1", "unit": "each"},
        "cost": "0.0171",
        "source": {"kind": "bill", "code": None},
        "unknown": [],
        "lines": [
            {
                "level": 1,
                "item": {"code": "RESIN", "name": "Resin, natural", "kind": "resin"},
                "need": {"amount": "0.0057", "unit": "kg"},
                "unit_cost": {"value": "3.00", "per": {"amount": "1", "unit": "kg"}},
                "cost": "0.0171",
                "source": {"kind": "lots", "code": None},
            }
        ],
    }


def test_an_unknown_cost_is_null_and_named(
    calling: Calling, released_bills: None, viewer: User
) -> None:
    found = calling(viewer).get("bills/HALF-L/cost/").json()
    assert (found["cost"], found["unknown"]) == (None, ["COLORANT", "RESIN"])
    assert found["lines"][0]["unit_cost"] is None
    assert found["lines"][0]["source"] == {"kind": "unknown", "code": None}


def test_two_revisions_are_compared(
    calling: Calling,
    released_bills: None,
    lead: User,
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    caller = calling(lead)
    caller.post("bills/HALF-L/revisions/", {})
    body = {"lines": [{**RESIN, "loss_ratio": "0.01"}], "scrap_ratio": "0.03"}
    caller.post("bills/HALF-L/revisions/2/change/", body)
    with django_assert_num_queries(1):
        found = caller.get("bills/HALF-L/compare/", a=1, b=2).json()
    assert (found["a"], found["b"]) == (1, 2)
    assert (found["scrap_ratio_a"], found["scrap_ratio_b"]) == ("0.02", "0.03")
    assert [one["item"] for one in found["dropped"]] == ["COLORANT", "REGRIND"]
    assert found["added"] == []
    (change,) = found["changed"]
    assert [change[side]["loss_ratio"] for side in ("before", "after")] == ["0", "0.01"]


def test_bills_are_listed_in_two_statements(
    calling: Calling,
    released_bills: None,
    viewer: User,
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    caller = calling(viewer)
    with django_assert_num_queries(2):
        listed = caller.get("bills/", page_size=3).json()
    assert listed["count"] == 7
    first = listed["results"][0]
    assert first["item"]["code"] == "BODY-70"
    assert (first["stage"], first["current_revision"], first["drafts"]) == ("GLUING", 1, 0)


@pytest.mark.parametrize(
    ("query", "codes"),
    [
        ({"stage": "molding"}, ["HALF-L", "HALF-R"]),
        ({"kind": "painted_body"}, ["PAINTED-70-PERCH"]),
        ({"colorway": "perch", "stage": "painting"}, ["PAINTED-70-PERCH"]),
        ({"model": "minnow-70", "kind": "half"}, ["HALF-L", "HALF-R"]),
        ({"takes": "glue"}, ["BODY-70"]),
        ({"takes": "regrind"}, ["HALF-L", "HALF-R"]),
        ({"has_draft": "true"}, ["BODY-90", "HALF-R"]),
        ({"has_current": "false"}, ["BODY-90"]),
        ({"has_current": "true", "has_draft": "true"}, ["HALF-R"]),
        ({"search": "left"}, ["HALF-L"]),
        ({"ordering": "-item_code", "stage": "MOLDING"}, ["HALF-R", "HALF-L"]),
    ],
)
def test_bills_are_found(
    calling: Calling, released_bills: None, lead: User, query: dict[str, str], codes: list[str]
) -> None:
    draft_bill("BODY-90", "GLUING", line("HANGER", "1 each"), by=lead)
    create_revision(item_code="HALF-R", by=lead, at=LATER)
    listed = calling(lead).get("bills/", **query).json()
    assert [row["item"]["code"] for row in listed["results"]] == codes


def test_one_bill_takes_two_statements(
    calling: Calling,
    released_bills: None,
    viewer: User,
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    caller = calling(viewer)
    with django_assert_num_queries(2):
        assert caller.get("bills/PAINTED-70-PERCH/").status_code == 200
    with django_assert_num_queries(2):
        assert caller.get("bills/GLUE/revisions/1/").status_code == 200

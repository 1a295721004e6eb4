"""Stages: added, changed with their audit, listed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from pytest_django import DjangoAssertNumQueries

from batches.bills.errors import DimensionMismatchError
from batches.bills.operations import change_stage, create_stage
from batches.bills.selectors.bills import stage
from inventory.catalog.errors import DuplicateCodeError, NotActiveError
from inventory.catalog.operations import change_place
from shopfloor.codes.errors import OwnCodeError
from shopfloor.errors import InvalidInputError, NotFoundError
from shopfloor.models import Change, User
from tests.batches.floor import LATER, NOON, Caller, draft_bill

Calling = Callable[[User], Caller]

WASHING: Any = {"name": "Washing", "position": 15}


def test_a_stage_is_added_and_read_back(calling: Calling, stages: None, lead: User) -> None:
    added = calling(lead).post("stages/", {"code": "washing", **WASHING, "place": "shelf-a"})
    assert added.status_code == 201, added.json()
    assert added.json() == {
        "code": "WASHING",
        "name": "Washing",
        "position": 15,
        "is_mixing": False,
        "place": "SHELF-A",
        "is_active": True,
    }
    assert calling(lead).get("stages/washing/").json() == added.json()


def test_only_what_is_named_changes_and_the_change_is_kept(stages: None, lead: User) -> None:
    change_stage(code="GLUING", fields={"name": "Bonding"}, by=lead, at=LATER)
    row = stage("GLUING")
    assert (row.name, row.position, row.is_mixing) == ("Bonding", 30, False)
    kept = Change.objects.get(table="batches_stage", row_code="GLUING", at=LATER)
    assert (kept.before, kept.after) == ({"name": "Gluing"}, {"name": "Bonding"})


def test_a_stage_may_lose_its_place(stages: None, lead: User) -> None:
    change_stage(code="GLUING", fields={"place": None}, by=lead, at=LATER)
    assert stage("GLUING").place is None


def test_a_code_is_given_once(stages: None, lead: User) -> None:
    with pytest.raises(DuplicateCodeError):
        create_stage(code="GLUING", fields=WASHING, by=lead, at=NOON)


def test_a_code_that_could_not_be_typed_is_refused(stages: None, lead: User) -> None:
    with pytest.raises(OwnCodeError):
        create_stage(code="GLU ING", fields=WASHING, by=lead, at=NOON)


def test_a_name_longer_than_its_column_is_refused(stages: None, lead: User) -> None:
    create_stage(code="W1", fields={"name": "n" * 120, "position": 1}, by=lead, at=NOON)
    with pytest.raises(InvalidInputError) as refused:
        create_stage(code="W2", fields={"name": "n" * 121, "position": 1}, by=lead, at=NOON)
    assert list(refused.value.facts["fields"]) == ["name"]  # type: ignore[call-overload]


def test_what_a_stage_makes_stays_once_a_bill_stands_at_it(floor_ready: None, lead: User) -> None:
    change_stage(code="GLUING", fields={"is_mixing": True}, by=lead, at=LATER)
    change_stage(code="GLUING", fields={"is_mixing": False}, by=lead, at=LATER)
    draft_bill("BODY-70", "GLUING", by=lead)
    with pytest.raises(DimensionMismatchError):
        change_stage(code="GLUING", fields={"is_mixing": True}, by=lead, at=LATER)


def test_a_place_that_is_unknown_or_out_of_use_is_refused(stages: None, lead: User) -> None:
    with pytest.raises(NotFoundError):
        change_stage(code="GLUING", fields={"place": "NOWHERE"}, by=lead, at=LATER)
    change_place(code="BOOTH-1", fields={"is_active": False}, by=lead, at=LATER)
    with pytest.raises(NotActiveError):
        change_stage(code="GLUING", fields={"place": "BOOTH-1"}, by=lead, at=LATER)


def test_an_unknown_stage_is_not_found(
    calling: Calling, stages: None, lead: User, viewer: User
) -> None:
    assert calling(viewer).get("stages/NONE/").status_code == 404
    assert calling(lead).post("stages/NONE/change/", {"name": "x"}).status_code == 404


def test_stages_are_listed_in_the_order_of_the_shop_in_two_statements(
    calling: Calling,
    stages: None,
    viewer: User,
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    caller = calling(viewer)
    with django_assert_num_queries(2):
        listed = caller.get("stages/").json()
    assert [row["code"] for row in listed["results"]] == [
        "MOLDING", "MIXING", "GLUING", "PAINTING", "RIGGING", "BOXING",
    ]  # fmt: skip


def test_stages_are_filtered(calling: Calling, stages: None, lead: User) -> None:
    change_stage(code="RIGGING", fields={"is_active": False}, by=lead, at=LATER)
    caller = calling(lead)
    mixing = caller.get("stages/", is_mixing="true").json()["results"]
    idle = caller.get("stages/", is_active="false").json()["results"]
    assert [row["code"] for row in mixing] == ["MIXING"]
    assert [row["code"] for row in idle] == ["RIGGING"]


def test_only_owner_and_leads_write_and_all_read(
    calling: Calling, stages: None, owner: User, bench: User, packer: User, viewer: User
) -> None:
    statuses = [
        calling(person).post("stages/", {"code": f"S{number}", **WASHING}).status_code
        for number, person in enumerate([owner, bench, packer, viewer])
    ]
    assert statuses == [201, 403, 403, 403]
    changes = [
        calling(person).post("stages/GLUING/change/", {"name": "G"}).status_code
        for person in (owner, bench, packer, viewer)
    ]
    assert changes == [200, 403, 403, 403]
    reads = [
        calling(person).get("stages/GLUING/").status_code for person in (bench, packer, viewer)
    ]
    assert reads == [200, 200, 200]


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({"code": "W"}, "name"),
        ({"code": "W", **WASHING, "position": -1}, "position"),
        ({"code": "W", **WASHING, "position": 10_001}, "position"),
        ({"code": "W", **WASHING, "is_mixing": None}, "is_mixing"),
        ({"code": "W", **WASHING, "color": "red"}, "color"),
        ({"code": "W W", **WASHING}, "code"),
    ],
)
def test_a_bad_body_is_refused_by_field(
    calling: Calling, stages: None, lead: User, body: Any, field: str
) -> None:
    refused = calling(lead).post("stages/", body)
    assert refused.status_code == 422
    assert field in refused.json()["facts"]["fields"]

"""Models, colorways, places, equipment and suppliers."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from pytest_django import DjangoAssertNumQueries

from inventory.catalog.models import Equipment
from inventory.catalog.operations import change_equipment, create_equipment
from shopfloor.models import Change, User
from tests.inventory.conftest import LATER, NOON, Caller

Calling = Callable[[User], Caller]

MOLD = {
    "code": "m1",
    "name": "Minnow mold",
    "kind": "mold",
    "parts": {"kind": "cavity", "count": 4},
}


@pytest.fixture
def mold(lead: User) -> Equipment:
    return create_equipment(
        code="M1",
        name="Minnow mold",
        kind="mold",
        part_kind="cavity",
        part_count=4,
        by=lead,
        at=NOON,
    )


@pytest.mark.parametrize(
    ("path", "body", "change"),
    [
        ("models/", {"code": "MINNOW", "name": "Minnow", "length_mm": 90}, {"length_mm": 95}),
        (
            "models/",
            {"code": "MINNOW", "name": "Minnow", "painted_area_mm2": 4000},
            {"painted_area_mm2": None},
        ),
        ("colorways/", {"code": "PERCH", "name": "Perch"}, {"name": "Yellow perch"}),
        ("places/", {"code": "A1", "name": "Shelf", "kind": "shelf"}, {"kind": "outside"}),
        (
            "suppliers/",
            {"code": "RESINS", "name": "The resin supplier", "contact": "by telephone"},
            {"contact": ""},
        ),
        ("equipment/", {"code": "M1", "name": "Mold", "kind": "mold"}, {"name": "Old mold"}),
    ],
)
def test_each_table_is_entered_read_changed_and_taken_out_of_use(
    calling: Calling,
    lead: User,
    viewer: User,
    path: str,
    body: dict[str, Any],
    change: dict[str, Any],
) -> None:
    caller = calling(lead)
    entered = caller.post(path, body)
    assert entered.status_code == 201, entered.json()
    assert body.items() <= entered.json().items()
    one = f"{path}{body['code'].lower()}/"
    changed = caller.post(f"{one}change/", {**change, "is_active": False})
    assert changed.status_code == 200, changed.json()
    assert changed.json() == {**entered.json(), **change, "is_active": False}
    assert calling(viewer).get(one).json() == changed.json()
    assert calling(viewer).get(path, is_active="false", search=body["code"]).json()["count"] == 1
    assert calling(viewer).get(path, is_active="true").json()["count"] == 0
    again = caller.post(path, body)
    assert (again.status_code, again.json()["code"]) == (409, "duplicate_code")
    kept = Change.objects.filter(row_code=body["code"])
    assert [row.before is None for row in kept.order_by("id")] == [True, False]


@pytest.mark.parametrize(
    ("path", "body"),
    [
        ("models/", {"code": "MINNOW", "name": "Minnow", "length_mm": 0}),
        ("models/", {"code": "MINNOW", "name": "Minnow", "painted_area_mm2": -1}),
        ("models/", {"code": "MINNOW", "name": "Minnow", "length": 90}),
        ("models/", {"code": "MINNOW"}),
        ("colorways/", {"code": "PERCH", "name": " "}),
        ("places/", {"code": "A1", "name": "Shelf"}),
        ("places/", {"code": "A1", "name": "Box", "kind": "box"}),
        ("suppliers/", {"code": "S-1", "name": "Looks like a shipment"}),
        ("suppliers/", {"code": "RESINS", "name": "R", "contact": "x" * 201}),
        ("suppliers/", ["RESINS"]),
    ],
)
def test_what_cannot_be_meant_is_refused(
    calling: Calling, lead: User, path: str, body: Any
) -> None:
    refused = calling(lead).post(path, body)
    assert refused.status_code == 422, refused.json()
    assert calling(lead).get(path).json()["count"] == 0


@pytest.mark.parametrize("path", ["models", "colorways", "places", "suppliers", "equipment"])
def test_only_owner_and_lead_write_and_what_is_not_there_is_said_so(
    calling: Calling, lead: User, molder: User, path: str
) -> None:
    for address in (f"{path}/", f"{path}/X1/change/"):
        assert calling(molder).post(address, {}).status_code == 403
    assert calling(molder).get(f"{path}/X1/").json()["code"] == "not_found"
    assert calling(lead).post(f"{path}/X1/change/", {"name": "X"}).json()["code"] == "not_found"


def test_a_mold_comes_with_its_cavities_numbered(calling: Calling, lead: User) -> None:
    entered = calling(lead).post("equipment/", MOLD)
    assert entered.status_code == 201, entered.json()
    parts = entered.json()["parts"]
    assert [(part["code"], part["number"]) for part in parts] == [
        ("M1-1", 1),
        ("M1-2", 2),
        ("M1-3", 3),
        ("M1-4", 4),
    ]
    assert parts[2] == {
        "code": "M1-3",
        "name": "Minnow mold, cavity 3",
        "kind": "cavity",
        "number": 3,
        "is_active": True,
    }
    cavity = calling(lead).get("equipment/M1-3/").json()
    assert (cavity["parent"], cavity["parts"]) == ("M1", [])


def test_part_codes_sort_as_their_numbers_do(lead: User) -> None:
    create_equipment(
        code="W1", name="Wheel", kind="wheel", part_kind="station", part_count=12, by=lead, at=NOON
    )
    stations = Equipment.objects.filter(kind="station").order_by("code")
    assert [station.number for station in stations] == list(range(1, 13))
    assert stations[2].code == "W1-03"


def test_equipment_and_any_number_of_parts_take_the_same_few_statements(
    lead: User, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    # Six and the savepoint that stands for the transaction in a test.
    with django_assert_max_num_queries(8):
        create_equipment(
            code="W1",
            name="Wheel",
            kind="wheel",
            part_kind="station",
            part_count=200,
            by=lead,
            at=NOON,
        )
    assert Equipment.objects.count() == 201


def test_a_cavity_may_be_added_and_taken_out_of_use_alone(
    calling: Calling, lead: User, mold: Equipment
) -> None:
    caller = calling(lead)
    body = {"code": "M1-5", "name": "Fifth", "kind": "cavity", "parent": "m1", "number": 5}
    assert caller.post("equipment/", body).status_code == 201
    caller.post("equipment/M1-2/change/", {"is_active": False})
    parts = caller.get("equipment/M1/").json()["parts"]
    assert [part["number"] for part in parts] == [1, 2, 3, 4, 5]
    assert [part["number"] for part in parts if not part["is_active"]] == [2]


@pytest.mark.parametrize(
    ("fields", "code"),
    [
        ({"parts": {"kind": "station", "count": 4}}, "equipment_part"),
        ({"parts": {"kind": "cavity", "count": 0}}, "invalid_input"),
        ({"parts": {"kind": "cavity", "count": 201}}, "invalid_input"),
        ({"parts": {"kind": "cavity", "count": 1.5}}, "invalid_input"),
        ({"parts": {"kind": "cavity"}}, "invalid_input"),
        ({"kind": "press", "parts": {"kind": "cavity", "count": 1}}, "equipment_part"),
        ({"kind": "tool"}, "invalid_input"),
        ({"code": "M" * 24}, "own_code_refused"),
    ],
)
def test_parts_that_do_not_go_with_the_whole_are_refused(
    calling: Calling, lead: User, fields: dict[str, Any], code: str
) -> None:
    refused = calling(lead).post("equipment/", {**MOLD, **fields})
    assert (refused.status_code, refused.json()["code"]) == (422, code)
    assert not Equipment.objects.exists()


@pytest.mark.parametrize(
    ("fields", "code"),
    [
        ({"number": 4}, "equipment_part"),
        ({"number": 0}, "invalid_input"),
        ({"number": None}, "invalid_input"),
        ({"kind": "station"}, "equipment_part"),
        ({"kind": "press"}, "equipment_part"),
        ({"parent": "M1-1"}, "equipment_part"),
        ({"parent": "M9"}, "not_found"),
        ({"code": "M1-1"}, "duplicate_code"),
    ],
)
def test_a_part_that_fits_nowhere_is_refused(
    calling: Calling, lead: User, mold: Equipment, fields: dict[str, Any], code: str
) -> None:
    body = {"code": "M1-5", "name": "Fifth", "kind": "cavity", "parent": "M1", "number": 5}
    refused = calling(lead).post("equipment/", {**body, **fields})
    assert refused.json()["code"] == code
    assert Equipment.objects.count() == 5


def test_a_cavity_without_a_mold_or_with_a_code_taken_by_another_is_refused(
    calling: Calling, lead: User, mold: Equipment
) -> None:
    caller = calling(lead)
    body = {"code": "C9", "name": "Lost", "kind": "cavity"}
    assert caller.post("equipment/", body).json()["code"] == "equipment_part"
    caller.post("equipment/", {"code": "M2-1", "name": "A press", "kind": "press"})
    refused = caller.post("equipment/", {**MOLD, "code": "M2"})
    assert (refused.json()["code"], refused.json()["facts"]) == (
        "duplicate_code",
        {"code": "M2-1"},
    )


def test_the_database_itself_refuses_a_part_without_a_whole(lead: User) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        Equipment.objects.create(code="C1", name="Lost", kind="cavity")


def test_a_new_cavity_of_a_mold_out_of_use_is_refused(
    calling: Calling, lead: User, mold: Equipment
) -> None:
    change_equipment(code="M1", fields={"is_active": False}, by=lead, at=LATER)
    body = {"code": "M1-5", "name": "Fifth", "kind": "cavity", "parent": "M1", "number": 5}
    assert calling(lead).post("equipment/", body).json()["code"] == "not_active"


def test_equipment_is_found_by_kind_and_by_what_it_is_a_part_of(
    calling: Calling, viewer: User, mold: Equipment
) -> None:
    caller = calling(viewer)
    assert caller.get("equipment/", kind="cavity").json()["count"] == 4
    assert caller.get("equipment/", parent="m1").json()["count"] == 4
    assert caller.get("equipment/", kind="mold").json()["results"][0]["code"] == "M1"


@pytest.mark.parametrize(
    ("path", "queries"),
    [("models/", 2), ("colorways/", 2), ("places/", 2), ("suppliers/", 2), ("equipment/", 3)],
)
def test_each_list_takes_the_same_few_queries(
    calling: Calling,
    lead: User,
    mold: Equipment,
    path: str,
    queries: int,
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    caller = calling(lead)
    fields = {"name": "Name", **({"kind": "shelf"} if path == "places/" else {})}
    fields |= {"kind": "press"} if path == "equipment/" else {}
    for code in ("Q1", "Q2", "Q3"):
        assert caller.post(path, {"code": code, **fields}).status_code == 201
    with django_assert_num_queries(queries):
        assert caller.get(path).json()["count"] >= 3

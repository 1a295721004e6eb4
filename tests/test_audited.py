"""Every edit of a plain table is kept: doors make the edits, and what they write is seen.

A table is guarded by the database (append-only), or plain and audited, or a cache of what happened.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, NamedTuple

import pytest
from django.apps import apps
from django.db import connection
from django.test.utils import CaptureQueriesContext

from shopfloor.access import every_address
from shopfloor.append_only import AppendOnly
from shopfloor.models import Change, Token
from tests.batches.floor import Caller, enter_owner

# Tables whose rows a person edits, with the tables of their parts.
AUDITED = {
    "shopfloor_user": (),
    "shopfloor_token": (),
    "inventory_luremodel": (),
    "inventory_colorway": (),
    "inventory_place": (),
    "inventory_equipment": (),
    "inventory_supplier": (),
    "inventory_item": (),
    "inventory_offer": ("inventory_offerprice",),
    "inventory_reorderpolicy": (),
    "inventory_supplierorder": ("inventory_supplierorderline",),
    "batches_stage": (),
    "batches_bill": (),
    "batches_billrevision": ("batches_billline", "batches_billalternative"),
    "batches_scrapreason": (),
    "batches_checkdefinition": (),
    "batches_customer": (),
    "batches_labelstock": (),
    "batches_customerorder": ("batches_customerorderline",),
    "batches_buildplan": ("batches_buildplanline",),
    "batches_planningpolicy": (),
}
PARTS = {part: whole for whole, parts in AUDITED.items() for part in parts}
# Rows that say where things stand; how they came to it is in a table that only grows.
STATES = {
    "inventory_lot": "its movements and lot events",
    "batches_batch": "its batch events",
    "batches_box": "the audit, its lots' events and its shipment",
    "shopfloor_requestkey": "itself: the key and its first answer",
}
# Audited too; what an import writes is tried in tests/batches/exchange.
BY_SHEETS = {"batches_sheetheading"}
WRITTEN = re.compile(r'^(INSERT INTO|UPDATE|DELETE FROM) "(\w+)"')
PACK = {"amount": "25", "unit": "kg"}
OFFER = {"supplier": "NORTH", "item": "RESIN", "pack": PACK}
PRICES = [{"packs_from": 1, "pack_price": "90"}]
LINES = [{"item": "RESIN", "per_piece": {"amount": "9", "unit": "g"}}]
ITEM = {"kind": "half", "dimension": "count", "display_unit": "each"}
RESIN = {"kind": "resin", "dimension": "mass", "display_unit": "kg"}
LURE = {"kind": "lure", "dimension": "count", "display_unit": "each"}
TAG = {"label_width": "60", "label_height": "40", "page_width": "80"}
GRIP = {"stage": "MOLD", "kind": "pass_fail", "how_many": "all"}
ORDER_LINE = {"item": "LURE", "pieces": 5, "price": "7.50"}
PLAN_LINE = {"item": "HALF", "week_on": "2031-01-06", "pieces": 5}

# In the order of a shop's first day: address, body, the table, and whether the row is new.
EDITS: list[tuple[str, Any, str, bool]] = [
    ("people/", {"username": "bea", "display_name": "B", "role": "bench"}, "shopfloor_user", True),
    ("people/bea/role/", {"role": "packer"}, "shopfloor_user", False),
    ("people/bea/password/", {"password": "nine dry herons"}, "shopfloor_user", False),
    ("tokens/", {"username": "bea", "name": "scale"}, "shopfloor_token", True),
    ("me/tokens/", {"name": "scale"}, "shopfloor_token", True),
    ("tokens/{token}/revoke/", None, "shopfloor_token", False),
    ("people/bea/active/", {"is_active": False}, "shopfloor_user", False),
    ("people/bea/active/", {"is_active": True}, "shopfloor_user", False),
    ("tokens/", {"username": "bea", "name": "scale"}, "shopfloor_token", True),
    ("people/bea/blank/", None, "shopfloor_user", False),
    ("places/", {"code": "SHELF", "name": "S", "kind": "shelf"}, "inventory_place", True),
    ("places/SHELF/change/", {"name": "Shelf"}, "inventory_place", False),
    ("models/", {"code": "MINNOW", "name": "M"}, "inventory_luremodel", True),
    ("models/MINNOW/change/", {"name": "Minnow"}, "inventory_luremodel", False),
    ("colorways/", {"code": "PERCH", "name": "P"}, "inventory_colorway", True),
    ("colorways/PERCH/change/", {"is_active": False}, "inventory_colorway", False),
    ("equipment/", {"code": "WHEEL", "name": "W", "kind": "wheel"}, "inventory_equipment", True),
    ("equipment/WHEEL/change/", {"name": "Wheel"}, "inventory_equipment", False),
    ("suppliers/", {"code": "NORTH", "name": "N"}, "inventory_supplier", True),
    ("suppliers/NORTH/change/", {"contact": "dock 2"}, "inventory_supplier", False),
    ("items/", {"code": "RESIN", "name": "R", **RESIN}, "inventory_item", True),
    ("items/RESIN/change/", {"name": "Resin"}, "inventory_item", False),
    ("gtins/", {"items": [{"item": "RESIN"}]}, "inventory_item", False),
    ("offers/", {**OFFER, "prices": PRICES}, "inventory_offer", True),
    ("offers/change/", {**OFFER, "lead_time_days": 14}, "inventory_offer", False),
    ("reorder/RESIN/policy/", {"review_days": 7}, "inventory_reorderpolicy", True),
    ("reorder/RESIN/policy/", {"review_days": 8}, "inventory_reorderpolicy", False),
    (
        "supplier-orders/",
        {"code": "F1", "supplier": "NORTH", "lines": [{"item": "RESIN", "packs": 2}]},
        "inventory_supplierorder",
        True,
    ),
    ("supplier-orders/F1/close/", {"reason": "enough"}, "inventory_supplierorder", False),
    ("stages/", {"code": "MOLD", "name": "M", "position": 1}, "batches_stage", True),
    ("stages/MOLD/change/", {"name": "Molding"}, "batches_stage", False),
    ("stages/", {"code": "GLUE", "name": "G", "position": 2}, "batches_stage", True),
    ("scrap-reasons/", {"code": "SHORT", "name": "S"}, "batches_scrapreason", True),
    ("check-definitions/", {"code": "GRIP", "name": "G", **GRIP}, "batches_checkdefinition", True),
    ("check-definitions/GRIP/change/", {"name": "Grip"}, "batches_checkdefinition", False),
    ("items/", {"code": "HALF", "name": "H", **ITEM}, "inventory_item", True),
    ("bills/", {"item": "HALF", "stage": "MOLD", "lines": LINES}, "batches_bill", True),
    ("bills/HALF/stage/", {"stage": "GLUE"}, "batches_bill", False),
    ("bills/HALF/revisions/1/change/", {"scrap_ratio": "0.1"}, "batches_billrevision", False),
    ("bills/HALF/revisions/1/release/", None, "batches_billrevision", False),
    (
        "build-plans/",
        {"code": "SPRING", "name": "S", "lines": [PLAN_LINE]},
        "batches_buildplan",
        True,
    ),
    (
        "build-plans/SPRING/change/",
        {"lines": [{**PLAN_LINE, "pieces": 6}]},
        "batches_buildplan",
        False,
    ),
    (
        "planning/requirements/HALF/policy/",
        {"lot_sizing": "period", "weeks_served": 2},
        "batches_planningpolicy",
        True,
    ),
    (
        "planning/requirements/HALF/policy/",
        {"lead_time_days": 3},
        "batches_planningpolicy",
        False,
    ),
    ("bills/HALF/revisions/", {"copy_of": 1}, "batches_billrevision", True),
    ("bills/HALF/revisions/1/retire/", None, "batches_billrevision", False),
    ("label-stocks/", {"code": "TAG", **TAG}, "batches_labelstock", True),
    ("label-stocks/TAG/change/", {"left": "1"}, "batches_labelstock", False),
    ("customers/", {"code": "LAKE", "name": "L"}, "batches_customer", True),
    ("customers/LAKE/change/", {"name": "Lake"}, "batches_customer", False),
    ("items/", {"code": "LURE", "name": "L", **LURE}, "inventory_item", True),
    (
        "customer-orders/",
        {"code": "C1", "customer": "LAKE", "lines": [ORDER_LINE]},
        "batches_customerorder",
        True,
    ),
    ("customer-orders/C1/close/", {"reason": "enough"}, "batches_customerorder", False),
]


def test_every_table_of_ours_is_guarded_or_audited_or_a_cache() -> None:
    ours = {
        model._meta.db_table: model
        for model in apps.get_models()
        if model._meta.app_label in {"shopfloor", "inventory", "batches"}
    }
    grown = {table for table, model in ours.items() if issubclass(model, AppendOnly)}
    named = [grown, set(AUDITED), set(PARTS), set(STATES), BY_SHEETS]
    assert set().union(*named) == set(ours)
    assert sum(len(tables) for tables in named) == len(ours)


@contextmanager
def tables_written() -> Iterator[set[str]]:
    """Names of the tables that statements within write to."""
    seen: set[str] = set()

    def look(execute: Any, sql: str, *more: Any) -> Any:
        if found := WRITTEN.match(sql):
            seen.add(found[2])
        return execute(sql, *more)

    with connection.execute_wrapper(look):
        yield seen


class Made(NamedTuple):
    """What one edit wrote."""

    status: int
    tables: set[str]
    kept: list[Change]


def made(api: Caller, address: str, body: Any) -> Made:
    """Make an edit and look at what it wrote and kept."""
    last = Change.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
    with tables_written() as tables:
        status = api.post(address, body).status_code
    return Made(status, tables, list(Change.objects.filter(pk__gt=last).order_by("pk")))


def slips(edit: Made, table: str, *, is_new: bool) -> list[str]:
    """What is not as it should be."""
    plain = {PARTS.get(name, name) for name in edit.tables} & set(AUDITED)
    mine = [change for change in edit.kept if change.table == table]
    found = [] if edit.status in {200, 201} else [f"answered {edit.status}"]
    found += [f"{name} is written and not audited" for name in plain - tables_of(edit.kept)]
    found += [] if mine else [f"nothing is kept of {table}"]
    found += ["before and after"] * any((change.before is None) != is_new for change in mine)
    found += ["nothing differs"] * any(change.before == change.after for change in mine)
    return found


def tables_of(changes: list[Change]) -> set[str]:
    return {change.table for change in changes}


@pytest.mark.django_db
def test_every_edit_by_a_door_is_kept_with_what_was_before_and_after() -> None:
    api, wrong = Caller(enter_owner()), {}
    for address, body, table, is_new in EDITS:
        token = Token.objects.order_by("pk").values_list("pk", flat=True).first()
        edit = made(api, address.format(token=token), body)
        if found := slips(edit, table, is_new=is_new):
            wrong[address] = found
    assert wrong == {}


def test_the_edits_reach_every_audited_table_and_every_door_of_change() -> None:
    assert {table for _, _, table, _ in EDITS} == set(AUDITED)
    tried = {re.sub(r"/[A-Z]\w*/|/bea/|/\d/|/{token}/", "/{}/", edit[0]) for edit in EDITS}
    doors = {
        re.sub(r"{\w+}", "{}", address.removeprefix("/api/v1/"))
        for address, view in every_address()
        if address.startswith("/api/v1/")  # a page tells its door
        and address.endswith("/change/")
        and "POST" in view.roles
    }
    assert len(doors) > 8
    assert doors <= tried


@pytest.mark.django_db
def test_an_edit_names_what_it_points_to_by_code_and_long_lists_cost_no_more() -> None:
    api = Caller(enter_owner())
    for code in ("SHELF", "RACK"):
        api.post("places/", {"code": code, "name": code, "kind": "shelf"})
    api.post("items/", {"code": "HALF", "name": "H", "storage_place": "SHELF", **ITEM})
    api.post("items/HALF/change/", {"storage_place": "RACK"})
    with CaptureQueriesContext(connection) as asked:
        newest = api.get("changes/", table="inventory_item").json()["results"][0]
    assert newest["before"] == {"storage_place": "SHELF"}
    assert newest["after"] == {"storage_place": "RACK"}
    assert len(asked) <= 5

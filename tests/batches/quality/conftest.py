"""Halves that were molded, to be checked."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any, NamedTuple

import pytest

from batches.runs.operations import plan, record, start_batch
from batches.runs.steps.batches import BatchPlan
from batches.runs.steps.drafts import EntryDraft, GoodTally
from inventory.catalog.operations import create_equipment
from shopfloor.models import User
from tests.batches import floor

GRIP = {"code": "GRIP", "name": "Grip", "stage": "MOLDING", "kind": "pass_fail"}
FIXED = {"how_many": "fixed", "fixed_pieces": 5}


class Molded(NamedTuple):
    """A batch of halves and the lot it made."""

    batch: str
    lot: str


@pytest.fixture
def mold(released_bills: None, lead: User) -> Callable[[int], Molded]:
    """`mold(500)` makes a lot of so many halves an hour after noon."""
    create_equipment(
        code="MOLD-1", name="Mold", kind="mold", by=lead, at=floor.NOON,
        part_kind="cavity", part_count=2,
    )  # fmt: skip
    floor.take_in("RESIN", 50_000_000, worth="500", by=lead)
    floor.take_in("COLORANT", 500_000, worth="50", by=lead)

    def make(pieces: int) -> Molded:
        at = floor.NOON + timedelta(hours=1)
        batch = plan(
            plan=BatchPlan(item_code="HALF-L", planned_base=pieces), stamp=floor.stamp_at(lead, at)
        )
        start_batch(batch_code=batch.code, stamp=floor.stamp_at(lead, at))
        good = [GoodTally(qty_base=pieces, grade="first", equipment_code="")]
        draft = EntryDraft(batch_code=batch.code, good=good)
        done = record(draft=draft, stamp=floor.stamp_at(lead, at))
        lot = next(row.lot for row in done.made if row.item == "HALF-L")
        return Molded(batch.code, lot)

    return make


@pytest.fixture
def api(lead: User) -> floor.Caller:
    return floor.Caller(lead)


@pytest.fixture
def grip(released_bills: None, api: floor.Caller) -> Any:
    """Five of every lot, none may fail."""
    return api.post("check-definitions/", {**GRIP, **FIXED}).json()

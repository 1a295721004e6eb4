"""A small shop with bills: resin to halves, halves and adhesive to bodies, made by operations."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from batches.bills.models import LineRole
from batches.bills.operations import create_bill, create_stage, release_bill
from batches.bills.steps.lines import AlternativeDraft, LineDraft
from batches.runs.models import Batch
from batches.runs.operations import add_scrap_reason, plan, start_batch
from batches.runs.steps.batches import BatchPlan
from inventory.catalog.operations import create_equipment, create_item, create_place
from inventory.stock.models import Lot
from inventory.stock.operations import OpeningLot, take_in_opening_lots
from shopfloor.fields import Amount
from shopfloor.models import User
from shopfloor.stamp import Stamp
from tests.batches.floor import AS_DRAFT
from tests.kept import Kept

NOON = datetime(2026, 3, 2, 18, 0, tzinfo=UTC)
LATER = NOON + timedelta(days=30)


def stamp_at(by: User, at: datetime = NOON, reason: str = "for the test") -> Stamp:
    return Stamp(by=by, at=at, now=LATER, reason=reason)


def grams(amount: str) -> Amount:
    return Amount(Decimal(amount), "g")


def each(amount: str) -> Amount:
    return Amount(Decimal(amount), "each")


@pytest.fixture
def lead(db: None) -> User:
    return User.objects.create(username="lead", display_name="Lead", role="lead", created_at=NOON)


@pytest.fixture
def bench_hand(db: None) -> User:
    return User.objects.create(username="hand", display_name="Hand", role="bench", created_at=NOON)


def _make_shop(*, lead: User) -> None:
    create_place(code="SHELF", fields={"name": "Shelf", "kind": "shelf"}, by=lead, at=NOON)
    mass = {"RESIN": "resin", "REGRIND": "regrind", "ADH-A": "adhesive", "ADH-B": "adhesive"}
    for code, kind in mass.items():
        create_item(
            code=code,
            fields={
                "name": code,
                "kind": kind,
                "dimension": "mass",
                "display_unit": "g",
                "storage_place": "SHELF",
            },
            by=lead,
            at=NOON,
        )
    create_item(
        code="ADH-MIX",
        fields={
            "name": "Mixed adhesive",
            "kind": "adhesive",
            "dimension": "mass",
            "display_unit": "g",
            "storage_place": "SHELF",
            "made_life_minutes": 30,
        },
        by=lead,
        at=NOON,
    )
    for code, kind in {"HALF": "half", "BODY": "body"}.items():
        create_item(
            code=code,
            fields={
                "name": code,
                "kind": kind,
                "dimension": "count",
                "display_unit": "each",
                "storage_place": "SHELF",
            },
            by=lead,
            at=NOON,
        )
    create_stage(code="MOLDING", fields={"name": "Molding", "position": 1}, by=lead, at=NOON)
    create_stage(
        code="MIXING", fields={"name": "Mixing", "position": 2, "is_mixing": True}, by=lead, at=NOON
    )
    create_stage(code="GLUING", fields={"name": "Gluing", "position": 3}, by=lead, at=NOON)
    create_equipment(
        code="WHEEL-1",
        name="Wheel 1",
        kind="wheel",
        by=lead,
        at=NOON,
        part_kind="station",
        part_count=4,
    )
    add_scrap_reason(code="LEAK", name="Leaks", by=lead, at=NOON, stage_code="GLUING")
    add_scrap_reason(code="SHORT", name="Short shot", by=lead, at=NOON, stage_code="MOLDING")
    bills = {
        ("HALF", "MOLDING"): [
            LineDraft(
                item_code="RESIN",
                per_piece=grams("5"),
                alternatives=(AlternativeDraft("REGRIND", Decimal("0.25")),),
            ),
            LineDraft(item_code="REGRIND", role=LineRole.BY_PRODUCT, per_piece=grams("1")),
        ],
        ("ADH-MIX", "MIXING"): [
            LineDraft(item_code="ADH-A", per_piece=Amount(Decimal("0.5"), "mg")),
            LineDraft(item_code="ADH-B", per_piece=Amount(Decimal("0.5"), "mg")),
        ],
        ("BODY", "GLUING"): [
            LineDraft(item_code="HALF", per_piece=each("2")),
            LineDraft(item_code="ADH-A", per_piece=grams("0.15"), per_batch=grams("5")),
        ],
    }
    for (item, stage), lines in bills.items():
        create_bill(item_code=item, stage_code=stage, lines=lines, by=lead, at=NOON)
        release_bill(item_code=item, number=1, by=lead, at=NOON)


SHOP = Kept(_make_shop, first=AS_DRAFT)


@pytest.fixture
def shop(lead: User) -> User:
    """Items, stages, equipment and released bills; answers the lead."""
    SHOP(lead=lead)
    return lead


def stock(by: User, item: str, qty_base: int, value_micro: int = 0, **more: object) -> Lot:
    lot = OpeningLot(item_code=item, qty_base=qty_base, value_micro=value_micro, **more)  # type: ignore[arg-type]  # passed on
    return take_in_opening_lots(lots=[lot], stamp=stamp_at(by)).made[0]


def running(by: User, item: str, pieces: int = 100) -> Batch:
    batch = plan(plan=BatchPlan(item_code=item, planned_base=pieces), stamp=stamp_at(by))
    return start_batch(batch_code=batch.code, stamp=stamp_at(by))

"""One run of lures through the made-up shop, from adhesive on a supplier order to a customer."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from batches.packing.models import Shipment
from batches.packing.operations import (
    Back,
    Part,
    Price,
    close_box,
    create_customer,
    pack_box,
    ship,
    take_back_from_customer,
)
from batches.quality.models import Check
from batches.quality.operations import check, create_definition
from batches.quality.steps.checking import CheckDraft, ResultDraft
from batches.runs.models import Batch
from batches.runs.operations import add_scrap_reason, plan, record, start_batch
from batches.runs.steps.batches import BatchPlan
from batches.runs.steps.drafts import EntryDraft, GoodTally, LotUse, ScrapTally
from batches.runs.steps.recorded import RecordedRow
from inventory.catalog.operations import create_equipment, create_place, create_supplier
from inventory.purchasing.operations import place_supplier_order, receive_delivery
from inventory.purchasing.steps import OrderLineDraft, ReceiptLineDraft
from inventory.stock.models import Lot
from shopfloor.fields import Amount
from shopfloor.models import User
from shopfloor.stamp import Stamp
from tests.batches import floor
from tests.kept import Kept

KG = 1_000_000


def at_minute(by: User, minute: int) -> Stamp:
    """So many minutes past noon."""
    return floor.stamp_at(by, floor.NOON + timedelta(minutes=minute), reason="for the test")


def running(item: str, *, by: User, code: str, minute: int = 0, **given: Any) -> Batch:
    """A batch that takes entries."""
    wanted = BatchPlan(item_code=item, planned_base=1000, code=code, **given)
    batch = plan(plan=wanted, stamp=at_minute(by, minute))
    return start_batch(batch_code=batch.code, stamp=at_minute(by, minute))


def entry(
    batch: str, good: int, *, by: User, minute: int, scrap: int = 0, uses: Any = ()
) -> RecordedRow:
    """An entry that takes what the bill proposes, or exactly the lots named with their amounts."""
    draft = EntryDraft(
        batch_code=batch,
        good=[GoodTally(good)] if good else [],
        scrap=[ScrapTally(scrap, "LEAK")] if scrap else [],
        lots=[LotUse(code, qty_base) for code, qty_base in uses],
    )
    return record(draft=draft, stamp=at_minute(by, minute))


def made_by(recorded: RecordedRow) -> Lot:
    """The first lot that an entry made."""
    return Lot.objects.get(code=recorded.made[0].lot)


def pot(lead: User, number: int) -> Lot:
    """A pot of adhesive, mixed of what is on the shelf."""
    return made_by(entry("MIX-1", 20_000, by=lead, minute=10 + number))


def glue(
    lead: User, pot: Lot, minute: int, *, good: Any, scrap: Any = (), equipment: Any = ()
) -> str:
    """An entry of the gluing batch that takes its adhesive from one pot; its code."""
    return glued(lead, pot, minute, good=good, scrap=scrap, equipment=equipment).code


def glued(
    lead: User, pot: Lot, minute: int, *, good: Any, scrap: Any = (), equipment: Any = ()
) -> RecordedRow:
    """The same; what was recorded."""
    draft = EntryDraft(
        batch_code="GLUING-1",
        good=good,
        scrap=scrap,
        lots=[LotUse(pot.code, 500)],
        equipment_codes=list(equipment),
    )
    return record(draft=draft, stamp=at_minute(lead, minute))


def _make_wheel(*, lead: User) -> None:
    create_equipment(
        code="W1",
        name="Wheel 1",
        kind="wheel",
        part_kind="station",
        part_count=4,
        by=lead,
        at=floor.NOON,
    )
    add_scrap_reason(code="OFFSET", name="Halves offset", by=lead, at=floor.NOON)
    running("GLUE", by=lead, code="MIX-1")
    running("BODY-70", by=lead, code="GLUING-1", minute=1)


WHEEL = Kept(_make_wheel)


@pytest.fixture
def wheel(materials: Lot, lead: User) -> None:
    """A wheel of four stations, a second scrap reason, and two batches that run."""
    WHEEL(lead=lead)


def define(lead: User, code: str = "DUNK", **given: Any) -> None:
    """A check for leaks."""
    fields: dict[str, Any] = {
        "name": code,
        "stage": "GLUING",
        "kind": "pass_fail",
        "defect": "LEAK",
    }
    fields |= {"how_many": "fixed", "fixed_pieces": 1, "accept_pieces": 0, **given}
    create_definition(code=code, fields=fields, by=lead, at=floor.NOON)


def checked(
    lead: User,
    lot: Lot,
    tested: int,
    failed: int,
    *,
    code: str = "DUNK",
    now: datetime = floor.LATER,
    **more: Any,
) -> Check:
    """A check of a lot, an hour after noon."""
    draft = CheckDraft(
        definition_code=code,
        lot_code=lot.code,
        results=[ResultDraft(tested=tested, failed=failed)],
        **more,
    )
    return check(draft=draft, stamp=replace(at_minute(lead, 60), now=now))


def _make_two_pots(*, lead: User) -> None:
    define(lead)
    for item in ("HALF-L", "HALF-R", "HANGER", "RATTLE"):
        floor.take_in(item, 2000, worth="20", by=lead)
    for number in (1, 2):
        pot(lead, number)


TWO_POTS = Kept(_make_two_pots)


@pytest.fixture
def two_pots(wheel: None, lead: User) -> tuple[Lot, Lot]:
    """A check for leaks, and two pots of adhesive; parts enough for all of them."""
    TWO_POTS(lead=lead)
    first, second = Lot.objects.filter(item__code="GLUE").order_by("pk")
    return first, second


def bodies(lead: User, adhesive: Lot, minute: int, scrapped: int = 0) -> Lot:
    """Twenty good bodies of a pot, and some that leaked at the bench."""
    scrap = [ScrapTally(scrapped, "LEAK")] if scrapped else []
    return made_by(glued(lead, adhesive, minute, good=[GoodTally(20)], scrap=scrap))


@dataclass(frozen=True)
class Run:
    """The lots of the run, in the order they came to be."""

    adhesive: Lot
    glue: Lot
    body_first: Lot
    body_second: Lot
    painted: Lot
    lure: Lot
    packed: Lot
    boxed: tuple[Lot, Lot]
    shipment: Shipment


def _make_materials(*, lead: User) -> None:
    add_scrap_reason(code="LEAK", name="Leaks", by=lead, at=floor.NOON)
    create_supplier(code="GLUES", fields={"name": "A supplier of glues"}, by=lead, at=floor.NOON)
    place_supplier_order(
        supplier_code="GLUES",
        lines=[
            OrderLineDraft(
                item_code="GLUE-A",
                packs=1,
                pack=Amount(Decimal(200), "g"),
                pack_price_micro=10_000_000,
            )
        ],
        stamp=at_minute(lead, 0),
        code="ORDER-7",
    )
    receive_delivery(
        supplier_code="GLUES",
        lines=[
            ReceiptLineDraft(
                item_code="GLUE-A", amount=Amount(Decimal(200), "g"), supplier_lot_code="GA-17"
            )
        ],
        stamp=at_minute(lead, 0),
        order_code="ORDER-7",
        delivery_note="N-1",
    )
    floor.take_in("GLUE-B", 200_000, worth="8", by=lead)
    for code in ("PAINT-BASE", "PAINT-GREEN", "THINNER"):
        floor.take_in(code, KG, worth="30", by=lead)
    for code in ("HALF-L", "HALF-R", "HANGER", "RATTLE", "EYE", "RING", "HOOK-6", "BLISTER"):
        floor.take_in(code, 1000, worth="20", by=lead)
    floor.take_in("INSERT", 1000, worth="5", by=lead)


MATERIALS = Kept(_make_materials)


@pytest.fixture
def materials(released_bills: None, lead: User) -> Lot:
    """Everything bought, and halves; answers the adhesive, which came by a supplier order."""
    MATERIALS(lead=lead)
    return Lot.objects.get(item__code="GLUE-A")


def _make_run(*, lead: User) -> None:
    for number, (code, item) in enumerate(
        {
            "MIX-1": "GLUE",
            "GLUING-1": "BODY-70",
            "PAINTING-1": "PAINTED-70-PERCH",
            "RIGGING-1": "LURE-70-PERCH",
            "BOXING-1": "PACKED-70-PERCH",
        }.items()
    ):
        running(item, by=lead, code=code, minute=number)
    entry("MIX-1", 60_000, by=lead, minute=10)
    entry("GLUING-1", 40, scrap=2, by=lead, minute=20)
    entry("GLUING-1", 30, by=lead, minute=25)
    entry("PAINTING-1", 60, scrap=1, by=lead, minute=40)
    entry("RIGGING-1", 60, by=lead, minute=50)
    packed = made_by(entry("BOXING-1", 60, by=lead, minute=60))
    create_customer(code="HEN", name="A test customer", stamp=at_minute(lead, 0))
    for box in ("BOX-1", "BOX-2"):
        pack_box(contents=[Part(packed.code, 24)], code=box, stamp=at_minute(lead, 70))
    close_box(box_code="BOX-1", stamp=at_minute(lead, 75))
    ship(
        customer_code="HEN",
        box_codes=["BOX-1"],
        prices=[Price("PACKED-70-PERCH", 8_000_000)],
        stamp=at_minute(lead, 80),
    )


RUN = Kept(_make_run)


@pytest.fixture
def run(materials: Lot, lead: User) -> Run:
    """Mixed adhesive, two entries of bodies, painted, rigged, packed, boxed; one box left."""
    RUN(lead=lead)
    of_item: dict[str, list[Lot]] = {}
    for lot in Lot.objects.filter(parent=None).select_related("item").order_by("pk"):
        of_item.setdefault(lot.item.code, []).append(lot)
    first, second = of_item["BODY-70"]
    return Run(
        adhesive=materials,
        glue=of_item["GLUE"][0],
        body_first=first,
        body_second=second,
        painted=of_item["PAINTED-70-PERCH"][0],
        lure=of_item["LURE-70-PERCH"][0],
        packed=of_item["PACKED-70-PERCH"][0],
        boxed=(Lot.objects.get(place__code="BOX-1"), Lot.objects.get(place__code="BOX-2")),
        shipment=Shipment.objects.get(),
    )


@pytest.fixture
def returned(run: Run, lead: User) -> Run:
    """Two lures came back, to a shelf of their own."""
    create_place(
        code="RETURNS", fields={"name": "Returns", "kind": "shelf"}, by=lead, at=floor.NOON
    )
    take_back_from_customer(
        shipment_code=run.shipment.code,
        lines=[Back(run.boxed[0].code, 2)],
        place_code="RETURNS",
        stamp=at_minute(lead, 90),
    )
    return run

"""Any sequence of what a shop does keeps the ledger true: compared with a second ledger in Python.

What the product refuses must have written nothing. What it does must agree with the shadow, lot by
lot, in amount, value and disposition; every proof must hold; and no lot is used that was stopped.
"""

# ruff: noqa: D102 - rules are called by their machine, by name
from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import HealthCheck, seed, settings
from hypothesis.stateful import precondition, rule, run_state_machine_as_test

from batches.packing.operations import (
    Back,
    Part,
    Purpose,
    close_box,
    pack_box,
    reverse_customer_return,
    reverse_shipment,
    ship,
    take_back_from_customer,
)
from batches.runs.operations import add_scrap_reason
from inventory.catalog.operations import change_item, create_place, create_supplier
from inventory.stock.models import Hold, Lot
from shopfloor.models import User
from tests.batches.runs import conftest as runs
from tests.examples import few_of
from tests.inventory.stock.machine import OPENED_LIFE, ago, has_lots, part_of, percents, picks
from tests.inventory.stock.machine_handling import Handling
from tests.inventory.stock.machine_making import Making
from tests.inventory.stock.shadow import Happening, share_of

shop = runs.shop
lead = runs.lead

# Each example is a transaction of its own, undone at its end: under another one PostgreSQL would
# look at every row of every example before.
pytestmark = pytest.mark.django_db(transaction=True)


class Shop(Making, Handling):
    """A shop that does things in any order, at any time, and packs and ships what it makes."""

    def __init__(self) -> None:
        super().__init__()
        self.boxes: list[str] = []
        self.shipments: dict[str, tuple[Happening, dict[str, list[int]]]] = {}
        self.returns: dict[str, tuple[Happening, list[int], int | None]] = {}

    @precondition(has_lots)
    @rule(pick=picks, percent=percents, back=ago)
    def box(self, pick: int, percent: int, back: int) -> None:
        bodies = [lot for lot in self.shadow.lots.values() if lot.item == "BODY"]
        lot = bodies[pick % len(bodies)] if bodies else self.lot(pick)
        qty = part_of(lot, percent)
        box = self.tried(
            "box",
            lambda: pack_box(contents=[Part(lot.code, qty)], stamp=self.stamp(back)),
        )
        if box is not None:
            self.refuse_stopped(lot, self.minute - back)
            code = Lot.objects.get(place__box=box).code
            if code != lot.code:
                self.split_in_two(lot, code, qty, back)
            self.boxes.append(box.code)
            close_box(box_code=box.code, stamp=self.stamp())

    @precondition(lambda self: self.boxes)
    @rule(pick=picks, back=ago)
    def shipped(self, pick: int, back: int) -> None:
        box = self.boxes[pick % len(self.boxes)]
        shipment = self.tried(
            "ship",
            lambda: ship(
                customer_code="CUSTOMER",
                box_codes=[box],
                purpose=Purpose.SAMPLE,
                stamp=self.stamp(back),
            ),
        )
        if shipment is not None:
            codes = shipment.lines.values_list("lot__code", flat=True)
            lots = [self.shadow.lots[code] for code in codes]
            for lot in lots:
                self.refuse_stopped(lot, self.minute - back)
            out = {lot.code: [lot.qty, lot.value] for lot in lots}
            gone = {lot.code: self.took(lot, lot.qty) for lot in lots}
            value = sum(value for _, value in gone.values())
            event = self.shadow.happened(self.minute - back, gone, outside=value)
            self.shipments[shipment.code] = (event, out)

    @precondition(has_lots)
    @rule(pick=picks, percent=percents)
    def sold(self, pick: int, percent: int) -> None:
        boxes, shipments = len(self.boxes), len(self.shipments)
        self.box(pick, percent, 0)
        if len(self.boxes) > boxes:
            self.shipped(boxes, 0)
        if len(self.shipments) > shipments:
            self.came_back(shipments, percent, 0)

    @precondition(lambda self: self.shipments)
    @rule(pick=picks, percent=percents, back=ago)
    def came_back(self, pick: int, percent: int, back: int) -> None:
        code = list(self.shipments)[pick % len(self.shipments)]
        lot_code, out = list(self.shipments[code][1].items())[pick % len(self.shipments[code][1])]
        lot, at = self.shadow.lots[lot_code], self.minute - back
        pieces = max(out[0] * percent // 100, 1)
        returned = self.tried(
            "came back",
            lambda: take_back_from_customer(
                shipment_code=code,
                lines=[Back(lot_code, pieces)],
                place_code="SHELF",
                stamp=self.stamp(back),
            ),
        )
        if returned is not None:
            was_held = lot.disposition == "held"
            if lot.disposition == "released":
                lot.stopped("quarantine", at)
            value = share_of(out[1], pieces, out[0])
            out[0], out[1] = out[0] - pieces, out[1] - value
            event = self.shadow.happened(at, {lot_code: (pieces, value)}, outside=value)
            hold = None
            if was_held:  # it waits for a test of its own, whatever becomes of the hold
                hold = Hold.objects.filter(lot__code=lot_code, release=None).latest("pk").pk
                self.shadow.held(lot_code, hold, at)
            self.returns[returned.posting.code] = (event, out, hold)

    @precondition(lambda self: self.returns)
    @rule(pick=picks, back=ago)
    def return_undone(self, pick: int, back: int) -> None:
        code = list(self.returns)[pick % len(self.returns)]
        event, out, hold = self.returns[code]
        if self.tried(
            "return undone",
            lambda: reverse_customer_return(posting_code=code, stamp=self.stamp(back)),
        ):
            at = self.minute - back
            ((lot_code, (pieces, value)),) = event.changes.items()
            lot = self.shadow.lots[lot_code]
            self.shadow.undone(event, at)
            out[0], out[1] = out[0] + pieces, out[1] + value
            if hold in self.shadow.holds:
                self.shadow.released(hold, at)
            elif lot.disposition == "quarantined":
                for stop in lot.stops:
                    stop.until = at if stop.until is None else stop.until

    @precondition(lambda self: self.shipments)
    @rule(pick=picks, back=ago)
    def shipment_undone(self, pick: int, back: int) -> None:
        code = list(self.shipments)[pick % len(self.shipments)]
        if self.tried(
            "shipment undone",
            lambda: reverse_shipment(shipment_code=code, stamp=self.stamp(back)),
        ):
            self.shadow.undone(self.shipments[code][0], self.minute - back)


@pytest.fixture
def ready(shop: User) -> User:
    """The shop with all that the rules name."""
    create_place(code="BENCH", fields={"name": "Bench", "kind": "bench"}, by=shop, at=runs.NOON)
    create_supplier(code="SUPPLIER", fields={"name": "A supplier"}, by=shop, at=runs.NOON)
    change_item(code="ADH-A", fields={"opened_life_minutes": OPENED_LIFE}, by=shop, at=runs.NOON)
    add_scrap_reason(code="ANY", name="Any", by=shop, at=runs.NOON)
    return shop


WANTED = {
    "entry of BODY",
    "entry of HALF",
    "entry of rework",
    "came back",
    "entry undone",
    "hold",
    "return undone",
    "ship",
}
ROUNDS = 20


def done() -> set[str]:
    """What was done, and not refused."""
    return {what.removesuffix(": done") for what in Shop.told if what.endswith(": done")}


def test_any_sequence_of_events_keeps_the_ledger_true(ready: User) -> None:
    Shop.by, Shop.told = ready, Counter()
    for number in range(ROUNDS):
        # What is drawn hangs on the modules that are loaded, so now and then one kind of event is
        # never done: then others are drawn, on every machine the same.
        run_state_machine_as_test(
            seed(number)(Shop),
            settings=settings(
                max_examples=few_of(60),
                stateful_step_count=40,
                suppress_health_check=list(HealthCheck),
            ),
        )
        if done() >= WANTED:
            break
    assert done() >= WANTED

"""Whether a lot might be used is judged at the time of use, along a whole chain of lots."""

from __future__ import annotations

from datetime import timedelta

import pytest

from batches.runs.models import Batch
from batches.runs.operations import plan, record, start_batch
from batches.runs.steps.batches import BatchPlan
from batches.runs.steps.drafts import EntryDraft, GoodTally, LotUse
from inventory.catalog.operations import change_item
from inventory.stock.errors import (
    LotExpiredError,
    LotHeldError,
    LotOverOpenedError,
    LotQuarantinedError,
    LotRejectedError,
    TooEarlyError,
)
from inventory.stock.models import Lot
from inventory.stock.operations import (
    extend_expiry,
    hold_lot,
    open_lot,
    reject_lot,
    release_hold,
    release_lot,
    split_off,
)
from inventory.stock.selectors.proofs import ledger_proofs
from shopfloor.models import User
from tests.batches.runs.conftest import NOON, running, stamp_at, stock

HOUR = timedelta(hours=1)


def differences() -> list[str]:
    return [line for proof in ledger_proofs() for line in proof.differences]


def enter(batch: Batch, by: User, hours: float, *lots: LotUse) -> str:
    """Record ten pieces so many hours after noon; the code of the lot made."""
    draft = EntryDraft(batch_code=batch.code, good=[GoodTally(10)], lots=lots)
    return record(draft=draft, stamp=stamp_at(by, NOON + hours * HOUR)).made[0].lot


def rework(by: User) -> Batch:
    batch = plan(
        plan=BatchPlan(item_code="BODY", planned_base=4, rework_stage="GLUING"), stamp=stamp_at(by)
    )
    return start_batch(batch_code=batch.code, stamp=stamp_at(by))


def test_what_was_made_and_used_before_a_hold_is_recorded_after_it_and_all_of_it_is_held(
    shop: User,
) -> None:
    resin = stock(shop, "RESIN", 1_000_000)
    stock(shop, "ADH-A", 100_000)
    molding, gluing = running(shop, "HALF", 20), running(shop, "BODY")
    hold = hold_lot(lot_code=resin.code, stamp=stamp_at(shop, NOON + 3 * HOUR))
    draft = EntryDraft(
        batch_code=molding.code, good=[GoodTally(20)], lots=[LotUse(resin.code, 100_000)]
    )
    halves = record(draft=draft, stamp=stamp_at(shop, NOON + HOUR)).made[0].lot
    with pytest.raises(LotHeldError):
        enter(gluing, shop, 3, LotUse(halves))
    bodies = enter(gluing, shop, 2, LotUse(halves))
    assert Lot.objects.get(code=bodies).disposition == "held"
    assert differences() == []
    release_hold(hold_code=hold.code, stamp=stamp_at(shop, NOON + 4 * HOUR))
    assert set(Lot.objects.values_list("disposition", flat=True)) == {"released"}
    assert differences() == []


def test_a_part_dated_back_is_no_more_released_than_its_lot_was(shop: User) -> None:
    stock(shop, "ADH-A", 100_000)
    halves = stock(shop, "HALF", 100, disposition="quarantined")
    release_lot(lot_code=halves.code, stamp=stamp_at(shop, NOON + 4 * HOUR))
    part = split_off(lot_code=halves.code, qty_base=50, stamp=stamp_at(shop, NOON + HOUR))
    gluing = running(shop, "BODY")
    with pytest.raises(LotQuarantinedError):
        enter(gluing, shop, 2, LotUse(part.code))
    enter(gluing, shop, 4, LotUse(part.code))
    assert differences() == []


def test_a_part_dated_back_before_a_hold_may_have_been_used_before_it(shop: User) -> None:
    stock(shop, "ADH-A", 100_000)
    halves = stock(shop, "HALF", 100)
    hold_lot(lot_code=halves.code, stamp=stamp_at(shop, NOON + 4 * HOUR))
    part = split_off(lot_code=halves.code, qty_base=50, stamp=stamp_at(shop, NOON + HOUR))
    gluing = running(shop, "BODY")
    with pytest.raises(LotHeldError):
        enter(gluing, shop, 4, LotUse(part.code))
    made = enter(gluing, shop, 2, LotUse(part.code))
    assert Lot.objects.get(code=made).disposition == "held"
    assert differences() == []


@pytest.mark.parametrize(
    ("disposition", "refusal"),
    [("quarantined", LotQuarantinedError), ("rejected", LotRejectedError)],
)
def test_rework_takes_held_lots_but_none_that_wait_for_a_test_or_were_rejected(
    shop: User, disposition: str, refusal: type[Exception]
) -> None:
    bodies = stock(shop, "BODY", 10, disposition=disposition)
    with pytest.raises(refusal):
        enter(rework(shop), shop, 0, LotUse(bodies.code))


def test_a_hold_on_what_waits_for_a_test_does_not_let_it_be_reworked(shop: User) -> None:
    bodies = stock(shop, "BODY", 40, disposition="quarantined")
    first = hold_lot(lot_code=bodies.code, stamp=stamp_at(shop, NOON + HOUR))
    hold_lot(lot_code=bodies.code, stamp=stamp_at(shop, NOON + 2 * HOUR))
    part = split_off(lot_code=bodies.code, qty_base=10, stamp=stamp_at(shop, NOON + 2 * HOUR))
    working = rework(shop)
    for code in (bodies.code, part.code):
        with pytest.raises(LotQuarantinedError, match="waits for its test besides"):
            enter(working, shop, 3, LotUse(code))
    release_hold(hold_code=first.code, stamp=stamp_at(shop, NOON + 4 * HOUR))
    for hours in (3, 5):
        with pytest.raises(LotQuarantinedError):
            enter(working, shop, hours, LotUse(part.code))
    assert differences() == []


def test_a_lot_that_was_tested_and_then_held_is_reworked(shop: User) -> None:
    bodies = stock(shop, "BODY", 40, disposition="quarantined")
    first = hold_lot(lot_code=bodies.code, stamp=stamp_at(shop, NOON + HOUR))
    release_hold(hold_code=first.code, stamp=stamp_at(shop, NOON + 2 * HOUR))
    release_lot(lot_code=bodies.code, stamp=stamp_at(shop, NOON + 3 * HOUR))
    hold_lot(lot_code=bodies.code, stamp=stamp_at(shop, NOON + 4 * HOUR))
    working = rework(shop)
    made = enter(working, shop, 5, LotUse(bodies.code, 10))
    assert Lot.objects.get(code=made).disposition == "held"
    with pytest.raises(LotQuarantinedError):
        enter(working, shop, 1.5, LotUse(bodies.code, 10))


def test_what_was_made_of_a_lot_before_its_hold_is_held_though_the_lot_was_rejected_since(
    shop: User,
) -> None:
    stock(shop, "ADH-A", 100_000)
    halves = stock(shop, "HALF", 100)
    hold_lot(lot_code=halves.code, stamp=stamp_at(shop, NOON + 3 * HOUR))
    reject_lot(lot_code=halves.code, stamp=stamp_at(shop, NOON + 4 * HOUR))
    made = enter(running(shop, "BODY"), shop, 1, LotUse(halves.code))
    assert Lot.objects.get(code=made).disposition == "held"
    assert differences() == []


def test_a_container_open_too_long_is_refused_one_second_after_its_life(shop: User) -> None:
    change_item(code="ADH-A", fields={"opened_life_minutes": 60}, by=shop, at=NOON)
    stock(shop, "HALF", 100)
    bottle = stock(shop, "ADH-A", 100_000)
    open_lot(lot_code=bottle.code, stamp=stamp_at(shop))
    gluing = running(shop, "BODY")
    enter(gluing, shop, 1, LotUse(bottle.code))
    with pytest.raises(LotOverOpenedError):
        enter(gluing, shop, 1 + 1 / 3600, LotUse(bottle.code))


def test_an_expiry_is_not_extended_at_a_time_before_it_was_extended_last(shop: User) -> None:
    stock(shop, "HALF", 100)
    old = stock(shop, "ADH-A", 100_000, expires_at=NOON + HOUR)
    extend_expiry(
        lot_code=old.code, expires_at=NOON + 9 * HOUR, stamp=stamp_at(shop, NOON + 4 * HOUR)
    )
    with pytest.raises(TooEarlyError):
        extend_expiry(
            lot_code=old.code, expires_at=NOON + 10 * HOUR, stamp=stamp_at(shop, NOON + 2 * HOUR)
        )
    gluing = running(shop, "BODY")
    with pytest.raises(LotExpiredError):
        enter(gluing, shop, 3, LotUse(old.code))
    enter(gluing, shop, 4, LotUse(old.code))

"""What an entry refuses, what may be overridden, and how one is corrected."""

from __future__ import annotations

from datetime import timedelta

import pytest

from batches.runs.errors import (
    LotNotInBillError,
    NamedTwiceError,
    NewerEntryError,
    NothingRecordedError,
    OverrideNotAllowedError,
    RevisionNotCurrentError,
    ScrapReasonElsewhereError,
    WrongBatchStateError,
)
from batches.runs.models import Batch, Entry
from batches.runs.operations import (
    abort_batch,
    complete_batch,
    hold_batch,
    plan,
    record,
    resume_batch,
    reverse,
)
from batches.runs.steps.batches import BatchPlan
from batches.runs.steps.drafts import (
    EntryDraft,
    GoodTally,
    LotUse,
    ScrapTally,
)
from inventory.stock.errors import (
    LotExpiredError,
    LotHeldError,
    LotShortError,
    NotReversibleError,
)
from inventory.stock.models import Lot, LotEvent
from inventory.stock.operations import (
    Found,
    count_lots,
    dispose_of_lot,
    hold_lot,
    release_hold,
)
from shopfloor.errors import NotFoundError
from shopfloor.models import User
from shopfloor.units import AmountTooLargeError
from tests.batches.runs.conftest import NOON, running, stamp_at, stock


def test_an_expired_lot_is_used_only_with_the_written_reason_of_a_lead(
    shop: User, bench_hand: User
) -> None:
    stock(shop, "HALF", 100)
    old = stock(shop, "ADH-A", 100_000, expires_at=NOON + timedelta(hours=1))
    batch = running(shop, "BODY")
    late = NOON + timedelta(hours=2)
    lots = [LotUse(old.code, 6_500)]
    with pytest.raises(LotExpiredError):
        record(
            draft=EntryDraft(batch_code=batch.code, good=[GoodTally(10)], lots=lots),
            stamp=stamp_at(shop, late),
        )
    overriding = EntryDraft(
        batch_code=batch.code, good=[GoodTally(10)], lots=lots, override_reason="tested today"
    )
    with pytest.raises(OverrideNotAllowedError):
        record(draft=overriding, stamp=stamp_at(bench_hand, late))
    record(draft=overriding, stamp=stamp_at(shop, late))
    event = LotEvent.objects.get(kind="expiry_overridden")
    assert (event.lot, event.reason) == (old, "tested today")


def test_a_lot_that_expires_at_the_time_of_use_may_be_used(shop: User) -> None:
    stock(shop, "HALF", 100)
    stock(shop, "ADH-A", 100_000, expires_at=NOON + timedelta(hours=1))
    batch = running(shop, "BODY")
    record(
        draft=EntryDraft(batch_code=batch.code, good=[GoodTally(10)]),
        stamp=stamp_at(shop, NOON + timedelta(hours=1)),
    )


def test_nobody_overrides_a_hold(shop: User) -> None:
    stock(shop, "HALF", 100)
    adhesive = stock(shop, "ADH-A", 100_000)
    hold_lot(lot_code=adhesive.code, stamp=stamp_at(shop))
    batch = running(shop, "BODY")
    with pytest.raises(LotHeldError):
        record(
            draft=EntryDraft(
                batch_code=batch.code,
                good=[GoodTally(10)],
                lots=[LotUse(adhesive.code)],
                override_reason="please",
            ),
            stamp=stamp_at(shop),
        )


def test_an_entry_of_before_the_hold_is_recorded_and_its_output_is_born_held(shop: User) -> None:
    stock(shop, "HALF", 100)
    adhesive = stock(shop, "ADH-A", 100_000)
    batch = running(shop, "BODY")
    hold = hold_lot(lot_code=adhesive.code, stamp=stamp_at(shop, NOON + timedelta(hours=3)))
    row = record(
        draft=EntryDraft(batch_code=batch.code, good=[GoodTally(10)], lots=[LotUse(adhesive.code)]),
        stamp=stamp_at(shop, NOON + timedelta(hours=1)),
    )
    made = Lot.objects.get(code=row.made[0].lot)
    assert made.disposition == "held"
    release_hold(hold_code=hold.code, stamp=stamp_at(shop, NOON + timedelta(hours=4)))
    made.refresh_from_db()
    assert made.disposition == "released"


def test_a_lot_the_bill_does_not_ask_for_is_refused(shop: User) -> None:
    stock(shop, "HALF", 100)
    resin = stock(shop, "RESIN", 100)
    batch = running(shop, "BODY")
    with pytest.raises(LotNotInBillError) as refused:
        record(
            draft=EntryDraft(batch_code=batch.code, good=[GoodTally(1)], lots=[LotUse(resin.code)]),
            stamp=stamp_at(shop),
        )
    assert refused.value.facts["bill_asks_for"] == ["ADH-A", "HALF"]


def test_more_than_a_lot_holds_is_refused(shop: User) -> None:
    halves = stock(shop, "HALF", 19)
    stock(shop, "ADH-A", 100_000)
    batch = running(shop, "BODY")
    with pytest.raises(LotShortError):
        record(
            draft=EntryDraft(
                batch_code=batch.code, good=[GoodTally(10)], lots=[LotUse(halves.code, 20)]
            ),
            stamp=stamp_at(shop),
        )


def test_what_makes_no_sense_is_refused(shop: User) -> None:
    halves = stock(shop, "HALF", 100)
    batch = running(shop, "BODY")
    with pytest.raises(NothingRecordedError):
        record(draft=EntryDraft(batch_code=batch.code), stamp=stamp_at(shop))
    with pytest.raises(NamedTwiceError):
        record(
            draft=EntryDraft(
                batch_code=batch.code,
                good=[GoodTally(1)],
                lots=[LotUse(halves.code), LotUse(halves.code, 2)],
            ),
            stamp=stamp_at(shop),
        )
    with pytest.raises(ScrapReasonElsewhereError):
        record(
            draft=EntryDraft(batch_code=batch.code, scrap=[ScrapTally(1, "SHORT")]),
            stamp=stamp_at(shop),
        )
    with pytest.raises(NotFoundError):
        record(
            draft=EntryDraft(batch_code=batch.code, good=[GoodTally(1, equipment_code="WHEEL-9")]),
            stamp=stamp_at(shop),
        )
    with pytest.raises(NotFoundError):
        record(
            draft=EntryDraft(batch_code=batch.code, good=[GoodTally(1)], lots=[LotUse("NONE")]),
            stamp=stamp_at(shop),
        )
    assert not Entry.objects.exists()


def test_only_a_running_batch_takes_entries_and_a_held_one_runs_again(shop: User) -> None:
    stock(shop, "HALF", 100)
    stock(shop, "ADH-A", 100_000)
    batch = running(shop, "BODY")
    draft = EntryDraft(batch_code=batch.code, good=[GoodTally(1)])
    hold_batch(batch_code=batch.code, stamp=stamp_at(shop))
    with pytest.raises(WrongBatchStateError):
        record(draft=draft, stamp=stamp_at(shop))
    resume_batch(batch_code=batch.code, stamp=stamp_at(shop))
    with pytest.raises(WrongBatchStateError):
        complete_batch(batch_code=batch.code, stamp=stamp_at(shop))
    record(draft=draft, stamp=stamp_at(shop))
    complete_batch(batch_code=batch.code, stamp=stamp_at(shop))
    with pytest.raises(WrongBatchStateError):
        abort_batch(batch_code=batch.code, stamp=stamp_at(shop))


def test_a_batch_is_made_to_the_current_revision_only(shop: User) -> None:
    with pytest.raises(RevisionNotCurrentError):
        plan(plan=BatchPlan(item_code="BODY", planned_base=1, revision=2), stamp=stamp_at(shop))
    with pytest.raises(NotFoundError):
        plan(plan=BatchPlan(item_code="RESIN", planned_base=1), stamp=stamp_at(shop))


@pytest.mark.parametrize(
    ("item", "most"), [("BODY", "1,000,000,000 pieces"), ("ADH-MIX", "1,000,000 g")]
)
def test_a_batch_of_more_than_any_shop_makes_is_refused_with_the_most(
    shop: User, item: str, most: str
) -> None:
    with pytest.raises(AmountTooLargeError, match=f"at most {most} of {item}"):
        plan(plan=BatchPlan(item_code=item, planned_base=10**9 + 1), stamp=stamp_at(shop))
    plan(plan=BatchPlan(item_code=item, planned_base=10**9), stamp=stamp_at(shop))
    assert Batch.objects.count() == 1


def test_a_reversal_restores_exactly_what_the_entry_took_and_made(shop: User) -> None:
    stock(shop, "HALF", 77, 1_000_003)
    stock(shop, "ADH-A", 33_333, 777_777)
    batch = running(shop, "BODY")
    before = list(Lot.objects.order_by("pk").values_list("code", "on_hand_base", "value_micro"))
    row = record(draft=EntryDraft(batch_code=batch.code, good=[GoodTally(7)]), stamp=stamp_at(shop))
    reverse(entry_code=row.code, stamp=stamp_at(shop, NOON + timedelta(hours=1)))
    after = list(Lot.objects.order_by("pk").values_list("code", "on_hand_base", "value_micro"))
    assert after == [*before, (row.made[0].lot, 0, 0)]
    with pytest.raises(NotReversibleError):
        reverse(entry_code=row.code, stamp=stamp_at(shop, NOON + timedelta(hours=2)))


def test_the_right_entry_goes_in_at_the_time_of_the_wrong_one(shop: User) -> None:
    halves = stock(shop, "HALF", 100)
    stock(shop, "ADH-A", 100_000)
    batch = running(shop, "BODY")
    at = NOON + timedelta(hours=1)
    wrong = record(
        draft=EntryDraft(batch_code=batch.code, good=[GoodTally(50)]), stamp=stamp_at(shop, at)
    )
    reverse(entry_code=wrong.code, stamp=stamp_at(shop, NOON + timedelta(hours=5)))
    record(draft=EntryDraft(batch_code=batch.code, good=[GoodTally(48)]), stamp=stamp_at(shop, at))
    halves.refresh_from_db()
    assert halves.on_hand_base == 4


def test_entries_are_reversed_newest_first(shop: User) -> None:
    stock(shop, "HALF", 100)
    stock(shop, "ADH-A", 100_000)
    batch = running(shop, "BODY")
    draft = EntryDraft(batch_code=batch.code, good=[GoodTally(1)])
    first = record(draft=draft, stamp=stamp_at(shop))
    second = record(draft=draft, stamp=stamp_at(shop))
    with pytest.raises(NewerEntryError) as refused:
        reverse(entry_code=first.code, stamp=stamp_at(shop))
    assert refused.value.facts["newer"] == second.code


def test_an_entry_whose_output_was_used_or_whose_lot_was_counted_is_not_reversed(
    shop: User,
) -> None:
    halves = stock(shop, "HALF", 100)
    stock(shop, "ADH-A", 100_000)
    batch = running(shop, "BODY")
    draft = EntryDraft(batch_code=batch.code, good=[GoodTally(10)])
    used = record(draft=draft, stamp=stamp_at(shop))
    dispose_of_lot(lot_code=used.made[0].lot, qty_base=1, stamp=stamp_at(shop))
    with pytest.raises(NotReversibleError) as refused:
        reverse(entry_code=used.code, stamp=stamp_at(shop))
    in_the_way = refused.value.facts["stands_in_the_way"]
    assert isinstance(in_the_way, list)
    assert in_the_way[0]["kind"] == "disposed"
    counted = record(draft=draft, stamp=stamp_at(shop))
    count_lots(found=[Found(halves.code, 60)], stamp=stamp_at(shop, NOON + timedelta(hours=1)))
    with pytest.raises(NotReversibleError):
        reverse(entry_code=counted.code, stamp=stamp_at(shop, NOON + timedelta(hours=2)))


def test_rework_takes_held_bodies_and_what_it_makes_is_held_too(shop: User) -> None:
    bodies = stock(shop, "BODY", 10, 500)
    hold = hold_lot(lot_code=bodies.code, stamp=stamp_at(shop))
    batch = plan(
        plan=BatchPlan(item_code="BODY", planned_base=4, rework_stage="GLUING"),
        stamp=stamp_at(shop),
    )
    Batch.objects.filter(pk=batch.pk).update(state="running")
    row = record(
        draft=EntryDraft(batch_code=batch.code, good=[GoodTally(4)], lots=[LotUse(bodies.code)]),
        stamp=stamp_at(shop),
    )
    made = Lot.objects.get(code=row.made[0].lot)
    assert (made.disposition, made.on_hand_base, made.value_micro) == ("held", 4, 200)
    release_hold(hold_code=hold.code, stamp=stamp_at(shop))
    made.refresh_from_db()
    assert made.disposition == "released"
